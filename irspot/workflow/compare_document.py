"""What results.json says of a comparison beside its rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from irspot.compare.values import Comparison, Ranking


def comparison_json(made: Comparison) -> dict[str, Any]:
    """Give what was declared, and everything that was found beside the rows."""
    from irspot.compare.control import SOURCE

    return {
        "studies": list(made.titles),
        "rule": _plain(made.rule),
        "negligible_k": _value(made.negligible_k),
        "reference_ambient_degc": _value(made.reference_ambient_degc),
        "ambient_tolerance_k": _value(made.ambient_tolerance_k),
        "equal_power": made.equal_power,
        "rankings": [_ranking(each) for each in made.rankings],
        "pairs": _all(made.pairs),
        "control_charts": _all(made.charts),
        "control_chart_source": SOURCE,
        "gaps": _all(made.gaps),
        "links": _all(made.links),
        "changes": _all(made.changes),
        "setups": _all(made.setups),
    }


def _ranking(ranking: Ranking) -> dict[str, Any]:
    plain = _plain(ranking)
    for name in ("rows", "apart"):
        plain[name] = [row.entry for row in getattr(ranking, name)]
    return plain


def _all(values: Sequence[Any]) -> list[dict[str, Any]]:
    return [_plain(value) for value in values]


def _plain(value: Any) -> dict[str, Any]:
    return {each.name: _value(getattr(value, each.name)) for each in fields(value)}


def _value(value: Any) -> Any:
    from irspot.exports.json_results import number

    if isinstance(value, float):
        return number(value)
    if isinstance(value, tuple):
        return [_value(each) for each in value]
    return _plain(value) if hasattr(value, "__dataclass_fields__") else value
