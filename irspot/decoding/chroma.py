"""How far a pixel's chroma can be trusted: little where it changes, since it is stored and shown blurred."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.jpeg import Chroma
from irspot.decoding.nearest import WEIGHTS
from irspot.opencv import load_cv2

_HALF_RANGE: Final = 10.0
"""Range of chroma nearby at which its weight against luma is one half; 5 to 20 do about as well."""
_REACH: Final[dict[Chroma, int]] = {"444": 3, "422": 5, "420": 5}
"""Side of the square, px, that a pixel's chroma can be mixed from."""


def chroma_range(ycc: NDArray[np.uint8], chroma: Chroma) -> NDArray[np.uint8]:
    """Range of chroma around each pixel, both components together.

    Parameters
    ----------
    ycc : ndarray of uint8, shape (rows, columns, 3)
    chroma : {"444", "422", "420"}

    Returns
    -------
    ndarray of uint8, shape (rows, columns)
        Cut at 255.
    """
    cv2 = load_cv2()
    kernel = np.ones((_REACH[chroma], _REACH[chroma]), np.uint8)
    ranges = [cv2.morphologyEx(cv2.extractChannel(ycc, c), cv2.MORPH_GRADIENT, kernel) for c in (1, 2)]
    larger, smaller = cv2.max(*ranges), cv2.min(*ranges)
    # Within 4 % of the root of the sum of squares.
    return np.asarray(cv2.addWeighted(larger, 0.96, smaller, 0.4, 0.0))


def weight_levels(nearby: NDArray[np.uint8], chroma: Chroma) -> NDArray[np.uint8]:
    """Choose the weight of chroma, as an index to `WEIGHTS`, from its range nearby.

    Where every pixel has its own chroma, it is blurred by nothing but the coding, and trusted more.
    """
    cv2 = load_cv2()
    half = _HALF_RANGE * (4.0 if chroma == "444" else 1.0)
    wanted = 1.0 / (1.0 + (np.arange(256) / half) ** 2)
    level = np.argmin(np.abs(np.log(wanted)[:, None] - np.log(WEIGHTS)), axis=1)
    return np.asarray(cv2.LUT(nearby, level.astype(np.uint8)))
