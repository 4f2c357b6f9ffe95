"""The equal footing that runs must share to be ranked: what each differs in from what most of them have."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

from irspot.compare.cases import Case
from irspot.results import Reading
from irspot.run_flags import not_comparable
from irspot.uncertain import rounded

T = TypeVar("T", bound=str)
NOT_STATED: Final = "not stated"


@dataclass(frozen=True, slots=True)
class Footing:
    """What the runs of one ranking have in common. What none of them states is None or empty.

    Parameters
    ----------
    side, coating, cover, measures, power_point : str
    clock_ghz, clock_tolerance_ghz : float or None, float
    power_w, power_tolerance : float or None, float
        Tolerance as a share.
    ambient_degc, ambient_tolerance_k : float or None
    method : int
    """

    side: str
    coating: str
    cover: str
    measures: str
    power_point: str
    clock_ghz: float | None
    clock_tolerance_ghz: float
    power_w: float | None
    power_tolerance: float
    ambient_degc: float | None
    ambient_tolerance_k: float | None
    method: int

    @property
    def words(self) -> tuple[str, ...]:
        """The same for people."""
        found = []
        if self.power_w is not None:
            where = f" at the {self.power_point}" if self.power_point else ""
            found.append(f"power {self.power_w:g} W ± {100 * self.power_tolerance:g} %{where}")
        if self.clock_ghz is not None:
            found.append(f"clock {self.clock_ghz:g} ± {self.clock_tolerance_ghz:g} GHz")
        if self.ambient_degc is not None and self.ambient_tolerance_k is not None:
            found.append(f"ambient {rounded(self.ambient_degc, 1)} ± {self.ambient_tolerance_k:g} °C")
        found += [f"coating {self.coating}"] if self.coating else []
        return tuple(found)


def footing_of(cases: Sequence[Case], hottest: Sequence[Reading]) -> Footing:
    """Find what most of some runs have in common; what a load intends or a study declares goes before that.

    Parameters
    ----------
    cases : sequence of Case
        At least one.
    hottest : sequence of Reading
        Of each.
    """
    first = min(cases, key=lambda case: case.at)
    load, study = first.load, first.study
    tolerance = load.power_tolerance_percent / 100.0
    points = [load.power_point] if load.power_point else [case.run.power_point or "" for case in cases]
    point = _most([each for each in points if each])
    powers = [case.run.power_w for case in cases if case.run.power_w is not None and _point(case) == point]
    clocks = [case.run.sustained_clock_ghz for case in cases if case.run.sustained_clock_ghz is not None]
    ambient = [reading.ambient_degc for reading in hottest if math.isfinite(reading.ambient_degc)]
    power = load.intended_power_w or _centre(powers, tolerance * max(powers, default=0.0))
    near_k = study.ambient_tolerance_k
    air = study.reference_ambient_degc
    return Footing(
        side=_most([case.run.side for case in cases]),
        coating=_most([case.board.board.coating for case in cases if case.board.board.coating]),
        cover=_most([reading.cover for reading in hottest]),
        measures=_most([reading.measures for reading in hottest]),
        power_point=point,
        clock_ghz=_centre(clocks, load.clock_tolerance_ghz),
        clock_tolerance_ghz=load.clock_tolerance_ghz,
        power_w=power,
        power_tolerance=tolerance,
        ambient_degc=air if air is not None else _centre(ambient, near_k or 0.0),
        ambient_tolerance_k=near_k,
        method=max(case.method for case in cases),
    )


def reasons_against(case: Case, reading: Reading, footing: Footing, *, equal_power: bool) -> tuple[str, ...]:
    """Say in what a run differs from the footing; empty where it may be ranked.

    Parameters
    ----------
    case : Case
    reading : Reading
        Of the role's hottest zone.
    footing : Footing
    equal_power : bool
        Whether rises are carried to equal power, so that another power alone is no reason.
    """
    run, found = case.run, [*_unmeasured(reading)]
    passed_over = {"power-off-intended"} if equal_power else set()
    found += [name for name in not_comparable(case.flags) if name not in passed_over]
    found += _numbers(case, reading, footing, equal_power=equal_power)
    if run.side != footing.side:
        found.append(f"side {run.side}, not {footing.side}")
    coating = case.board.board.coating
    if coating and footing.coating and coating != footing.coating:
        found.append(f"coating '{coating}', not '{footing.coating}'")
    if reading.cover != footing.cover:
        found.append(f"zone is {reading.cover}, not {footing.cover}")
    if reading.measures != footing.measures:
        found.append(f"zone measures {reading.measures}, not {footing.measures}")
    if case.method != footing.method:
        found.append(f"measured by METHOD {case.method}, not {footing.method}")
    return tuple(dict.fromkeys(found))


def notes_on(case: Case, footing: Footing) -> tuple[str, ...]:
    """Say what weakens a run's footing without keeping it from being ranked."""
    found = []
    if case.run.power_w is None:
        found.append("power not stated")
    elif _point(case) == "wall":
        found.append("wall power alone: a weak witness of what the board itself carries")
    if footing.clock_ghz is not None and case.run.sustained_clock_ghz is None:
        found.append("clock not stated")
    if footing.coating and not case.board.board.coating:
        found.append("coating not stated")
    if case.stills > 1:
        found.append(f"last of {case.stills} stills")
    return tuple(found)


def _unmeasured(reading: Reading) -> list[str]:
    if reading.verdict == "retake":
        return [f"retake: {reading.verdict_reason}".strip().rstrip(".:")]
    return [] if math.isfinite(reading.rise_k) else ["no ambient temperature, so no rise"]


def _numbers(case: Case, reading: Reading, footing: Footing, *, equal_power: bool) -> list[str]:
    run, found = case.run, []
    point = _point(case)
    if run.power_w is not None and footing.power_point and point != footing.power_point:
        found.append(f"power measured at the {point or 'unknown point'}, not the {footing.power_point}")
    elif run.power_w is not None and footing.power_w and not equal_power:
        off = run.power_w / footing.power_w - 1.0
        if abs(off) > footing.power_tolerance + 1e-9:
            found.append(f"power {run.power_w:g} W, {100 * off:+.1f} % off {footing.power_w:g} W")
    if footing.clock_ghz is not None and run.sustained_clock_ghz is not None:
        off = run.sustained_clock_ghz - footing.clock_ghz
        if abs(off) > footing.clock_tolerance_ghz + 1e-9:
            found.append(f"sustained clock {run.sustained_clock_ghz:g} GHz, not {footing.clock_ghz:g} GHz")
    if footing.ambient_degc is not None and footing.ambient_tolerance_k is not None:
        off = reading.ambient_degc - footing.ambient_degc
        if abs(off) > footing.ambient_tolerance_k + 1e-9:
            found.append(f"ambient {rounded(reading.ambient_degc, 1)} °C, {off:+.1f} K off")
    return found


def _point(case: Case) -> str:
    return case.run.power_point or case.load.power_point or ""


def _most(values: Sequence[T]) -> str:
    """Give the commonest text, of equally common ones the first."""
    return Counter(values).most_common(1)[0][0] if values else ""


def _centre(values: Sequence[float], tolerance: float) -> float | None:
    """Give the value that most others lie near, of several the highest: what falls short was throttled."""
    if not values:
        return None
    return max(values, key=lambda v: (sum(abs(other - v) <= tolerance + 1e-9 for other in values), v))
