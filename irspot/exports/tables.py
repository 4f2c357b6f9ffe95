"""Rows of results as CSV for files and TSV for pipes."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from irspot.columns import RESULT_COLUMNS, SOAK_COLUMNS, Column, TableRow
from irspot.exports.cells import cell_text
from irspot.results import Row


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


def csv_head(columns: Sequence[Column]) -> str:
    """Write the line that names a table's columns."""
    return _separated((), columns, ",")


def csv_lines(rows: Sequence[Row], columns: Sequence[Column]) -> str:
    """Write further lines of a table that is written piece by piece."""
    return _separated(rows, columns, ",", head=False)


def _separated(rows: Sequence[TableRow], columns: Sequence[Column], separator: str, *, head: bool = True) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=separator, lineterminator="\n")
    if head:
        writer.writerow([column.name for column in columns])
    writer.writerows([cell_text(column, row) for column in columns] for row in rows)
    return stream.getvalue()
