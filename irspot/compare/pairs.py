"""Boards that share a declared design and differ in one thing, and what differs between set-ups at all."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from irspot.compare.entries import Entry
from irspot.compare.estimates import difference
from irspot.compare.ranking import held_together
from irspot.compare.values import ControlledPair, SetupDifference


def pairs_of(entries: Sequence[Entry], negligible_k: float) -> Iterator[ControlledPair]:
    """Give every two entries whose facts are alike but for one.

    Facts are the design that the study declares of a board, and the set-up of its runs. Two boards of which one
    declares no design may differ in anything, and make no pair; one board in two set-ups does.

    Parameters
    ----------
    entries : sequence of Entry
        Of one ranking, coolest first.
    negligible_k : float
    """
    for one, other in combinations(entries, 2):
        fact = one_difference(one, other)
        if fact:
            a, b = sorted((one, other), key=lambda entry: (facts_of(entry).get(fact, ""), entry.name))
            apart, held = difference(b.ranked, a.ranked), held_together(one, other, negligible_k)
            first = a.first
            yield ControlledPair(
                first.run.load, first.role, first.run.side, fact, a.name, facts_of(a).get(fact, "not stated"),
                b.name, facts_of(b).get(fact, "not stated"), apart.value, apart.U_k, held.different, held.negligible,
            )  # fmt: skip


def facts_of(entry: Entry) -> dict[str, str]:
    """Give what is declared of an entry: set-up, and design, which wins where both state a fact."""
    return dict(entry.first.run.setup) | dict(entry.first.board.design)


def one_difference(one: Entry, other: Entry) -> str:
    """Name the one fact in which two entries differ; empty where it is none or several."""
    same_board = one.first.sample == other.first.sample
    if not same_board and not (one.first.board.design and other.first.board.design):
        return ""
    if one.at_least or other.at_least:
        return ""
    a, b = facts_of(one), facts_of(other)
    unlike = [fact for fact in sorted({*a, *b}) if a.get(fact) != b.get(fact)]
    return unlike[0] if len(unlike) == 1 else ""


def setup_differences(entries: Sequence[Entry]) -> Iterator[SetupDifference]:
    """List the facts of the set-up that are not the same for all entries."""
    setups = [(entry, dict(entry.first.run.setup)) for entry in entries]
    for fact in sorted({fact for _, setup in setups for fact in setup}):
        values: dict[str, list[str]] = {}
        for entry, setup in setups:
            values.setdefault(setup.get(fact, ""), []).append(entry.name)
        if len(values) > 1:
            listed = tuple((value, tuple(sorted(names))) for value, names in sorted(values.items()))
            yield SetupDifference(entries[0].first.run.load, fact, listed)
