"""How fast a series still changes at its end: a robust line through its last minutes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from irspot.constants import COVERAGE_FACTOR
from irspot.series import Series
from irspot.soak.fit import errs_together

DRIFT_OVER_S: Final = 600.0
"""Common practice: long enough for noise of a tenth of a kelvin, short against the time constants of boards."""
_LEAST: Final = 4


@dataclass(frozen=True, slots=True)
class Drift:
    """A rate of change [K/h], its expanded uncertainty, and the time it was taken over."""

    k_per_h: float
    U_k_per_h: float
    over_s: float


NO_DRIFT: Final = Drift(math.nan, math.nan, math.nan)


def drift_of(series: Series, over_s: float = DRIFT_OVER_S) -> Drift:
    """Give the median of the slopes between all pairs of samples in the last seconds (Theil–Sen).

    Its uncertainty is that of a straight line through samples with the scatter these show about it, or with the stated
    one if that is larger; samples that err alike count as one (Sen, J. Am. Stat. Assoc. 63, 1968, for the slope).

    Parameters
    ----------
    series : Series
    over_s : float

    Returns
    -------
    Drift
        NaN for fewer than four samples.
    """
    known = series.known
    if known.time_s.size < _LEAST:
        return NO_DRIFT
    keep = known.time_s >= known.time_s[-1] - over_s
    time_s, value, u = known.time_s[keep], known.value[keep], known.u[keep]
    if time_s.size < _LEAST:
        return NO_DRIFT
    first, second = np.triu_indices(time_s.size, 1)
    slope = float(np.median((value[second] - value[first]) / (time_s[second] - time_s[first])))
    rest = value - slope * time_s
    rest = rest - np.median(rest)
    # A normal scatter is 1.4826 times the median distance; the median of slopes has 1.05 times the line's variance.
    stated = float(np.median(u[np.isfinite(u)])) if np.isfinite(u).any() else 0.0
    scatter = max(1.4826 * float(np.median(np.abs(rest))), stated)
    across = float(np.sqrt(np.sum((time_s - time_s.mean()) ** 2)))
    u_slope = scatter * math.sqrt(1.05 * errs_together(rest)) / across
    return Drift(3600.0 * slope, COVERAGE_FACTOR * 3600.0 * u_slope, float(time_s[-1] - time_s[0]))
