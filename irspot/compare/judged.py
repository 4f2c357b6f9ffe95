"""An entry held against the limits of its zones: the worst of them is what it says."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from irspot.compare.cases import Case, value_of
from irspot.compare.estimates import Estimate, mean
from irspot.compare.limits import guard_band_k, outcome_of, p_over_limit
from irspot.compare.standing import Outcome
from irspot.compare.values import DecisionRule
from irspot.results import NAN, Reading

_WORST_FIRST: Final[tuple[Outcome, ...]] = (
    "fail",
    "conditional fail",
    "not judged",
    "conditional pass",
    "pass",
    "",
)


@dataclass(frozen=True, slots=True)
class Judged:
    """One zone against its limit; without a limit all of it is empty."""

    zone: str = ""
    limit_degc: float = NAN
    limit_kind: str = ""
    margin_k: float = NAN
    U_margin_k: float = NAN
    guard_band_k: float = NAN
    p_over_limit: float = NAN
    outcome: Outcome = ""
    note: str = ""


def judged_of(cases: Sequence[Case], rule: DecisionRule, between_runs: Estimate | None = None) -> Judged:
    """Judge every zone that has a limit, and give the worst.

    Parameters
    ----------
    cases : sequence of Case
        Repeats.
    rule : DecisionRule
    between_runs : Estimate, optional
        Whose sources ``between runs`` widen the mean.
    """
    zones = dict.fromkeys(reading.zone for case in cases for reading in case.readings)
    found = [_zone_judged(cases, zone, rule, between_runs) for zone in zones]
    limited = [each for each in found if each.outcome]
    order = {outcome: place for place, outcome in enumerate(_WORST_FIRST)}
    key = [(order[each.outcome], each.margin_k if math.isfinite(each.margin_k) else -math.inf) for each in limited]
    return limited[key.index(min(key))] if limited else Judged()


def _zone_judged(cases: Sequence[Case], zone: str, rule: DecisionRule, between_runs: Estimate | None) -> Judged:
    pairs = [(case, reading) for case in cases for reading in case.readings if reading.zone == zone]
    limits = {(reading.limit_degc, reading.limit_kind) for _, reading in pairs if math.isfinite(reading.limit_degc)}
    if len(limits) != 1:
        return Judged()
    ((limit_degc, kind),) = limits
    known = [(case, reading) for case, reading in pairs if math.isfinite(reading.margin_k)]
    if not known:
        unlike = any("limit-not-comparable" in reading.flags for _, reading in pairs)
        why = (
            f"limit of {zone} is a {kind} temperature, which is not what was measured" if unlike else f"{zone}: retake"
        )
        return Judged(zone, limit_degc, kind, outcome="not judged", note=why)
    margin_k = math.fsum(reading.margin_k for _, reading in known) / len(known)
    U_k = _margin(known, between_runs).U_k
    at_least = any(reading.verdict != "usable" for _, reading in pairs)
    guard_k = guard_band_k(rule, U_k)
    outcome = outcome_of(margin_k, guard_k, rule.name, at_least=at_least)
    p_over = NAN if at_least else p_over_limit(margin_k, U_k / 2.0)
    note = f"{zone} may be hotter than it reads, so it cannot pass" if at_least and outcome == "not judged" else ""
    return Judged(zone, limit_degc, kind, margin_k, U_k, guard_k, p_over, outcome, note)


def _margin(known: Sequence[tuple[Case, Reading]], between_runs: Estimate | None) -> Estimate:
    """Join the errors of the zone's maximum with what leads from it to the limited quantity."""
    margin = mean([value_of(case, reading) for case, reading in known])
    first = known[0][1]
    further = max(first.U_margin_k**2 - first.U_max_k**2, 0.0) ** 0.5 / 2.0
    if further > 1e-9:
        margin = margin.with_part(("to the limited quantity", first.zone), further)
    for source, part in ({} if between_runs is None else between_runs.parts).items():
        if source[0] == "between runs" and between_runs is not None:
            margin = margin.with_part(source, part, between_runs.freedom.get(source, math.inf))
    return margin
