"""Two series at equal steps, smoothed alike, so that they can be shifted against one another."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.series import Series

FloatArray = NDArray[np.floating[Any]]


_LEAST_INTERVAL_S: Final = 0.5
_MOST_INTERVALS: Final = 10_000
"""A working day of fast frames is not held against a log at every tenth of a second."""
_LEAST_SMOOTHING: Final = 2.0
_MOST_SIGMA_S: Final = 30.0
_STEPS: Final = 4.0
"""Steps in a standard deviation of the smoothing: enough to interpolate between."""


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """A series at equal steps, smoothed; NaN in gaps."""

    first_s: float
    step_s: float
    value: FloatArray

    @property
    def time_s(self) -> FloatArray:
        """When its values are, shape (n,)."""
        return self.first_s + self.step_s * np.arange(len(self.value))

    def at(self, time_s: FloatArray) -> FloatArray:
        """Values at other times, NaN before the first and after the last."""
        known = np.isfinite(self.value)
        return np.interp(time_s, self.time_s[known], self.value[known], left=np.nan, right=np.nan)

    def integral(self) -> Grid:
        """Integrate from the first value on, over what it was then."""
        known = np.isfinite(self.value)
        filled = np.interp(self.time_s, self.time_s[known], self.value[known])
        return Grid(self.first_s, self.step_s, np.cumsum(filled - filled[0]) * self.step_s)

    def lagged(self, lag_s: float) -> Grid:
        """Pass it through a first-order element, at rest before the first sample."""
        if lag_s <= 0.0:
            return self
        from scipy.signal import lfilter

        known = np.isfinite(self.value)
        filled = np.interp(self.time_s, self.time_s[known], self.value[known])
        keep = math.exp(-self.step_s / lag_s)
        # Linear between samples: exact for a ramp, where holding each sample would shift by half a step.
        slope = 1.0 - lag_s / self.step_s * (1.0 - keep)
        later = lfilter([slope, 1.0 - keep - slope], [1.0, -keep], filled, zi=[filled[0] * (1.0 - slope)])[0]
        return Grid(self.first_s, self.step_s, np.asarray(later))


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """Image and bead, each on its own clock."""

    image: Grid
    bead: Grid
    correlated: float
    """Samples of the grid that count as one, by the smoothing."""
    slope_noise: float
    """Variance of the smoothed image's slope by noise, K² s⁻²: what looks like a hold on the clock and is none."""


def paired(image: Series, bead: Series, smoothing: float) -> Pair:
    """Bring both onto equal steps, smoothed by so many of the longer of their sampling intervals."""
    slower_s = max(float(np.median(np.diff(series.time_s))) for series in (image, bead))
    longest_s = max(float(np.ptp(series.time_s)) for series in (image, bead))
    slower_s = max(slower_s, _LEAST_INTERVAL_S, longest_s / _MOST_INTERVALS)
    sigma_s = max(min(smoothing * slower_s, _MOST_SIGMA_S), _LEAST_SMOOTHING * slower_s)
    step_s = sigma_s / _STEPS
    # A Gaussian over a Gaussian: what is left goes together over 2 √π of its widths.
    correlated = max(1.0, 2.0 * math.sqrt(math.pi) * sigma_s / step_s)
    image_s = float(np.median(np.diff(image.time_s)))
    # Variance of white noise after smoothing, and of its slope: s² dt / (2 √π σ), that over 2 σ².
    slope_noise = noise_of(image.value) ** 2 * image_s / (4.0 * math.sqrt(math.pi) * sigma_s**3)
    return Pair(_grid(image, step_s, sigma_s), _grid(bead, step_s, sigma_s), correlated, slope_noise)


def noise_of(value: FloatArray) -> float:
    """Standard deviation of noise, whatever the course: of second differences, by their median.

    Examples
    --------
    >>> bool(abs(noise_of(np.random.default_rng(0).normal(0.0, 0.2, 999) + np.arange(999.0)) - 0.2) < 0.02)
    True
    """
    second = np.diff(value[np.isfinite(value)], 2)
    return float(1.4826 * np.median(np.abs(second)) / math.sqrt(6.0)) if second.size else 0.0


def _grid(series: Series, step_s: float, sigma_s: float) -> Grid:
    """Bring a series onto equal steps; both get the same smoothing, which therefore moves neither."""
    from scipy.ndimage import gaussian_filter1d

    first, last = float(series.time_s[0]), float(series.time_s[-1])
    time_s = first + step_s * np.arange(int((last - first) / step_s) + 1)
    value = gaussian_filter1d(np.interp(time_s, series.time_s, series.value), sigma_s / step_s, mode="nearest")
    after = np.clip(np.searchsorted(series.time_s, time_s), 1, series.time_s.size - 1)
    gap_s = series.time_s[after] - series.time_s[after - 1]
    value[gap_s > 5.0 * float(np.median(np.diff(series.time_s)))] = np.nan
    # Near its ends a smoothed series is flatter than it was.
    edge = min(math.ceil(2.0 * sigma_s / step_s), max(0, (len(value) - 8) // 4))
    value[:edge] = np.nan
    value[len(value) - edge :] = np.nan
    return Grid(first, step_s, value)
