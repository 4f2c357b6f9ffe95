"""One board in one ranking: its repeats joined, its hottest zone taken, their scatter added to the uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from irspot.compare.cases import Case, at_reference, rise_of, value_of
from irspot.compare.estimates import Estimate, difference, mean
from irspot.results import Reading

CONSISTENT: Final = 0.05
"""Chance of a scatter as large, above which the budgets explain it."""
Key = tuple[int, str, tuple[tuple[str, str], ...]]


@dataclass(frozen=True, slots=True, eq=False)
class Entry:
    """A board's repeats under one load, in one role, on one side, in one set-up.

    Parameters
    ----------
    name : str
        In its ranking.
    cases : tuple of Case
    readings : tuple of Reading
        Of the zone that counts, one a case.
    value, rise, carried, ranked : Estimate
        As measured; over ambient; at the reference ambient; and as ranked.
    verdict : str
        ``lower bound`` where any zone of the role may be hotter than it reads.
    notes : tuple of str
    offset, projected : Estimate or None
        What was added to the rise to link its batch, and to carry it to equal power.
    """

    name: str
    cases: tuple[Case, ...]
    readings: tuple[Reading, ...]
    value: Estimate
    rise: Estimate
    carried: Estimate
    ranked: Estimate
    verdict: str = "usable"
    notes: tuple[str, ...] = ()
    offset: Estimate | None = None
    projected: Estimate | None = None

    @property
    def first(self) -> Case:
        """The first of its runs."""
        return self.cases[0]

    @property
    def zone(self) -> str:
        """The zone that counts."""
        return self.readings[0].zone

    @property
    def at_least(self) -> bool:
        """Whether it is only a lower bound."""
        return self.verdict == "lower bound"

    @property
    def spread_k(self) -> float:
        """Standard deviation of the rises of its runs; NaN of a single one."""
        rises = [reading.rise_k for reading in self.readings]
        if len(rises) < 2:
            return math.nan
        middle = math.fsum(rises) / len(rises)
        return math.sqrt(math.fsum((rise - middle) ** 2 for rise in rises) / (len(rises) - 1))

    @property
    def mounts(self) -> int:
        """How often the board was mounted: named mounts, or one for all runs that name none."""
        return len({case.run.mount for case in self.cases})


def key_of(case: Case) -> Key:
    """Tell what makes runs repeats of one another: one study's board in one set-up."""
    return case.at, case.board.id, case.run.setup


def hottest_of(case: Case) -> Reading:
    """Give the reading of the hottest zone of a case; one to be retaken only if all are."""
    sound = [each for each in case.readings if each.verdict != "retake" and math.isfinite(each.max_degc)]
    return max(sound, key=lambda each: each.max_degc) if sound else case.readings[0]


def entry_of(cases: Sequence[Case], reference_degc: float | None) -> Entry:
    """Join repeats: the zone that is hottest in their mean, and the mean of its readings.

    Parameters
    ----------
    cases : sequence of Case
        Each with a sound reading.
    reference_degc : float or None
        Ambient that rises are carried to.
    """
    sound = [{r.zone: r for r in case.readings if math.isfinite(r.rise_k) and r.verdict != "retake"} for case in cases]
    shared = [zone for zone in sound[0] if all(zone in zones for zones in sound)]
    zone = max(shared, key=lambda each: math.fsum(zones[each].max_degc for zones in sound)) if shared else ""
    readings = tuple(zones[zone] if zone else hottest_of(case) for case, zones in zip(cases, sound, strict=True))
    pairs = list(zip(cases, readings, strict=True))
    rises = [rise_of(case, reading) for case, reading in pairs]
    carried = [at_reference(*pair, rise, reference_degc) for pair, rise in zip(pairs, rises, strict=True)]
    unsure = sorted({each.zone for case in cases for each in case.readings if each.verdict != "usable"})
    warm_ups = {case.run.heating for case in cases}
    one_warm_up = len(cases) > 1 and len(warm_ups) == 1 and warm_ups != {""}
    notes = ["single run"] if len(cases) == 1 else ["several runs of one warm-up, no repeats"] if one_warm_up else []
    notes += [f"{each} may be hotter than it reads" for each in unsure]
    return Entry(
        name=cases[0].board.id,
        cases=tuple(cases),
        readings=readings,
        value=mean([value_of(*pair) for pair in pairs]),
        rise=mean(rises),
        carried=mean(carried),
        ranked=mean(carried),
        verdict="lower bound" if unsure else "usable",
        notes=tuple(notes),
    )


@dataclass(frozen=True, slots=True)
class Scatter:
    """What repeats scatter beyond what their budgets foretell.

    Parameters
    ----------
    u_k : float
        Standard deviation of one run.
    freedom : float
    """

    u_k: float = 0.0
    freedom: float = math.inf


def scatter_of(entries: Sequence[Entry]) -> Scatter:
    """Pool the variance of repeats, and take off what their budgets foretell (JCGM 100:2008, 4.2.4 and H.5).

    Scatter that the budgets explain is none (χ² test at 5 %: Cox, Metrologia 39 (2002) 589): a chance excess of few
    repeats would widen everything.

    Parameters
    ----------
    entries : sequence of Entry
        Of one role. Lower bounds say nothing.
    """
    squares, foretold, freedom = 0.0, 0.0, 0
    for entry in entries:
        count = len(entry.cases)
        if count < 2 or entry.at_least:
            continue
        squares += (count - 1) * entry.spread_k**2
        freedom += count - 1
        rises = [rise_of(case, reading) for case, reading in zip(entry.cases, entry.readings, strict=True)]
        pairs = [difference(a, b).u_k ** 2 for i, a in enumerate(rises) for b in rises[:i]]
        foretold += (count - 1) * 0.5 * math.fsum(pairs) / len(pairs)
    if not freedom or squares <= foretold:
        return Scatter()
    from scipy.special import chdtrc

    likely = float(chdtrc(freedom, freedom * squares / foretold)) if foretold > 0.0 else 0.0
    return Scatter() if likely > CONSISTENT else Scatter(math.sqrt((squares - foretold) / freedom), float(freedom))


def with_scatter(entry: Entry, scatter: Scatter) -> Entry:
    """Widen an entry by what runs scatter; single runs scatter no less."""
    if scatter.u_k == 0.0:
        return entry
    # Of each entry it is an independent draw, so the entry is in the source's name.
    first = entry.first
    source = ("between runs", str(first.at), entry.name, first.run.id)
    u_k = scatter.u_k / math.sqrt(len(entry.cases))
    every = (entry.value, entry.rise, entry.carried, entry.ranked)
    wider = [each.with_part(source, u_k, scatter.freedom) for each in every]
    return replace(entry, value=wider[0], rise=wider[1], carried=wider[2], ranked=wider[3])
