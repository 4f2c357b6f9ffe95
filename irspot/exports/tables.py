"""Rows of results as CSV for files and TSV for pipes."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import TYPE_CHECKING

from irspot.columns import (
    COMPARE_COLUMNS,
    CROSSCHECK_COLUMNS,
    RESULT_COLUMNS,
    SOAK_COLUMNS,
    TWO_VIEW_COLUMNS,
    AnyRow,
    Column,
    TableRow,
)
from irspot.exports.cells import cell_text
from irspot.results import Row

if TYPE_CHECKING:
    from irspot.two_views import ZoneInTwoViews


def results_csv(rows: Sequence[Row]) -> bytes:
    """Write results.csv: UTF-8, LF, the registry's columns in order.

    Parameters
    ----------
    rows : sequence of Row

    Returns
    -------
    bytes
    """
    return _separated(rows, RESULT_COLUMNS, ",").encode()


def results_tsv(rows: Sequence[Row]) -> str:
    """Write the same table with tabs, for a pipe; nothing is cut off."""
    return _separated(rows, RESULT_COLUMNS, "\t")


def soak_csv(rows: Sequence[TableRow]) -> bytes:
    """Write soak.csv: UTF-8, LF."""
    return _separated(rows, SOAK_COLUMNS, ",").encode()


def soak_tsv(rows: Sequence[TableRow]) -> str:
    """Write the same table with tabs, for a pipe."""
    return _separated(rows, SOAK_COLUMNS, "\t")


def crosscheck_csv(rows: Sequence[TableRow]) -> bytes:
    """Write crosscheck.csv: UTF-8, LF."""
    return _separated(rows, CROSSCHECK_COLUMNS, ",").encode()


def crosscheck_tsv(rows: Sequence[TableRow]) -> str:
    """Write the same table with tabs, for a pipe."""
    return _separated(rows, CROSSCHECK_COLUMNS, "\t")


def compare_csv(rows: Sequence[TableRow]) -> bytes:
    """Write compare.csv: UTF-8, LF."""
    return _separated(rows, COMPARE_COLUMNS, ",").encode()


def compare_tsv(rows: Sequence[TableRow]) -> str:
    """Write the same table with tabs, for a pipe."""
    return _separated(rows, COMPARE_COLUMNS, "\t")


def csv_head(columns: Sequence[Column]) -> str:
    """Write the line that names a table's columns."""
    return _separated((), columns, ",")


def csv_lines(rows: Sequence[Row], columns: Sequence[Column]) -> str:
    """Write further lines of a table that is written piece by piece."""
    return _separated(rows, columns, ",", head=False)


def two_views_csv(pairs: Sequence[ZoneInTwoViews]) -> bytes:
    """Write two_views.csv: UTF-8, LF, one row a zone."""
    return _separated(pairs, TWO_VIEW_COLUMNS, ",").encode()


def two_views_tsv(pairs: Sequence[ZoneInTwoViews]) -> str:
    """Write the same table with tabs, for a pipe."""
    return _separated(pairs, TWO_VIEW_COLUMNS, "\t")


def _separated(rows: Sequence[AnyRow], columns: Sequence[Column], separator: str, *, head: bool = True) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=separator, lineterminator="\n")
    if head:
        writer.writerow([column.name for column in columns])
    writer.writerows([cell_text(column, row) for column in columns] for row in rows)
    return stream.getvalue()
