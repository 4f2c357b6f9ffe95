"""Figures of one zone, each a pure function of its pixels."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2

FloatArray = NDArray[np.floating[Any]]
BoolArray = NDArray[np.bool_]


def hottest(values: FloatArray) -> tuple[int, float]:
    """Index and value of the hottest; the first in reading order among equals, ``(-1, nan)`` where all are NaN.

    Examples
    --------
    >>> hottest(np.array([40.0, np.nan, 71.5, 71.5]))
    (2, 71.5)
    """
    maximum = np.fmax.reduce(values, initial=np.nan)
    if np.isnan(maximum):
        return -1, float("nan")
    return int(np.argmax(values == maximum)), float(maximum)


def mean(values: FloatArray) -> float:
    """Mean in double precision; NaN where any is NaN, or there are none."""
    return float(values.mean(dtype=np.float64)) if values.size else float("nan")


def percentile(values: FloatArray, share: float) -> float:
    """Percentile, interpolated linearly between order statistics (definition 7 of Hyndman and Fan, 1996).

    Parameters
    ----------
    values : ndarray, shape (n,)
    share : float
        0.95 for the 95th percentile.

    Returns
    -------
    float
        NaN where any is NaN, or there are none.

    Examples
    --------
    >>> percentile(np.array([10.0, 50.0, 20.0, 40.0, 30.0]), 0.95)
    48.0
    """
    if not values.size or np.isnan(values.sum()):
        return float("nan")
    place = share * (values.size - 1)
    below = int(place)
    above = min(below + 1, values.size - 1)
    ordered = np.partition(values, (below, above))
    low, high = float(ordered[below]), float(ordered[above])
    return low + (high - low) * (place - below)


def peak_3x3(values: FloatArray, sound: BoolArray) -> float:
    """Hottest mean of a full block of 3 × 3 sound pixels.

    Parameters
    ----------
    values : ndarray of float32, shape (rows, columns)
    sound : ndarray of bool, that shape

    Returns
    -------
    float
        NaN where no full block fits.
    """
    cv2 = load_cv2()

    if min(values.shape) < 3:
        return float("nan")
    full = cv2.erode(sound.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=0).astype(bool)
    if not full.any():
        return float("nan")
    # What is not sound must not spoil its neighbours' sums; no block that counts holds any of it.
    sums = cv2.boxFilter(np.where(sound, values, np.float32(0.0)), -1, (3, 3), normalize=False)
    best = int(np.argmax(np.where(full, sums, np.float32(-np.inf))))
    row, column = divmod(best, values.shape[1])
    return mean(values[row - 1 : row + 2, column - 1 : column + 2])
