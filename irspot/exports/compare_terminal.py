"""A comparison as people read it on a terminal: a table for each load and role, and sentences for the rest."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import groupby
from typing import TYPE_CHECKING, Literal

from irspot.compare.standing import Standing
from irspot.compare.values import Change, Comparison, ControlChart, ControlledPair, Difference, Gap, Ranking
from irspot.uncertain import rounded, with_uncertainty

if TYPE_CHECKING:
    from rich.table import Table

_STYLES = {"fail": "red", "conditional fail": "red", "conditional pass": "yellow", "not judged": "yellow"}
_RIGHT = frozenset({"rise / K", "value / °C", "to limit", "W", "price"})
_MOST = 12
"""Lines of one kind; the tables and results.json have all of them."""


def ranking_table(ranking: Ranking, *, narrow: bool = False) -> Table:
    """Make the table of one ranking; a narrow one leaves out zone, power and price."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(title=Text(_title(ranking)), box=box.SIMPLE_HEAD, title_justify="left", title_style="bold")
    names = ["rank", "board", "rise / K", "value / °C", "to limit", "outcome"]
    names += [] if narrow else ["zone", "W", "price"]
    for name in names:
        justify: Literal["left", "right"] = "right" if name in _RIGHT else "left"
        table.add_column(name, justify=justify, no_wrap=name not in ("board", "outcome", "zone"), overflow="fold")
    for row in ranking.rows:
        style = _STYLES.get(row.outcome, "")
        cells = [
            Text(f"{row.rank} {row.tie_group}"),
            Text(_printable(row.entry)),
            Text(row.rise_headline()),
            Text(row.headline()),
            Text(_margin(row)),
            Text(row.outcome, style=style),
        ]
        cells += [] if narrow else [Text(_printable(row.zone)), Text(_watts(row)), Text(_price(row))]
        table.add_row(*cells)
    return table


def lines_of(ranking: Ranking, negligible_k: float) -> list[str]:
    """Say below a ranking what ties, what is negligible, and what is not compared and why."""
    found = [f"on one footing: {'; '.join(ranking.footing)}"] if ranking.footing and ranking.rows else []
    found += [f"not compared: {_name(row)}: {'; '.join(row.reasons)}" for row in ranking.apart]
    found += _few([_difference(each) for each in ranking.differences if not each.different])
    if math.isfinite(negligible_k):
        near = [f"{each.cooler} = {each.hotter}" for each in ranking.differences if each.negligible]
        found += [f"negligible, within {negligible_k:g} K with their uncertainty: {', '.join(near)}"] if near else []
    if math.isfinite(ranking.equal_power_w):
        n = with_uncertainty(ranking.power_exponent, 2.0 * ranking.u_power_exponent)
        found.append(f"a projection: rises carried to {ranking.equal_power_w:g} W by power to the {n}")
    for note, rows in groupby(sorted(_notes(ranking)), key=lambda each: each[0]):
        found.append(f"{note}: {', '.join(entry for _, entry in rows)}")
    return [_printable(line) for line in found]


def lines_below(made: Comparison) -> list[str]:
    """Say what belongs to no single ranking: the rule, pairs, links, the reference board, gaps, set-ups, changes."""
    if not made.rankings:
        return ["nothing to compare: no run has a reading of a zone with a role"]
    found = [f"limits: {made.rule.words}"] if any(row.outcome for row in made.rows) else []
    found += ["◆ on the frontier: every cheaper board is certainly hotter"] if _any_on_frontier(made) else []
    found += _few([_pair(each) for each in made.pairs])
    found += [
        f"{each.study}: {each.load}, {each.role}: {_offset(each.offset_k, each.U_k)}: {each.reason}"
        for each in made.links
    ]
    found += [line for chart in made.charts for line in _chart(chart)]
    found += [_gap(each) for each in made.gaps]
    for each in made.setups:
        values = "; ".join(f"{value or 'not stated'}: {', '.join(names)}" for value, names in each.values)
        found.append(f"set-ups differ, {each.load}: {each.fact}: {values}")
    found += _few([_change(each) for each in made.changes])
    return [_printable(line) for line in found]


def _any_on_frontier(made: Comparison) -> bool:
    return any(row.on_frontier == "yes" for row in made.rows)


def _title(ranking: Ranking) -> str:
    return _printable(f"{ranking.load_name} · {ranking.role} · {ranking.side}")


def _margin(row: Standing) -> str:
    if not math.isfinite(row.margin_k):
        return f"to {rounded(row.limit_degc, 0)}" if math.isfinite(row.limit_degc) else ""
    return f"{with_uncertainty(row.margin_k, row.U_margin_k)} to {rounded(row.limit_degc, 0)}"


def _watts(row: Standing) -> str:
    return rounded(row.power_w, 1) if math.isfinite(row.power_w) else ""


def _price(row: Standing) -> str:
    if not math.isfinite(row.price):
        return ""
    return f"{rounded(row.price, 2)} {row.currency}".strip() + (" ◆" if row.on_frontier == "yes" else "")


def _name(row: Standing) -> str:
    value = row.rise_headline("K")
    return f"{row.entry} ({row.run})" + (f", {value}" if value else "")


def _difference(each: Difference) -> str:
    return f"not told apart: {each.cooler}, {each.hotter}: {with_uncertainty(each.difference_k, each.U_k, 'K')}"


def _notes(ranking: Ranking) -> Iterator[tuple[str, str]]:
    for row in ranking.rows:
        yield from ((note, row.entry) for note in row.notes)


def _pair(each: ControlledPair) -> str:
    said = "told apart" if each.different else "negligible" if each.negligible else "not told apart"
    change = f"{each.entry_a} ({each.value_a}) to {each.entry_b} ({each.value_b})"
    value = with_uncertainty(each.difference_k, each.U_k, "K")
    return f"pair, {each.load}, {each.role}: {each.fact}: {change}: {value}, {said}"


def _offset(offset_k: float, U_k: float) -> str:
    return f"batch offset {with_uncertainty(offset_k, U_k, 'K')}" if math.isfinite(offset_k) else "not linked"


def _chart(chart: ControlChart) -> list[str]:
    what = f"{chart.board}, {chart.load}, {chart.role}"
    said = "; ".join(chart.signals) or "nothing out of the ordinary"
    return [f"reference board {what}: {len(chart.points)} sessions about {chart.center_k:.2f} K: {said}"]


def _gap(gap: Gap) -> str:
    where = f"{gap.board}, {gap.load}, {gap.side}"
    more = f": {', '.join(gap.runs)}" if gap.runs else ""
    return f"{gap.kind}: {where}{more}" + (f" ({gap.note})" if gap.note else "")


def _change(each: Change) -> str:
    old, new = (rounded(value, 3) if math.isfinite(value) else "nothing" for value in (each.old, each.new))
    return f"changed: {each.run}, {each.zone}, {each.column}: {old} → {new} ({each.reason})"


def _few(lines: list[str]) -> list[str]:
    more = len(lines) - _MOST
    return [*lines[:_MOST], f"and {more} more"] if more > 0 else lines


def _printable(text: str) -> str:
    return "".join(character if character.isprintable() else "·" for character in text)
