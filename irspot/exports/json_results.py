"""Rows of results as JSON values, with their budgets and the data dictionary."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

from irspot.columns import RESULT_COLUMNS, Column, TableRow
from irspot.exports.cells import json_value
from irspot.results import Row
from irspot.uncertain import Term

_SIGNIFICANT = 9
"""Digits kept of numbers outside the registry: well below any meaning, well above what differs between machines."""


def row_json(row: Row) -> dict[str, Any]:
    """Give one row as the registry's columns, with the budget behind its uncertainty.

    Parameters
    ----------
    row : Row
    """
    values: dict[str, Any] = {column.name: json_value(column, row) for column in RESULT_COLUMNS}
    values["budget"] = [_term_json(term) for term in row.reading.budget]
    return values


def table_json(rows: Sequence[TableRow], columns: Sequence[Column]) -> list[dict[str, Any]]:
    """Give the rows of any table as objects."""
    return [{column.name: json_value(column, row) for column in columns} for row in rows]


def dictionary_json(columns: Sequence[Column] = RESULT_COLUMNS) -> list[dict[str, str]]:
    """Give the data dictionary: every column's name, type, unit and meaning."""
    return [
        {"name": column.name, "type": column.kind, "unit": column.unit, "meaning": column.meaning} for column in columns
    ]


def number(value: float | None) -> float | None:
    """Give a number for JSON with nine significant digits; None for None, NaN and infinities."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.{_SIGNIFICANT}g}")


def numbers(values: Sequence[float]) -> list[float | None]:
    """Give several numbers for JSON."""
    return [number(float(value)) for value in values]


def dumps(document: Any) -> bytes:
    """Write a JSON document: UTF-8, LF, indented, no NaN.

    Raises
    ------
    ValueError
        If a NaN or an infinity is in it, which would not be JSON.
    """
    # Names of files need not be text: what is none is written as JSON escapes it, instead of failing.
    return (json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode(
        "utf-8", "backslashreplace"
    )


def _term_json(term: Term) -> dict[str, Any]:
    return {
        "name": term.name,
        "u_input": number(term.u_input),
        "sensitivity": number(term.sensitivity),
        "u_k": number(term.u_k),
        "shared": term.shared,
        "rectangular": term.rectangular,
    }
