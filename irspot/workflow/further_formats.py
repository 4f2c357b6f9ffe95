"""A study's tables once more in the formats that were asked for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from irspot.columns import COMPARE_COLUMNS, CROSSCHECK_COLUMNS, RESULT_COLUMNS, SOAK_COLUMNS
from irspot.errors import UsageError
from irspot.workflow.outputs import Content

_TABLES = (
    ("results", RESULT_COLUMNS),
    ("soak", SOAK_COLUMNS),
    ("crosscheck", CROSSCHECK_COLUMNS),
    ("compare", COMPARE_COLUMNS),
)


def check_formats(formats: Sequence[str]) -> None:
    """Refuse before an hour's work what could not be written after it.

    Raises
    ------
    UsageError
        For a format that there is not.
    LibraryMissing
        If the library behind one is not installed.
    """
    if not formats:
        return
    from irspot.exports.other_formats import FORMATS

    for name in formats:
        if name not in FORMATS:
            raise UsageError("is no format of tables", found=name, wanted=" or ".join(FORMATS))
        FORMATS[name]((), RESULT_COLUMNS)


def further_names(formats: Sequence[str]) -> list[str]:
    """Name the files that results will have in further formats, whatever is measured."""
    return [f"{_TABLES[0][0]}.{ending}" for ending in formats]


def further_formats(tables: Sequence[Sequence[Any]], formats: Sequence[str]) -> dict[str, Content]:
    """Give results, soaks, cross-checks and comparison in further formats, those that have rows.

    Parameters
    ----------
    tables : sequence of sequence of TableRow
        In that order.
    formats : sequence of {"parquet", "xlsx"}
    """
    if not formats:
        return {}
    from irspot.exports.other_formats import FORMATS

    return {
        f"{name}.{ending}": FORMATS[ending](rows, columns)
        for (name, columns), rows in zip(_TABLES, tables, strict=True)
        for ending in formats
        if rows
    }
