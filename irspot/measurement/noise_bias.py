"""How much too high the hottest of many noisy pixels reads."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.measurement.normal import log_normal_cdf

FloatArray = NDArray[np.floating[Any]]
BoolArray = NDArray[np.bool_]

_REACH: Final = 5.0
"""Pixels cooler than the hottest by more standard deviations never are the hottest."""
_STEPS: Final = 160
_LEVELS: Final = 60
"""So many classes of temperature stand for all pixels of one."""


def noise_bias_k(values: FloatArray, usable: BoolArray, noise_k: float) -> float:
    """Expected excess of the hottest pixel over the hottest true temperature, for independent normal noise.

    The expectation of a maximum, E[max] = ∫ z d∏ Φ((z - m_i) / σ), over means m_i that are taken from the pixels
    themselves, smoothed by second-order surfaces over 7 × 7 of them (Savitzky and Golay, 1964, in two dimensions). What
    smoothing leaves of the noise makes it an understatement, by up to a half over large even surfaces.

    Parameters
    ----------
    values : ndarray, shape (rows, columns)
        Temperatures of a zone's box.
    usable : ndarray of bool, that shape
        Pixels that count.
    noise_k : float
        Standard deviation σ of one pixel.

    Returns
    -------
    float
        K, not negative; 0 where there is no noise or no pixel.
    """
    if noise_k <= 0.0 or not usable.any():
        return 0.0
    means = _smoothed(values, usable)[usable]
    means = np.sort(means[np.isfinite(means)])[::-1]
    if not means.size:
        return 0.0
    shifted = (means - means[0]) / noise_k
    return noise_k * max(0.0, expected_maximum(shifted[shifted > -2.0 * _REACH]))


def expected_maximum(means: FloatArray) -> float:
    """Expectation of the maximum of independent normal variables of standard deviation 1.

    Parameters
    ----------
    means : ndarray, shape (n,)
        The largest is 0.

    Returns
    -------
    float

    Examples
    --------
    >>> round(expected_maximum(np.zeros(2)), 4), round(expected_maximum(np.zeros(1)), 4)  # 1 / √π, none
    (0.5642, 0.0)
    """
    levels, counts = _classes(means)
    z = np.linspace(-_REACH, _REACH + 1.0, _STEPS + 1)
    below = np.exp((counts * log_normal_cdf(z[:, None] - levels)).sum(axis=1))
    # E[max] = a + ∫ (1 - F) dz from an a at which F vanishes.
    return float(z[0] + np.trapezoid(1.0 - below, z))


def _classes(means: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Bring many means together in classes so narrow that it makes no difference."""
    if len(means) <= _LEVELS:
        return np.asarray(means, np.float64), np.ones(len(means))
    counts, ends = np.histogram(means, bins=_LEVELS)
    return 0.5 * (ends[1:] + ends[:-1]), counts.astype(np.float64)


def _smoothed(values: FloatArray, usable: BoolArray) -> FloatArray:
    """Means of pixels by their neighbours: of a surface through all of these, or plain where some do not count."""
    from irspot.opencv import load_cv2

    cv2 = load_cv2()
    # Small numbers keep their digits in 32 bits.
    own = np.where(usable, values - values[usable].max(), np.float32(0.0)).astype(np.float32)
    count = cv2.boxFilter(usable.astype(np.float32), -1, (3, 3), normalize=False, borderType=cv2.BORDER_CONSTANT)
    plain = cv2.boxFilter(own, -1, (3, 3), normalize=False, borderType=cv2.BORDER_CONSTANT) / np.maximum(count, 1.0)
    surface = cv2.filter2D(own, -1, _kernel(), borderType=cv2.BORDER_CONSTANT)
    whole = cv2.erode(usable.astype(np.uint8), np.ones((7, 7), np.uint8), borderValue=0).astype(bool)
    return np.asarray(np.where(whole, surface, plain))


@lru_cache(maxsize=1)
def _kernel() -> NDArray[np.float32]:
    """Weights of 7 × 7 pixels whose sum is the middle of a second-order surface through them."""
    y, x = np.mgrid[-3:4, -3:4].reshape(2, -1).astype(np.float64)
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)
    return np.asarray(np.linalg.pinv(terms)[0].reshape(7, 7), np.float32)
