"""All that is said of boards held against one another, from what was measured of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from irspot.compare.batches import linked
from irspot.compare.cases import Case, Measured, cases_of
from irspot.compare.control import chart_of
from irspot.compare.entries import Entry, entry_of, hottest_of, key_of, scatter_of, with_scatter
from irspot.compare.footing import Footing, footing_of, reasons_against
from irspot.compare.limits import rule_of
from irspot.compare.matrix import gaps_of
from irspot.compare.pairs import pairs_of, setup_differences
from irspot.compare.power import ASSUMED, Exponent, at_power, exponent_of, why_not_carried
from irspot.compare.ranking import Told, ordered, standing_apart, standings
from irspot.compare.values import BatchLink, Comparison, ControlChart, ControlledPair, Ranking, SetupDifference
from irspot.results import NAN

Group = tuple[str, str, str]
"""Load, role, side."""


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """One ranking before it is one: who may be ranked, who may not."""

    group: Group
    footing: Footing
    entries: tuple[Entry, ...]
    apart: tuple[tuple[Case, tuple[str, ...]], ...]
    exponent: Exponent = ASSUMED


def compare(studies: Sequence[Measured], *, equal_power: bool = False) -> Comparison:
    """Hold the boards of studies against one another.

    Parameters
    ----------
    studies : sequence of Measured
        The first one declares rule, threshold and reference ambient; the others are earlier batches.
    equal_power : bool
        Whether rises are carried to equal power, a projection.

    Returns
    -------
    Comparison
    """
    study = studies[0].study
    # Earlier studies need not have known that this board would link them.
    studies = [replace(each, study=replace(each.study, reference_board=study.reference_board)) for each in studies]
    told = Told(rule_of(study.decision), _number(study.negligible_k), study.reference_ambient_degc)
    cases = [_with_first_load(case, studies) for at, each in enumerate(studies) for case in cases_of(at, each)]
    fields = [_field(group, own, told, equal_power) for group, own in _groups(cases).items()]
    fields = _with_scatter(fields)
    if equal_power:
        fields = _at_equal_power(fields)
    titles = {at: each.study.title for at, each in enumerate(studies)}
    made = [_ranked(field, told, study.reference_board, titles, equal_power=equal_power) for field in fields]
    return Comparison(
        titles=tuple(each.study.title for each in studies),
        rankings=tuple(ranking for ranking, _, _, _ in made),
        rule=told.rule,
        negligible_k=told.negligible_k,
        reference_ambient_degc=_number(study.reference_ambient_degc),
        ambient_tolerance_k=_number(study.ambient_tolerance_k),
        equal_power=equal_power,
        pairs=tuple(chain.from_iterable(pairs for _, _, pairs, _ in made)),
        charts=tuple(_charts(cases, study.reference_board)),
        gaps=tuple(gap for each in studies for gap in gaps_of(each.study)),
        links=tuple(chain.from_iterable(links for _, links, _, _ in made)) if len(studies) > 1 else (),
        setups=_once(chain.from_iterable(setups for _, _, _, setups in made)),
    )


def _number(value: float | None) -> float:
    return NAN if value is None else value


def _with_first_load(case: Case, studies: Sequence[Measured]) -> Case:
    """Hold runs of earlier studies to what the first one means by their load."""
    for load in studies[0].study.loads:
        if load.id == case.load.id:
            return replace(case, load=load)
    return case


def _groups(cases: Sequence[Case]) -> dict[Group, list[Case]]:
    """Part cases by load, role and side; a board that alone shows its side stands apart beside the others."""
    found: dict[Group, list[Case]] = {}
    for case in cases:
        found.setdefault((case.run.load, case.role, case.run.side), []).append(case)
    for (load, role, side), own in list(found.items()):
        other = (load, role, "rear" if side == "front" else "front")
        boards = {key_of(case)[:2] for case in own}
        beside = found.get(other, [])
        if len(boards) == 1 and len({key_of(case)[:2] for case in beside}) > 1:
            found[other] = [*beside, *found.pop((load, role, side))]
    return found


def _field(group: Group, cases: Sequence[Case], told: Told, equal_power: bool) -> Field:
    hottest = [hottest_of(case) for case in cases]
    footing = footing_of(cases, hottest)
    reasons = [
        reasons_against(case, reading, footing, equal_power=equal_power)
        for case, reading in zip(cases, hottest, strict=True)
    ]
    groups: dict[object, list[Case]] = {}
    for case, why in zip(cases, reasons, strict=True):
        if not why:
            groups.setdefault(key_of(case), []).append(case)
    entries = [entry_of(own, told.reference_ambient_degc) for own in groups.values()]
    apart = tuple((case, why) for case, why in zip(cases, reasons, strict=True) if why)
    return Field(group, footing, _named(entries), apart)


def _named(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """Name entries by their boards; where several are of one board, by what tells them apart too."""
    named: list[Entry] = []
    for entry in entries:
        same = [other for other in entries if other.first.board.id == entry.first.board.id]
        further = []
        if len({other.first.at for other in same}) > 1:
            further += [entry.first.batch or entry.first.study.title]
        facts = [dict(other.first.run.setup) for other in same]
        own = dict(entry.first.run.setup)
        unlike = [fact for fact in sorted(set().union(*facts)) if len({each.get(fact, "") for each in facts}) > 1]
        further += [f"{fact} {own.get(fact, 'not stated')}" for fact in unlike]
        name = entry.name if not further else f"{entry.name} ({', '.join(further)})"
        taken = sum(other.name == name for other in named)
        named.append(replace(entry, name=f"{name} #{taken + 1}" if taken else name))
    return tuple(named)


def _with_scatter(fields: Sequence[Field]) -> list[Field]:
    """Widen every entry by what repeats scatter, pooled over a role's loads."""
    made = []
    for field in fields:
        alike = [entry for other in fields if other.group[1:] == field.group[1:] for entry in other.entries]
        scatter = scatter_of(alike)
        made.append(replace(field, entries=tuple(with_scatter(entry, scatter) for entry in field.entries)))
    return made


