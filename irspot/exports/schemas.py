"""What tables and results.json hold, for programs: a JSON Schema, and the data dictionary."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any, Final

from irspot.columns import (
    COMPARE_COLUMNS,
    CROSSCHECK_COLUMNS,
    FULL_RATE_COLUMNS,
    RESULT_COLUMNS,
    SERIES_COLUMNS,
    SOAK_COLUMNS,
    TWO_VIEW_COLUMNS,
    Column,
)
from irspot.constants import METHOD

TABLES: Final[Mapping[str, Sequence[Column]]] = {
    "results.csv": RESULT_COLUMNS,
    "series/RUN.csv": SERIES_COLUMNS,
    "series/RUN.csv (every frame)": FULL_RATE_COLUMNS,
    "soak.csv": SOAK_COLUMNS,
    "crosscheck.csv": CROSSCHECK_COLUMNS,
    "compare.csv": COMPARE_COLUMNS,
    "two_views.csv": TWO_VIEW_COLUMNS,
}
"""Every table that irspot writes by the registry of columns."""

_TYPES: Final = {"text": "string", "number": "number", "integer": "integer"}


def results_schema() -> dict[str, Any]:
    """Give the JSON Schema (2020-12) of results.json of a study, with the rows of every table as definitions."""
    rows = {name: _row(columns) for name, columns in TABLES.items()}
    budget = {"type": "array", "items": {"$ref": "#/$defs/term"}}
    result = rows["results.csv"] | {"properties": {**rows["results.csv"]["properties"], "budget": budget}}
    digest = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
    digests = {"type": "object", "additionalProperties": digest}
    lines = {"type": "array", "items": {"type": "string"}}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "results.json of a study",
        "description": f"Written last; lists every other output with its SHA-256. METHOD {METHOD}.",
        "type": "object",
        "required": ["irspot", "method", "study", "settings", "inputs", "runs", "columns", "rows", "outputs"],
        "properties": {
            "irspot": {"type": "string"},
            "method": {"type": "integer"},
            "study": {"type": "object"},
            "settings": {"type": "object"},
            "inputs": digests,
            "runs": {"type": "array", "items": {"type": "object", "required": ["run", "board", "load", "side"]}},
            "bad_runs": {"type": "array"},
            "problems": lines,
            "warnings": lines,
            "columns": {"type": "array", "items": {"type": "object"}},
            "rows": {"type": "array", "items": result},
            "outputs": digests,
        },
        "$defs": {**rows, "term": _TERM},
    }


_NULLABLE: Final = {"type": ["number", "null"]}
_TERM: Final[dict[str, Any]] = {
    "type": "object",
    "description": "One term of a budget: U_max_k is twice the root of the sum of the squares of u_k.",
    "required": ["name", "u_k"],
    "properties": {"name": {"type": "string"}, "u_input": _NULLABLE, "sensitivity": _NULLABLE, "u_k": _NULLABLE},
}


def _row(columns: Sequence[Column]) -> dict[str, Any]:
    return {
        "type": "object",
        "required": [column.name for column in columns],
        "properties": {column.name: _cell(column) for column in columns},
    }


def _cell(column: Column) -> dict[str, Any]:
    unit = f" [{column.unit}]" if column.unit else ""
    told = {"description": column.meaning + unit}
    if column.kind == "list":
        return {"type": "array", "items": {"type": "string"}, **told}
    return {"type": [_TYPES[column.kind], "null"], **told}


def dictionary_csv() -> str:
    """Give the data dictionary of every table: table, column, type, unit, decimals, meaning."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(["table", "column", "type", "unit", "decimals", "meaning"])
    for name, columns in TABLES.items():
        for each in columns:
            decimals = each.decimals if each.kind == "number" else ""
            writer.writerow([name, each.name, each.kind, each.unit, decimals, each.meaning])
    return stream.getvalue()
