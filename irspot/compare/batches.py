"""Earlier studies linked to the first one by a board that was measured in both."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from irspot.compare.entries import Entry
from irspot.compare.estimates import Estimate, combination, difference
from irspot.compare.values import BatchLink


def offset_of(reference: Sequence[Entry], at: int) -> Estimate | None:
    """Give the reference board's rise in the first study less that in another; None where one lacks it.

    Parameters
    ----------
    reference : sequence of Entry
        The reference board's, in all studies.
    at : int
        The other study.
    """
    there = {entry.first.at: entry for entry in reference if not entry.at_least}
    return difference(there[0].ranked, there[at].ranked) if 0 in there and at in there else None


def linked(
    entries: Sequence[Entry], reference_board: str, titles: Mapping[int, str]
) -> tuple[list[Entry], list[BatchLink]]:
    """Add each earlier batch's offset to its rises before ranking, where that makes comparing it more certain.

    An offset that is more than its uncertainty is added in any case: what the studies state of their errors does not
    explain it.

    Parameters
    ----------
    entries : sequence of Entry
        Of one ranking.
    reference_board : str
        Empty for none.
    titles : mapping of int to str
        Of the studies.
    """
    reference = [entry for entry in entries if entry.first.board.id == reference_board]
    first = entries[0].first if entries else None
    moved: list[Entry] = list(entries)
    links: list[BatchLink] = []
    for at in sorted({entry.first.at for entry in entries} - {0}):
        offset = offset_of(reference, at) if reference_board else None
        if offset is None or first is None:
            links += [_no_link(entries, titles[at], reference_board)]
            continue
        own = [entry for entry in entries if entry.first.at == at]
        shifted = [replace(entry, ranked=combination([(1.0, entry.ranked), (1.0, offset)])) for entry in own]
        others = [entry for entry in entries if entry.first.at == 0]
        different = abs(offset.value) > offset.U_k
        better = _variance(shifted, others) < _variance(own, others)
        applied = different or better
        reason = _reason(different=different, better=better)
        side = first.run.side
        links.append(
            BatchLink(titles[at], first.load.id, first.role, side, offset.value, offset.U_k, different, applied, reason)
        )
        if applied:
            by_name = {id(old): replace(new, offset=offset) for old, new in zip(own, shifted, strict=True)}
            moved = [by_name.get(id(entry), entry) for entry in moved]
    return moved, links


def _reason(*, different: bool, better: bool) -> str:
    if different:
        return "the reference board reads differently by more than its uncertainty"
    if better:
        return "the reference board holds the two batches together more closely than the cameras' limits do"
    return "the link would be less certain than the readings are; nothing was moved"


def _no_link(entries: Sequence[Entry], title: str, reference_board: str) -> BatchLink:
    first = entries[0].first
    why = f"'{reference_board}' was not measured in both" if reference_board else "the study names no reference_board"
    return BatchLink(title, first.load.id, first.role, first.run.side, math.nan, math.nan, False, False, why)


def _variance(some: Sequence[Entry], others: Sequence[Entry]) -> float:
    """Sum the variances of the differences of boards between two studies; the reference board's own says nothing."""
    pairs = [(a, b) for a in some for b in others if a.first.sample != b.first.sample]
    return math.fsum(difference(a.ranked, b.ranked).u_k ** 2 for a, b in pairs)
