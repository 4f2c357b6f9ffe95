"""The standard normal distribution on arrays, from Python's own error function.

SciPy has both functions, but loading them takes longer than measuring a frame.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.floating[Any]]

_LOWEST: Final = -6.0
_HIGHEST: Final = 9.0
"""Beyond it the logarithm is nothing in double precision."""
_STEP: Final = 1.0 / 256.0
"""Between entries of the table. The logarithm bends by at most 1, so that a straight line errs by less than 2e-6."""


def normal_cdf(x: FloatArray) -> NDArray[np.float64]:
    """Φ(x) = erfc(-x / √2) / 2, the share of a standard normal variable below x.

    Parameters
    ----------
    x : ndarray

    Returns
    -------
    ndarray of float64, that shape

    Examples
    --------
    >>> normal_cdf(np.array([0.0, 1.959963985])).round(6).tolist()
    [0.5, 0.975]
    """
    half = (np.asarray(x, np.float64) * -math.sqrt(0.5)).ravel().tolist()
    return 0.5 * np.fromiter(map(math.erfc, half), np.float64, len(half)).reshape(x.shape)


def log_normal_cdf(x: FloatArray) -> NDArray[np.float64]:
    """Natural logarithm of Φ(x), within 2e-6.

    Parameters
    ----------
    x : ndarray
        Not under -6.

    Returns
    -------
    ndarray of float64, that shape
    """
    values, steps = _table()
    # Evenly spaced places need no search, which takes most of the time of np.interp.
    along = np.clip((x - _LOWEST) / _STEP, 0.0, len(steps) - 1e-9)
    entry = along.astype(np.intp)
    return np.asarray(values[entry] + (along - entry) * steps[entry], np.float64)


@lru_cache(maxsize=1)
def _table() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Logarithms at every step from `_LOWEST` to `_HIGHEST`, and from each to the next."""
    places = _LOWEST + _STEP * np.arange(round((_HIGHEST - _LOWEST) / _STEP) + 1)
    lower, upper = places[places < 0.0], places[places >= 0.0]
    # Near 1 the share above keeps the digits that the share below has lost.
    values = np.concatenate([np.log(normal_cdf(lower)), np.log1p(-normal_cdf(-upper))])
    return values, np.diff(values)
