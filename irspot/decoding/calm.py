"""Coding noise taken out of places, without lowering maxima.

A lossy coding shifts whole blocks by a fraction of a quantisation step. Where nothing else happens, the mean over
several blocks is nearer to the truth. Wherever a picture changes by more than its noise (every part, every edge),
values stay as they were read: smoothing there would lower maxima. What can be done everywhere is to fit a curved
surface to the nearest neighbours and go towards it, by no more than the noise: tops are curved surfaces as well.
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
_BLUR_PX: Final = 0.8


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


def surface(place: F32) -> F32:
    """Fit a second-order surface to the 3 x 3 neighbours of each place; give its middle.

    The centre of a least-squares fit of second order (Savitzky and Golay, 1964, in two dimensions) has the weights
    5/9 itself, 2/9 beside, -1/9 across corners.

    Parameters
    ----------
    place : ndarray of float32, shape (rows, columns)
    """
    cv2 = load_cv2()
    kernel = np.array([[-1.0, 2.0, -1.0], [2.0, 5.0, 2.0], [-1.0, 2.0, -1.0]], np.float32) / np.float32(9.0)
    return np.asarray(cv2.filter2D(place, -1, kernel, borderType=cv2.BORDER_REFLECT))


def blurred(place: F32) -> F32:
    """Blur places about as much as a good lens does."""
    return np.asarray(load_cv2().GaussianBlur(place, (5, 5), _BLUR_PX))


def fitted(place: F32, noise: F32, usable: NDArray[np.bool_]) -> F32:
    """Move places towards a second-order surface through their 3 x 3 neighbours, by their noise at most.

    Parameters
    ----------
    place : ndarray of float32, shape (rows, columns)
    noise : ndarray of float32, shape (rows, columns)
        Standard deviation, in units of `place`.
    usable : ndarray of bool, shape (rows, columns)
        Pixels that count; others, and their neighbours, stay as they are.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
    """
    cv2 = load_cv2()
    move = surface(place) - place
    whole = cv2.erode(usable.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    return np.asarray(place + np.where(whole, np.clip(move, -noise, noise), np.float32(0.0)), np.float32)
