"""Where a place cooled during a soak: the load was interrupted, or taken off."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.series import Series

FloatArray = NDArray[np.floating[Any]]

_LEAST_K: Final = 2.0
_LEAST_SHARE: Final = 0.15
"""A fall by more than both, the second of the rise so far, is no noise and no change of the air (our choice)."""
_SCATTERS: Final = 6.0
_EARLY_SHARE: Final = 0.15
_CHANGE_SCATTERS: Final = 20.0
"""Of the change of a series that begins to rise, this share at most lies before that; and it is no scatter (ours)."""


@dataclass(frozen=True, slots=True)
class Fall:
    """A place cooled.

    Parameters
    ----------
    from_s, to_s : float
        When it was hottest before, and coolest after; what is fitted begins at the second if it recovered, else at
        the first.
    fall_k : float
    recovered : bool
    """

    from_s: float
    to_s: float
    fall_k: float
    recovered: bool

    @property
    def fit_from_s(self) -> float:
        """Where the last stretch under one load begins."""
        return self.to_s if self.recovered else self.from_s


def fall_of(series: Series) -> Fall | None:
    """Find the last fall of a series that was rising.

    Parameters
    ----------
    series : Series

    Returns
    -------
    Fall or None
    """
    known = series.known
    if known.time_s.size < 5:
        return None
    time_s, value = known.time_s, _median_of_three(known.value)
    scatter = 1.4826 * float(np.median(np.abs(np.diff(known.value)))) / math.sqrt(2.0)
    top = np.maximum.accumulate(value)
    enough = np.maximum(max(_LEAST_K, _SCATTERS * scatter), _LEAST_SHARE * (top - value[0]))
    low = (top - value > enough) & (top - value[0] > enough)
    if not low.any():
        return None
    last = int(low.size - 1 - np.argmax(low[::-1]))
    start = last - int(np.argmax(~low[last::-1])) if not low[: last + 1].all() else 0
    peak = int(np.argmax(value[: last + 1]))
    bottom = max(start, peak) + int(np.argmin(value[max(start, peak) :]))
    fall_k = float(value[peak] - value[bottom])
    recovered = bool(value[-1] - value[bottom] > max(0.2 * fall_k, _SCATTERS * scatter))
    return Fall(float(time_s[peak]), float(time_s[bottom]), fall_k, recovered)


def onset_s(series: Series) -> float:
    """Find when a series began to rise, where it was watched before: after that one law holds.

    The last sample before the steepest part at which the slope was still under a fifth of the steepest, if nearly all
    of the change comes after it and is no scatter; else the first sample.
    """
    known = series.known
    if known.time_s.size < 8:
        return float(known.time_s[0]) if known.time_s.size else 0.0
    value = _median_of_three(known.value)
    slope = np.abs(np.diff(value) / np.diff(known.time_s))
    wide = max(1, slope.size // 40)
    smooth = np.convolve(slope, np.ones(wide) / wide, mode="same")
    steepest = int(np.argmax(smooth))
    calm = np.flatnonzero(smooth[:steepest] < 0.2 * smooth[steepest])
    if not calm.size:
        return float(known.time_s[0])
    cut, scatter = int(calm[-1]) + 1, float(np.median(np.abs(np.diff(known.value))))
    early = float(np.ptp(value[: cut + 1])) > _EARLY_SHARE * float(np.ptp(value))
    return float(known.time_s[0 if early or np.ptp(value) < _CHANGE_SCATTERS * scatter else cut])


def _median_of_three(value: FloatArray) -> FloatArray:
    padded = np.concatenate([value[:1], value, value[-1:]])
    return np.asarray(np.median(np.stack([padded[:-2], padded[1:-1], padded[2:]]), axis=0))
