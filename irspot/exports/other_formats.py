"""The tables once more as Parquet and as a workbook (XLSX), by the libraries made for them."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any, Final

from irspot.columns import Column, TableRow
from irspot.constants import METHOD
from irspot.errors import LibraryMissing
from irspot.exports.cells import json_value
from irspot.version import __version__

_STAMP: Final = datetime(2000, 1, 1)
"""Said for when a workbook was made: a rerun gives the same bytes."""
_ZIP_STAMP: Final = (1980, 1, 1, 0, 0, 0)
_HINT: Final = "pip install 'irspot[tables]'"
_MOST_WIDE: Final = 48


def parquet_bytes(rows: Sequence[TableRow], columns: Sequence[Column]) -> bytes:
    """Write a table as Parquet: typed columns, lists as lists, null where not measured.

    Parameters
    ----------
    rows : sequence of TableRow
    columns : sequence of Column

    Returns
    -------
    bytes
        Unit and meaning of each column stand in its field's metadata.

    Raises
    ------
    LibraryMissing
        Without pyarrow.
    """
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError as error:
        raise LibraryMissing("Parquet needs pyarrow", hint=_HINT) from error
    types = {"text": pa.string(), "number": pa.float64(), "integer": pa.int64(), "list": pa.list_(pa.string())}
    fields = [
        pa.field(each.name, types[each.kind], metadata={"unit": each.unit, "meaning": each.meaning}) for each in columns
    ]
    schema = pa.schema(fields, metadata={"irspot": __version__, "method": str(METHOD)})
    arrays = [
        pa.array([json_value(each, row) for row in rows], field.type)
        for each, field in zip(columns, fields, strict=True)
    ]
    stream = io.BytesIO()
    pq.write_table(pa.Table.from_arrays(arrays, schema=schema), stream, compression="zstd")
    return stream.getvalue()


def xlsx_bytes(rows: Sequence[TableRow], columns: Sequence[Column]) -> bytes:
    """Write a table as a workbook: numbers as numbers, text never as a formula, units in the head, the head frozen.

    Parameters
    ----------
    rows : sequence of TableRow
    columns : sequence of Column

    Returns
    -------
    bytes
        A second sheet says what each column means.

    Raises
    ------
    LibraryMissing
        Without openpyxl.
    """
    try:
        from openpyxl import Workbook
    except ImportError as error:
        raise LibraryMissing("XLSX needs openpyxl", hint=_HINT) from error
    book = Workbook()
    sheet = book.active
    sheet.title = "table"
    _fill(sheet, [f"{each.name} [{each.unit}]" if each.unit else each.name for each in columns])
    for row in rows:
        _fill(sheet, [json_value(each, row) for each in columns])
    for number, column in enumerate(columns, start=1):
        _finish(sheet, number, column)
    sheet.freeze_panes = "A2"
    meanings = book.create_sheet("columns")
    _fill(meanings, ["column", "unit", "meaning"])
    for column in columns:
        _fill(meanings, [column.name, column.unit, column.meaning])
    meanings.freeze_panes = "A2"
    book.properties.creator = f"irspot {__version__}"
    book.properties.created = book.properties.modified = _STAMP
    return _saved(book)


def _fill(sheet: Any, values: Sequence[Any]) -> None:
    """Append a row; openpyxl takes text that begins with '=' for a formula unless its type is set."""
    row = sheet.max_row + 1 if sheet.max_row > 1 or sheet.cell(1, 1).value is not None else 1
    for number, value in enumerate(values, start=1):
        if value is None:
            continue
        cell = sheet.cell(row, number)
        if isinstance(value, list | str):
            cell.value = _storable(";".join(value) if isinstance(value, list) else value)
            cell.data_type = "s"
        else:
            cell.value = value


def _storable(text: str) -> str:
    return "".join(character if character.isprintable() else " " for character in text)[:32_767]


def _finish(sheet: Any, number: int, column: Column) -> None:
    from openpyxl.utils import get_column_letter

    letter = get_column_letter(number)
    cells = sheet[letter]
    widest = max(len(str(cell.value)) for cell in cells if cell.value is not None)
    sheet.column_dimensions[letter].width = min(widest, _MOST_WIDE) + 2
    if column.kind == "number":
        for cell in cells[1:]:
            cell.number_format = "0." + "0" * column.decimals if column.decimals else "0"


def _saved(book: Any) -> bytes:
    """Save a workbook without the moment of saving, which the library writes into its members."""
    made = io.BytesIO()
    book.save(made)
    packed = io.BytesIO()
    with zipfile.ZipFile(made) as source, zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            data = source.read(name)
            if name == "docProps/core.xml":
                data = _without_moment(data)
            target.writestr(zipfile.ZipInfo(name, _ZIP_STAMP), data, zipfile.ZIP_DEFLATED)
    return packed.getvalue()


def _without_moment(core: bytes) -> bytes:
    import re

    return re.sub(rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>2000-01-01T00:00:00Z", core)


FORMATS: Final[dict[str, Callable[[Sequence[TableRow], Sequence[Column]], bytes]]] = {
    "parquet": parquet_bytes,
    "xlsx": xlsx_bytes,
}
"""Ending, which is also the format's name, and what writes it."""
