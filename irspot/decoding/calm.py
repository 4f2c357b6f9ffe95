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

from irspot.decoding.strips import in_strips, two_at_a_time
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
    value = place - centre
    value *= share
    count, middle, variance = (np.empty_like(place) for _ in range(3))

    def average(job: tuple[F32, F32]) -> None:
        values, mean = job
        cv2.boxFilter(values, -1, (_SIDE, _SIDE), mean, normalize=True, borderType=cv2.BORDER_REFLECT)

    two_at_a_time(average, [(value, middle), (value * value, variance), (share, count)])
    smooth = place.copy()
    planes = [plane.ravel() for plane in (smooth, value, noise, share, count, middle, variance)]

    def calm(strip: slice) -> None:
        _calm([plane[strip] for plane in planes], centre)

    in_strips(calm, place.size)
    return smooth


def _calm(planes: list[F32], centre: np.float32) -> None:
    """Write what places become, to the first plane; the means of shares, values and squares are used up."""
    smooth, value, noise, share, count, middle, variance = planes
    np.maximum(count, np.float32(1e-3), out=count)
    middle /= count
    variance /= count
    variance -= middle * middle
    np.maximum(variance, np.float32(0.0), out=variance)
    variance /= np.float32(2.0) * noise * noise
    variance -= np.float32(1.0)
    variance *= np.float32(1.0 / _LIVELY)
    kept = np.clip(variance, np.float32(0.0), np.float32(1.0), out=variance)
    kept *= value - middle
    kept += middle
    kept += centre
    np.copyto(smooth, kept, where=share > 0.0)


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
    # Beside pixels that do not count nothing moves: the largest move there is none.
    whole = cv2.erode(usable.astype(np.uint8), np.ones((3, 3), np.uint8))
    fit, most = surface(place), noise * whole
    move = cv2.subtract(fit, place)
    cv2.min(move, most, move)
    cv2.max(move, cv2.subtract(0.0, most), move)
    return np.asarray(cv2.add(place, move))
