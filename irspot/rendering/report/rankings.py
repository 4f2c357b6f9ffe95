"""A comparison of boards as tables of text: rankings with ties, what was left apart, pairs, gaps, links, changes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from irspot.compare.standing import Standing
from irspot.compare.values import Comparison, Ranking
from irspot.rendering.report.values import TextTable
from irspot.rendering.report.zone_rows import NONE, known
from irspot.uncertain import expanded, rounded, with_uncertainty


def comparison_tables(comparison: Comparison) -> tuple[TextTable, ...]:
    """Write a comparison for people.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    tuple of TextTable
        First a ranking for each load, role and side; of the others those that have rows.
    """
    rankings = [table for ranking in comparison.rankings for table in _ranking(ranking, comparison)]
    others = [_pairs(comparison), _setups(comparison), _gaps(comparison), _links(comparison), _controls(comparison)]
    others.append(_changes(comparison))
    return (*rankings, *(table for table in others if table.rows))


def said_of_limits(comparison: Comparison) -> tuple[str, ...]:
    """Count what limits came to, in a sentence; none where none was judged."""
    counts = Counter(row.outcome for row in comparison.rows if row.outcome)
    said = ", ".join(f"{count} {outcome}" for outcome, count in counts.items())
    rule = f"the rule '{comparison.rule.name}' ({comparison.rule.words})"
    return (f"Limits, by {rule}: {said}.",) if said else ()


def _ranking(ranking: Ranking, comparison: Comparison) -> list[TextTable]:
    title = f"{ranking.role}, {ranking.side}, load {ranking.load_name or ranking.load}"
    heads = ("rank", "ties", "board", "zone", "rise K", "measured °C", "at reference °C", "to limit", "price", "notes")
    ranked = TextTable(
        title,
        heads,
        tuple(_standing(row, _shared_notes(ranking)) for row in ranking.rows),
        frozenset({4, 5, 6}),
        tuple(_notes(ranking, comparison)) if ranking.rows else (),
    )
    apart = TextTable(
        f"Not compared: {title}",
        ("board", "zone", "measured °C", "to limit", "why"),
        tuple(
            (row.entry, row.zone, row.headline() or NONE, _limit(row), "; ".join(row.reasons)) for row in ranking.apart
        ),
        frozenset({2}),
    )
    return [table for table in (ranked, apart) if table.rows]


def _standing(row: Standing, shared: tuple[str, ...]) -> tuple[str, ...]:
    return (
        NONE if row.rank is None else str(row.rank),
        row.tie_group or NONE,
        row.entry if row.board_name in ("", row.entry) else f"{row.board_name} ({row.entry})",
        row.zone,
        row.rise_headline() or NONE,
        row.headline() or NONE,
        _at_reference(row),
        _limit(row),
        _price(row),
        "; ".join(note for note in row.notes if note not in shared) or NONE,
    )


def _at_reference(row: Standing) -> str:
    """Write a value carried to the reference ambient; of a lower bound the measured one says all there is."""
    return NONE if row.at_least else with_uncertainty(row.normalised_degc, row.U_normalised_k) or NONE


def _limit(row: Standing) -> str:
    if not known(row.limit_degc):
        return NONE
    limit = f"{row.limit_kind} limit {rounded(row.limit_degc, 1)} °C"
    if not known(row.margin_k):
        return f"{row.outcome or 'not judged'}: {limit}"
    margin = with_uncertainty(abs(row.margin_k), row.U_margin_k, "K")
    return f"{row.outcome}: {margin} {'left to' if row.margin_k >= 0.0 else 'over'} {limit}"


def _price(row: Standing) -> str:
    if not known(row.price):
        return NONE
    price = f"{rounded(row.price, 2)} {row.currency}".strip()
    best = "; no cheaper board is as cool" if row.on_frontier == "yes" else ""
    return f"{price}{f' ({row.price_date})' if row.price_date else ''}{best}"


def _notes(ranking: Ranking, comparison: Comparison) -> Iterable[str]:
    shared = _shared_notes(ranking)
    if shared:
        yield f"All of these: {'; '.join(shared)}."
    if ranking.footing:
        yield f"On equal footing: {'; '.join(ranking.footing)}."
    if known(ranking.equal_power_w):
        n = with_uncertainty(ranking.power_exponent, expanded(ranking.u_power_exponent))
        yield f"A projection: rises carried to {rounded(ranking.equal_power_w, 1)} W by rise ∝ powerⁿ, n = {n}."
    small = [pair for pair in ranking.differences if pair.negligible]
    if small:
        names = "; ".join(f"{pair.cooler} and {pair.hotter}" for pair in small)
        yield f"Shown to differ by less than {rounded(comparison.negligible_k, 1)} K, declared beforehand: {names}."


def _shared_notes(ranking: Ranking) -> tuple[str, ...]:
    """Give the notes that all rows have: they are said once, below."""
    first, *others = ranking.rows
    return tuple(note for note in first.notes if others and all(note in row.notes for row in others))


def _pairs(comparison: Comparison) -> TextTable:
    return TextTable(
        "Controlled pairs: boards that differ in one declared thing",
        ("load", "role", "differ in", "first", "second", "second less first K", "told apart"),
        tuple(
            (
                pair.load,
                f"{pair.role}, {pair.side}",
                pair.fact,
                f"{pair.entry_a}: {pair.value_a}",
                f"{pair.entry_b}: {pair.value_b}",
                with_uncertainty(pair.difference_k, pair.U_k) or NONE,
                "yes" if pair.different else "no, negligible" if pair.negligible else "no",
            )
            for pair in comparison.pairs
        ),
        frozenset({5}),
    )


def _setups(comparison: Comparison) -> TextTable:
    return TextTable(
        "Facts of the set-up that differ between the boards compared",
        ("load", "fact", "values"),
        tuple(
            (
                setup.load,
                setup.fact,
                "; ".join(f"{value or 'not stated'}: {', '.join(entries)}" for value, entries in setup.values),
            )
            for setup in comparison.setups
        ),
    )


def _gaps(comparison: Comparison) -> TextTable:
    return TextTable(
        "Boards and loads without exactly one usable run",
        ("board", "load", "side", "what", "runs", "note"),
        tuple(
            (gap.board, gap.load, gap.side, gap.kind, ", ".join(gap.runs) or NONE, gap.note or NONE)
            for gap in comparison.gaps
        ),
    )


def _links(comparison: Comparison) -> TextTable:
    return TextTable(
        "Earlier studies, linked by the reference board",
        ("study", "load", "role", "first study less this one K", "applied", "why"),
        tuple(
            (
                link.study,
                link.load,
                f"{link.role}, {link.side}",
                with_uncertainty(link.offset_k, link.U_k) or NONE,
                "yes" if link.applied else "no",
                link.reason,
            )
            for link in comparison.links
        ),
        frozenset({3}),
    )


def _controls(comparison: Comparison) -> TextTable:
    return TextTable(
        "The reference board over its sessions",
        ("board", "load", "role", "session", "rise K", "from the mean K", "limits K", "signal"),
        tuple(
            (
                chart.board,
                chart.load,
                f"{chart.role}, {chart.side}",
                point.session or point.time or point.run,
                with_uncertainty(point.rise_k, expanded(point.u_k)) or NONE,
                rounded(point.deviation_k, 2) if known(point.deviation_k) else NONE,
                f"± {rounded(point.action_k, 2)}" if known(point.action_k) else NONE,
                point.signal or NONE,
            )
            for chart in comparison.charts
            for point in chart.points
        ),
        frozenset({4, 5, 6}),
        tuple(signal for chart in comparison.charts for signal in chart.signals),
    )


def _changes(comparison: Comparison) -> TextTable:
    return TextTable(
        "Numbers that earlier results stated otherwise",
        ("study", "run", "frame", "zone", "column", "old", "new", "why"),
        tuple(
            (
                change.study,
                change.run,
                change.frame,
                change.zone,
                change.column,
                rounded(change.old, 3) if known(change.old) else NONE,
                rounded(change.new, 3) if known(change.new) else NONE,
                change.reason,
            )
            for change in comparison.changes
        ),
        frozenset({5, 6}),
    )
