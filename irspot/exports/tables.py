"""Rows of results as CSV for files and TSV for pipes."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import TYPE_CHECKING

from irspot.columns import RESULT_COLUMNS, TWO_VIEW_COLUMNS, Column
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


def two_views_csv(pairs: Sequence[ZoneInTwoViews]) -> bytes:
    """Write two_views.csv: UTF-8, LF, one row a zone."""
    return _separated(pairs, TWO_VIEW_COLUMNS, ",").encode()


def two_views_tsv(pairs: Sequence[ZoneInTwoViews]) -> str:
    """Write the same table with tabs, for a pipe."""
    return _separated(pairs, TWO_VIEW_COLUMNS, "\t")


def _separated(rows: Sequence[Row] | Sequence[ZoneInTwoViews], columns: Sequence[Column], separator: str) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=separator, lineterminator="\n")
    writer.writerow([column.name for column in columns])
    writer.writerows([cell_text(column, row) for column in columns] for row in rows)
    return stream.getvalue()
