"""Which way edges run in a picture, whatever its brightness means: comparable between a photo and a thermal frame.

A part's border may be bright against dark in the one and cool against warm in the other. Gradients with their angle
doubled do not tell the two senses apart (G. H. Granlund, "In search of a general picture processing operator", Computer
Graphics and Image Processing 8, 1978); their lengths are measured against what lies around.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2

F32 = NDArray[np.float32]
C64 = NDArray[np.complex64]

_AROUND_PX: Final = 41
_AROUND_SHARE: Final = 0.5
"""Side of the square whose mean gradient counts, by this share, against a pixel's own."""


def edge_field(image: NDArray[np.floating[Any]], sigma_px: float, around_px: int = _AROUND_PX) -> C64:
    """Give each pixel the doubled direction of its gradient, with a length from 0 to 1.

    Parameters
    ----------
    image : ndarray, shape (rows, columns)
        Without gaps.
    sigma_px : float
        Of the Gaussian it is smoothed by.
    around_px : int
        Side of the square that lengths are measured against, odd.

    Returns
    -------
    ndarray of complex64, shape (rows, columns)
        The same for an image and its negative.
    """
    cv2 = load_cv2()
    smooth = cv2.GaussianBlur(np.asarray(image, np.float32), (0, 0), sigma_px)
    gx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3, scale=0.125)
    gy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3, scale=0.125)
    length = cv2.magnitude(gx, gy)
    floor = np.float32(_AROUND_SHARE) * cv2.blur(length, (around_px, around_px)) + np.float32(1e-6)
    squared = (gx + 1j * gy) ** 2
    return np.asarray(squared / np.maximum(length, np.float32(1e-9)) / (length + floor), np.complex64)
