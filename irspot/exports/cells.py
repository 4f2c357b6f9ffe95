"""One value as text: fixed decimals, empty where not measured, never a formula."""

from __future__ import annotations

import math

from irspot.columns import AnyRow, Column
from irspot.uncertain import rounded

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


def defused(text: str) -> str:
    """Make sure a spreadsheet shows a text instead of evaluating it.

    Control characters are taken out; a text that could be read as a formula gets a leading apostrophe, which
    spreadsheets show as plain text.

    Examples
    --------
    >>> defused("=1+1"), defused("Kestrel K7"), defused("  =1+1")
    ("'=1+1", 'Kestrel K7', "'  =1+1")
    """
    clean = "".join(character if character.isprintable() else " " for character in text)
    return "'" + clean if clean.lstrip().startswith(_FORMULA_STARTS) else clean


def cell_text(column: Column, row: AnyRow) -> str:
    """Write one cell of a table file.

    Parameters
    ----------
    column : Column
    row : AnyRow

    Returns
    -------
    str
        Numbers with the column's decimals, NaN and None as an empty text, lists joined by ``;``.
    """
    value = column.value(row)
    if value is None:
        return ""
    if isinstance(value, tuple):
        return ";".join(value)
    if isinstance(value, str):
        return defused(value)
    if column.kind == "integer":
        return str(int(value))
    return rounded(value, column.decimals) if math.isfinite(value) else ""


def json_value(column: Column, row: AnyRow) -> str | float | int | list[str] | None:
    """Give one value for JSON: numbers rounded like the CSV's, null where not measured."""
    value = column.value(row)
    if value is None:
        return None
    if isinstance(value, tuple):
        return list(value)
    if isinstance(value, str):
        return value
    if column.kind == "integer":
        return int(value)
    return float(rounded(value, column.decimals)) if math.isfinite(value) else None
