"""Whether a load was held: a plateau that sags, a gap, a power other than intended."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.run_flags import sorted_run_flags
from irspot.series import Series
from irspot.study import Load, Run

FloatArray = NDArray[np.floating[Any]]

_LOADED: Final = 0.5
"""Share of its plateau above which power counts as on."""
_CALM_S: Final = 60.0
"""A sag lasts at least this long, so that a moment's dip is none (our choice)."""
_GAP_S: Final = 10.0
"""A gap lasts at least this long."""


@dataclass(frozen=True, slots=True)
class Hold:
    """How a load was held.

    Parameters
    ----------
    plateau, last : float
        Middle values of the first and the last part of the time it was on, in the series' unit; NaN without a series.
    on_s : float
        When it was switched on, for the last time.
    sag_s : float
        Since when it lies below its plateau by more than its tolerance; NaN where it does not.
    gap_s : float
        Start of the first gap; NaN where there is none.
    """

    plateau: float = math.nan
    last: float = math.nan
    on_s: float = math.nan
    sag_s: float = math.nan
    gap_s: float = math.nan

    @property
    def flags(self) -> tuple[str, ...]:
        """What that means for the run."""
        found = (("throttled", self.sag_s), ("interrupted", self.gap_s))
        return tuple(name for name, since in found if not math.isnan(since))


def held(series: Series, tolerance: float) -> Hold:
    """Find plateau, sag and gaps of a power or a clock rate.

    Parameters
    ----------
    series : Series
        Power [W] or clock [GHz].
    tolerance : float
        In its unit: a fall from the plateau by more is a sag.

    Returns
    -------
    Hold
    """
    known = series.known
    time_s, value = known.time_s, known.value
    if time_s.size < 3:
        return Hold()
    on = value > _LOADED * float(np.percentile(value, 90.0))
    if not on.any():
        return Hold()
    first, last = int(np.argmax(on)), int(on.size - 1 - np.argmax(on[::-1]))
    gap_s, after = _gap(time_s, on, first, last)
    held_s, level = time_s[first : last + 1][on[first : last + 1]], value[first : last + 1][on[first : last + 1]]
    part_s = max(_CALM_S, 0.1 * float(held_s[-1] - held_s[0]))
    plateau = float(np.median(level[held_s <= held_s[0] + part_s]))
    end = float(np.median(level[held_s >= held_s[-1] - part_s]))
    return Hold(plateau, end, float(time_s[after]), _sag_since(held_s, level, plateau - tolerance), gap_s)


def _gap(time_s: FloatArray, on: NDArray[np.bool_], first: int, last: int) -> tuple[float, int]:
    """Give the start of the first gap, and the sample from which the load was on after the last one."""
    gap_s, after, index = math.nan, first, first
    while index <= last:
        if not on[index]:
            back = index + int(np.argmax(on[index:]))
            if time_s[back] - time_s[index - 1] >= _GAP_S:
                gap_s = float(time_s[index]) if math.isnan(gap_s) else gap_s
                after = back
            index = back
        index += 1
    return gap_s, after


def _sag_since(time_s: FloatArray, level: FloatArray, least: float) -> float:
    """Give the first time from which the median over a minute stays below a level for most of what follows."""
    medians = np.array([np.median(level[(time_s >= t) & (time_s <= t + _CALM_S)]) for t in time_s])
    low = medians < least
    low[time_s > time_s[-1] - _CALM_S / 2.0] = False
    return float(time_s[int(np.argmax(low))]) if low.any() else math.nan


def power_flags(run: Run, load: Load, power: Series | None = None, clock: Series | None = None) -> tuple[str, ...]:
    """Say what was wrong with a run's power and clock.

    Parameters
    ----------
    run : Run
    load : Load
        With what was intended, and its tolerances.
    power, clock : Series, optional
        As logged.

    Returns
    -------
    tuple of str
        Sorted names of `irspot.run_flags`.
    """
    flags: list[str] = []
    reached = run.power_w
    if power is not None:
        plateau = held(power, math.inf).plateau
        hold = held(power, load.power_tolerance_percent / 100.0 * plateau if plateau > 0.0 else math.inf)
        flags += hold.flags
        reached = hold.plateau if math.isfinite(hold.plateau) else reached
    if clock is not None:
        flags += held(clock, load.clock_tolerance_ghz).flags
    if load.intended_power_w is not None and reached is not None:
        flags += _against_intended(run, load, reached, load.intended_power_w)
    return sorted_run_flags(flags)


def _against_intended(run: Run, load: Load, reached_w: float, intended_w: float) -> list[str]:
    if run.power_point is not None and load.power_point is not None and run.power_point != load.power_point:
        return ["power-elsewhere"]
    off = abs(reached_w - intended_w) > load.power_tolerance_percent / 100.0 * intended_w
    return ["power-off-intended"] if off else []
