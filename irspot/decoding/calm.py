"""Coding noise taken out of places where a picture is no livelier than that noise.

A lossy coding shifts whole blocks by a fraction of a quantisation step. Where nothing else happens, the mean over
several blocks is nearer to the truth. Wherever a picture changes by more than its noise (every part, every edge),
values stay as they were read: smoothing there would lower maxima.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2

F32 = NDArray[np.float32]

_SIDE: Final = 17
"""Side of the square that is averaged over, px: about two blocks each way."""
_LIVELY: Final = 10.0
"""Variance against that of the noise at which values stay as they are; from 1 on they stay in part."""


def calmed(place: F32, noise: F32, usable: NDArray[np.bool_] | None = None) -> F32:
    """Average places where their variance is that of noise.

    Parameters
    ----------
    place : ndarray of float32, shape (rows, columns)
    noise : ndarray of float32, shape (rows, columns)
        Standard deviation of coding noise, in place.
    usable : ndarray of bool, shape (rows, columns), optional
        Pixels that count; others (overlays) neither change nor are averaged over.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
    """
    cv2 = load_cv2()
    share = np.ones_like(place) if usable is None else usable.astype(np.float32)
    # Values near zero keep the difference of two means accurate in 32 bits.
    centre = np.float32(np.mean(place))
    value = (place - centre) * share

    def mean(values: F32) -> F32:
        return np.asarray(cv2.boxFilter(values, -1, (_SIDE, _SIDE), normalize=True, borderType=cv2.BORDER_REFLECT))

    count = np.maximum(mean(share), np.float32(1e-3))
    middle = mean(value) / count
    variance = np.maximum(mean(value * value) / count - middle * middle, 0.0)
    kept = np.clip((variance / (2.0 * noise * noise) - 1.0) / _LIVELY, 0.0, 1.0)
    smooth = middle + kept * (value - middle) + centre
    return np.asarray(np.where(share > 0.0, smooth, place), np.float32)
