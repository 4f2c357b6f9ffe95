"""One ranking: entries ordered, told apart or tied, judged, and put on the frontier of value against price."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from irspot.compare.cases import Case
from irspot.compare.entries import Entry, hottest_of
from irspot.compare.estimates import difference
from irspot.compare.footing import Footing, notes_on
from irspot.compare.judged import judged_of
from irspot.compare.standing import Standing, YesNo
from irspot.compare.ties import ranks, tie_letters
from irspot.compare.values import DecisionRule, Difference
from irspot.results import NAN

_NOTHING_K = 1e-9
"""Differences this small are rounding."""


@dataclass(frozen=True, slots=True)
class Told:
    """What was declared before anything was compared."""

    rule: DecisionRule
    negligible_k: float = NAN
    reference_ambient_degc: float | None = None


def ordered(entries: Sequence[Entry]) -> list[Entry]:
    """Order entries, coolest first; equal ones by name, so that a rerun gives the same."""
    return sorted(entries, key=lambda entry: (entry.ranked.value, entry.name))


def held_together(cooler: Entry, hotter: Entry, negligible_k: float) -> Difference:
    """Hold two entries against each other, what they share left out.

    Parameters
    ----------
    cooler, hotter : Entry
        By their values.
    negligible_k : float
        NaN for no threshold.

    Returns
    -------
    Difference
        Never told apart where the cooler one is a lower bound: it may be the hotter one.
    """
    apart = difference(hotter.ranked, cooler.ranked)
    U_k, bounds = apart.U_k, cooler.at_least or hotter.at_least
    different = apart.value > U_k + _NOTHING_K and not cooler.at_least
    negligible = not bounds and math.isfinite(negligible_k) and abs(apart.value) + U_k <= negligible_k
    return Difference(cooler.name, hotter.name, apart.value, U_k, different, negligible)


def standings(
    entries: Sequence[Entry], footing: Footing, told: Told
) -> tuple[tuple[Standing, ...], tuple[Difference, ...]]:
    """Rank entries.

    Parameters
    ----------
    entries : sequence of Entry
        On one footing, in the order of `ordered`.
    footing : Footing
    told : Told
    """
    count = len(entries)
    cooler = [[False] * count for _ in range(count)]
    found = []
    for i in range(count):
        for j in range(i + 1, count):
            pair = held_together(entries[i], entries[j], told.negligible_k)
            cooler[i][j] = pair.different
            found.append(pair)
    apart = [[cooler[i][j] or cooler[j][i] for j in range(count)] for i in range(count)]
    bare = [standing_of(entry, footing, told) for entry in entries]
    on_it = frontier(bare, cooler)
    rows = zip(bare, ranks(cooler), tie_letters(apart), on_it, strict=True)
    return tuple(replace(row, rank=r, tie_group=letters, on_frontier=f) for row, r, letters, f in rows), tuple(found)


def frontier(rows: Sequence[Standing], cooler: Sequence[Sequence[bool]]) -> list[YesNo]:
    """Say who is on the frontier of value: whoever is certainly cooler than every cheaper board.

    Boards of one price: those that none of the others is certainly cooler than. Prices in another currency than most
    are not compared.

    Parameters
    ----------
    rows : sequence of Standing
    cooler : sequence of sequence of bool
        ``cooler[i][j]`` where i is certainly cooler than j.
    """
    currencies = [row.currency for row in rows if math.isfinite(row.price)]
    usual = Counter(currencies).most_common(1)[0][0] if currencies else ""
    priced = [i for i, row in enumerate(rows) if math.isfinite(row.price) and row.currency == usual]
    found: list[YesNo] = [""] * len(rows)
    for i in priced:
        cheaper = [j for j in priced if rows[j].price < rows[i].price]
        as_dear = [j for j in priced if rows[j].price == rows[i].price]
        on_it = all(cooler[i][j] for j in cheaper) and not any(cooler[j][i] for j in as_dear)
        found[i] = "yes" if on_it else "no"
    return found


def standing_of(entry: Entry, footing: Footing, told: Told) -> Standing:
    """Write an entry as a row, not ranked yet."""
    row = _facts(entry.cases, entry.name)
    judged = judged_of(entry.cases, told.rule, entry.value)
    notes = (*entry.notes, *dict.fromkeys(note for case in entry.cases for note in notes_on(case, footing)))
    reference = told.reference_ambient_degc
    normalised = NAN if reference is None else reference + entry.rise.value
    return replace(
        row,
        zone=entry.zone,
        value_degc=entry.value.value,
        U_value_k=entry.value.U_k,
        rise_k=entry.rise.value,
        U_rise_k=entry.rise.U_k,
        ranked_rise_k=entry.ranked.value,
        U_k=entry.ranked.U_k,
        normalised_degc=normalised,
        U_normalised_k=NAN if reference is None else entry.carried.U_k,
        verdict=entry.verdict,
        limit_degc=judged.limit_degc,
        limit_kind=judged.limit_kind,
        limit_zone=judged.zone,
        margin_k=judged.margin_k,
        U_margin_k=judged.U_margin_k,
        guard_band_k=judged.guard_band_k,
        p_over_limit=judged.p_over_limit,
        outcome=judged.outcome,
        notes=(*notes, *([judged.note] if judged.note else [])),
        spread_k=entry.spread_k,
        k_per_w=entry.rise.value / row.power_w if row.power_w > 0.0 else NAN,
        offset_k=NAN if entry.offset is None else entry.offset.value,
        U_offset_k=NAN if entry.offset is None else entry.offset.U_k,
        projected_k=NAN if entry.projected is None else entry.projected.value,
        U_projected_k=NAN if entry.projected is None else entry.projected.U_k,
    )


def standing_apart(case: Case, reasons: Sequence[str], footing: Footing, told: Told) -> Standing:
    """Write a run that is not compared, with its reasons; it can fail its limit, and never pass it."""
    reading, row = hottest_of(case), _facts([case], case.board.id)
    judged = judged_of([case], told.rule)
    failed = judged.outcome in ("fail", "conditional fail")
    return replace(
        row,
        zone=reading.zone,
        value_degc=reading.max_degc,
        U_value_k=reading.U_max_k,
        rise_k=reading.rise_k,
        U_rise_k=reading.U_rise_k,
        ranked_rise_k=reading.rise_k,
        U_k=reading.U_rise_k,
        normalised_degc=reading.normalised_degc,
        U_normalised_k=reading.U_normalised_k,
        verdict=reading.verdict,
        limit_degc=judged.limit_degc,
        limit_kind=judged.limit_kind,
        limit_zone=judged.zone,
        margin_k=judged.margin_k,
        U_margin_k=judged.U_margin_k,
        guard_band_k=judged.guard_band_k,
        p_over_limit=judged.p_over_limit,
        outcome=judged.outcome if failed or not judged.outcome else "not judged",
        comparable="no",
        reasons=tuple(reasons),
        notes=notes_on(case, footing),
        k_per_w=reading.rise_k / row.power_w if row.power_w > 0.0 else NAN,
    )


def _facts(cases: Sequence[Case], name: str) -> Standing:
    first = cases[0]
    run, board = first.run, first.board
    clocks = [case.run.sustained_clock_ghz for case in cases]
    return Standing(
        load=run.load,
        role=first.role,
        side=run.side,
        board=board.id,
        entry=name,
        board_name=board.board.name,
        batch=first.batch,
        run=run.id,
        runs=tuple(case.run.id for case in cases),
        price=NAN if board.price is None else board.price,
        currency=board.currency,
        price_date=board.price_date,
        repeats=len(cases),
        mounts=len({case.run.mount for case in cases}),
        ambient_degc=_mean([hottest_of(case).ambient_degc for case in cases]),
        power_w=_mean([NAN if case.run.power_w is None else case.run.power_w for case in cases]),
        power_point=run.power_point or "",
        clock_ghz=_mean([NAN if clock is None else clock for clock in clocks]),
        study=first.study.title,
    )


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values) if all(math.isfinite(value) for value in values) else NAN
