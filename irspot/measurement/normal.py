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
    places, logarithms = _table()
    return np.asarray(np.interp(x, places, logarithms), np.float64)


@lru_cache(maxsize=1)
def _table() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    lower, upper = np.arange(_LOWEST, 0.0, _STEP), np.arange(0.0, _HIGHEST + _STEP, _STEP)
    # Near 1 the share above keeps the digits that the share below has lost.
    logarithms = np.log(normal_cdf(lower)), np.log1p(-normal_cdf(-upper))
    return np.concatenate([lower, upper]), np.concatenate(logarithms)
