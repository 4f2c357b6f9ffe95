"""What a soak of one zone or bead came to: its last value, its end value, its drift, whether and when it is steady."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from irspot.constants import COVERAGE_FACTOR
from irspot.run_flags import not_comparable, sorted_run_flags
from irspot.series import Series
from irspot.soak.drift import drift_of
from irspot.soak.fit import Fit, air_now, fit_soak
from irspot.soak.interrupted import fall_of, onset_s
from irspot.steady_rules import DEFAULT_RULE, Rule, ValueAt, rule_of

NAN: Final = math.nan
LAST_S: Final = 120.0
_STEP_S: Final = 30.0
_MISSED_K: Final = 0.5
"""By so much a fit may pass by the last value."""
_FLAT_K: Final = 0.02
"""Bend of a line's samples that matters to nothing printed."""
_HORIZON_S: Final = 6.0 * 3600.0


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a soak is judged by, besides its samples.

    Parameters
    ----------
    rule : str
        A name of `irspot.steady_rules`, or own numbers; empty for the default, flagged.
    ambient : Series or None
        The air over time.
    ambient_degc : float
        The air where there is no series; NaN if unknown.
    limit_degc : float
        Of the zone; NaN if it has none.
    flags : tuple of str
        Of the run: load sag and the like.
    from_s : float
        When the load was last switched on, where the power says so.
    """

    rule: str = ""
    ambient: Series | None = None
    ambient_degc: float = NAN
    limit_degc: float = NAN
    flags: tuple[str, ...] = ()
    from_s: float = -math.inf


@dataclass(frozen=True, slots=True)
class SoakReading:
    """The conclusion on one series. What is not known is NaN, and a flag says why.

    Parameters
    ----------
    zone : str
        Or site.
    kind : str
        Of the series.
    last_degc, U_last_k : float
        Measured last.
    end_degc, U_end_k : float
        Projected: where it ends with the air as it is last.
    U_end_fit_k : float
        The part of `U_end_k` that the samples leave; the rest is the same error in all of them.
    tau_s, U_tau_s, fast_tau_s : float
        The longest time constant; the shorter one where two are likelier.
    two_share : float
        Evidence for two time constants against one.
    drift_k_per_h, U_drift_k_per_h : float
    steady : str
        ``yes``, ``no``, or empty where the samples do not say.
    rule : str
    within_1k_s, U_within_1k_s : float
        When it came within 1 K of its end value, on the run's clock; NaN while it is not.
    remaining_s, U_remaining_s : float
        From the last sample until it is within 1 K of its end value; 0 if it is.
    steady_in_s : float
        From the last sample until the rule will be met, by the fit; 0 if it is.
    ambient_degc : float
    from_s, last_s : float
        First sample fitted, and the last one, on the run's clock.
    samples : int
    flags : tuple of str
        Names of `irspot.run_flags`.
    """

    zone: str
    kind: str
    last_degc: float = NAN
    U_last_k: float = NAN
    end_degc: float = NAN
    U_end_k: float = NAN
    U_end_fit_k: float = NAN
    tau_s: float = NAN
    U_tau_s: float = NAN
    fast_tau_s: float = NAN
    two_share: float = NAN
    drift_k_per_h: float = NAN
    U_drift_k_per_h: float = NAN
    steady: str = ""
    rule: str = ""
    within_1k_s: float = NAN
    U_within_1k_s: float = NAN
    remaining_s: float = NAN
    U_remaining_s: float = NAN
    steady_in_s: float = NAN
    ambient_degc: float = NAN
    from_s: float = NAN
    last_s: float = NAN
    samples: int = 0
    flags: tuple[str, ...] = field(default=())

    @property
    def comparable(self) -> str:
        """``no`` where a flag keeps the run from being compared, else ``yes``."""
        return "no" if not_comparable(self.flags) else "yes"

    @property
    def to_go_s(self) -> float:
        """Time until it is both within 1 K of its end value and steady by the rule; NaN if unknown."""
        known = [time_s for time_s in (self.remaining_s, self.steady_in_s) if not math.isnan(time_s)]
        return max(known, default=NAN)


def judge_soak(series: Series, around: Surroundings | None = None) -> SoakReading:
    """Judge one zone or bead of a run.

    Parameters
    ----------
    series : Series
        In °C.
    around : Surroundings, optional

    Returns
    -------
    SoakReading

    Raises
    ------
    ValueError
        If the rule is none.
    """
    around = around or Surroundings()
    rule = rule_of(around.rule or DEFAULT_RULE)
    known = series.known
    flags = [*around.flags, *(() if around.rule else ("rule-assumed",))]
    if known.time_s.size == 0:
        return SoakReading(
            series.name, series.kind, rule=rule.name, flags=sorted_run_flags((*flags, "end-unknown", "rule-not-judged"))
        )
    fall = fall_of(series)
    flags += [] if fall is None else ["interrupted"]
    from_s = max(around.from_s, onset_s(series)) if fall is None else max(around.from_s, fall.fit_from_s)
    if around.ambient is None:
        flags.append("ambient-assumed-steady")
    fit = fit_soak(series, around.ambient, from_s)
    return _reading(series, around, rule, fit, from_s, flags)


def _reading(
    series: Series, around: Surroundings, rule: Rule, fit: Fit | None, from_s: float, flags: list[str]
) -> SoakReading:
    known = series.known
    last_s = float(known.time_s[-1])
    drift = drift_of(_since(known, from_s))
    last_degc, u_last_k = _last(_since(known, from_s))
    if fit is not None and _missed(fit, _since(known, from_s), last_degc, u_last_k):
        fit = None
    end_degc = NAN if fit is None else fit.end_degc
    met = rule.met(_smooth(_since(known, from_s)), last_s, last_s - from_s, end_degc, around.limit_degc)
    flags += [] if met is not None else ["rule-not-judged"]
    near = fit is not None and fit.within_s <= last_s
    flags += ["projected-far"] if fit is not None and fit.far else []
    flags += ["end-unknown"] if fit is None else ([] if near else ["stopped-early"])
    shared_k = series.u_shared
    return SoakReading(
        series.name,
        series.kind,
        last_degc,
        COVERAGE_FACTOR * math.hypot(u_last_k, shared_k),
        end_degc,
        NAN if fit is None else math.hypot(fit.U_end_k, COVERAGE_FACTOR * shared_k),
        NAN if fit is None else fit.U_end_k,
        NAN if fit is None else fit.tau_s,
        NAN if fit is None else fit.U_tau_s,
        NAN if fit is None else fit.fast_tau_s,
        NAN if fit is None else fit.two_share,
        drift.k_per_h,
        drift.U_k_per_h,
        "" if met is None else ("yes" if met else "no"),
        rule.name,
        fit.within_s if fit is not None and near else NAN,
        fit.U_within_s if fit is not None and near else NAN,
        NAN if fit is None else max(0.0, fit.within_s - last_s),
        NAN if fit is None else fit.U_within_s,
        0.0 if met else _steady_in(rule, fit, last_s, from_s, around.limit_degc),
        _air(around, last_s),
        NAN if fit is None else fit.from_s,
        last_s,
        int(known.time_s.size),
        sorted_run_flags(flags),
    )


def _since(known: Series, from_s: float) -> Series:
    keep = known.time_s >= min(from_s, float(known.time_s[-1]))
    return Series(known.name, known.kind, known.unit, known.time_s[keep], known.value[keep], known.u[keep])


def _air(around: Surroundings, time_s: float) -> float:
    if around.ambient is None or around.ambient.known.time_s.size == 0:
        return around.ambient_degc
    return air_now(around.ambient, time_s)


def _last(known: Series) -> tuple[float, float]:
    """Give the value at the last sample, and its standard uncertainty.

    By a straight line through the samples of the last two minutes, whose end is known half as well as its middle; of a
    shorter time where they are curved, and by the last sample alone where there are fewer than four.
    """
    over_s = LAST_S
    while True:
        near = known.time_s >= known.time_s[-1] - over_s
        count = int(near.sum())
        if count < 4:
            return float(known.value[-1]), float(np.nan_to_num(known.u[-1]))
        ago_s, values = known.time_s[near] - known.time_s[-1], known.value[near]
        u = np.nan_to_num(known.u[near])
        u_k = 2.0 * float(np.sqrt((u**2).sum())) / count
        line = np.polyfit(ago_s, values, 1)
        curve = np.polyfit(ago_s / over_s, values, 2) if count > 4 else np.array([0.0])
        # A line through a curve of this bend misses its end by a sixth of the bend; 3 u is no chance.
        if abs(curve[0]) / 6.0 <= max(3.0 * u_k, _FLAT_K):
            return float(line[-1]), u_k
        over_s /= 2.0


def _missed(fit: Fit, known: Series, last_degc: float, u_last_k: float) -> bool:
    """Say whether a fit passes by what was measured last, or would have it turn round: no soak that is believed in."""
    left_k = fit.left_k(float(known.time_s[-1]))
    least_k = max(_MISSED_K, 4.0 * u_last_k)
    turns = left_k * (last_degc - float(known.value[0])) < 0.0 and abs(left_k) > least_k
    return turns or abs(fit.end_degc - left_k - last_degc) > least_k


def _smooth(known: Series) -> ValueAt:
    """Give a series as a curve: the mean of the samples within half a minute, else straight between samples."""
    time_s, value = known.time_s, known.value

    def value_at(at_s: float) -> float:
        # Half a sample's grace: 15 min of frames every 10 s may be 14 min 50 s.
        if at_s < time_s[0] - 15.0 or at_s > time_s[-1] + 1.0:
            return NAN
        near = np.abs(time_s - at_s) <= 30.0
        if near.sum() >= 3 and near[0] == near[-1]:
            return float(value[near].mean())
        if near.sum() >= 3 and time_s.size >= 3:
            return float(np.polyval(np.polyfit(time_s[near] - at_s, value[near], 1), 0.0))
        return float(np.interp(at_s, time_s, value))

    return value_at


def _steady_in(rule: Rule, fit: Fit | None, last_s: float, from_s: float, limit_degc: float) -> float:
    """Give the time from the last sample until the mean of all fits meets a rule; NaN if not within six hours."""
    if fit is None:
        return NAN
    for ahead_s in np.arange(0.0, _HORIZON_S, _STEP_S):
        at_s = last_s + float(ahead_s)

        def curve(time_s: float) -> float:
            return fit.end_degc - fit.left_k(time_s) if time_s >= fit.from_s - 15.0 else NAN

        if rule.met(curve, at_s, at_s - from_s, fit.end_degc, limit_degc):
            return float(ahead_s)
    return NAN


def hottest(readings: Iterable[SoakReading], count: int) -> tuple[SoakReading, ...]:
    """Give the readings that end hottest, the hottest first."""
    known = [reading for reading in readings if math.isfinite(reading.last_degc)]
    return tuple(sorted(known, key=lambda r: -(r.end_degc if math.isfinite(r.end_degc) else r.last_degc))[:count])


def sentence(reading: SoakReading) -> str:
    """Say in a line how far a soak is.

    Examples
    --------
    >>> near = SoakReading("ps-left", "zone", 78.4, 1.9, 79.0, 2.0, remaining_s=0.0, steady_in_s=360.0)
    >>> sentence(near)
    'usable now: ps-left 78.4 ± 1.9 °C, end value 79.0, 6 min to go'
    """
    from irspot.uncertain import decimals_of, rounded, with_uncertainty

    value = with_uncertainty(reading.last_degc, reading.U_last_k, "°C")
    if not math.isfinite(reading.end_degc):
        return f"wait: {reading.zone} {value}, end value not known yet"
    decimals = decimals_of(reading.U_last_k)
    end = f"end value {rounded(reading.end_degc, decimals)}"
    usable = reading.remaining_s == 0.0
    if not usable:
        end += f" ± {rounded(reading.U_end_k, decimals)}"
    return f"{'usable now' if usable else 'not yet'}: {reading.zone} {value}, {end}, {_to_go(reading)}"


def _to_go(reading: SoakReading) -> str:
    if math.isnan(reading.steady_in_s) or math.isnan(reading.to_go_s):
        return "time to go not known"
    minutes = math.ceil(reading.to_go_s / 60.0 - 1e-9)
    return "steady" if minutes == 0 else f"{minutes} min to go"