def _at_equal_power(fields: Sequence[Field]) -> list[Field]:
    made = []
    for field in fields:
        by_board: dict[str, list[Entry]] = {}
        for other in fields:
            for entry in other.entries if other.group[1:] == field.group[1:] else ():
                by_board.setdefault(f"{entry.first.at}/{entry.name}", []).append(entry)
        exponent, power_w = exponent_of(by_board), field.footing.power_w
        why = {id(entry): why_not_carried(entry, power_w) for entry in field.entries}
        carried = [entry for entry in field.entries if not why[id(entry)]]
        left = [(case, (why[id(entry)],)) for entry in field.entries if why[id(entry)] for case in entry.cases]
        entries = tuple(at_power(entry, power_w or NAN, exponent) for entry in carried)
        made.append(replace(field, entries=entries, apart=(*field.apart, *left), exponent=exponent))
    return made


def _ranked(
    field: Field, told: Told, reference_board: str, titles: Mapping[int, str], *, equal_power: bool
) -> tuple[Ranking, list[BatchLink], tuple[ControlledPair, ...], tuple[SetupDifference, ...]]:
    entries, links = linked(field.entries, reference_board, titles)
    entries = ordered(entries)
    rows, differences = standings(entries, field.footing, told)
    limits = {(row.limit_degc, row.limit_kind) for row in rows if row.limit_kind}
    limit_degc, kind = next(iter(limits)) if len(limits) == 1 else (NAN, "")
    load, role, side = field.group
    name = next((case.load.description for case in _cases(field)), "")
    power_w = field.footing.power_w if equal_power else None
    ranking = Ranking(
        load=load,
        load_name=name or load,
        role=role,
        side=side,
        rows=rows,
        apart=tuple(standing_apart(case, why, field.footing, told) for case, why in field.apart),
        differences=differences,
        footing=field.footing.words,
        limit_degc=limit_degc,
        limit_kind=kind,
        power_exponent=field.exponent.n if power_w else NAN,
        u_power_exponent=field.exponent.u_n if power_w else NAN,
        equal_power_w=power_w or NAN,
    )
    return ranking, links, tuple(pairs_of(entries, told.negligible_k)), tuple(setup_differences(entries))


def _cases(field: Field) -> Iterator[Case]:
    for entry in field.entries:
        yield from entry.cases
    for case, _ in field.apart:
        yield case


def _charts(cases: Sequence[Case], reference_board: str) -> Iterator[ControlChart]:
    own: dict[Group, list[Case]] = {}
    for case in cases:
        if reference_board and case.board.id == reference_board:
            own.setdefault((case.run.load, case.role, case.run.side), []).append(case)
    for of_group in own.values():
        if (chart := chart_of(of_group)) is not None:
            yield chart


def _once(found: Iterator[SetupDifference]) -> tuple[SetupDifference, ...]:
    return tuple(dict.fromkeys(found))
