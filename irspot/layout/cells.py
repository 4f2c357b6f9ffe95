"""A table of a layout program taken apart into cells, whatever parts them and whatever stands above it."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from irspot.files.findings import Findings
from irspot.files.toml import plain_bytes
from irspot.layout.lengths import declared_unit, length_of
from irspot.logs.cells import Line
from irspot.readers.grid_format import decode

_SEPARATORS: Final = {";": "semicolon", "\t": "tab", ",": "comma", " ": "spaces", "  ": "columns of spaces"}
_COMMENTS: Final = ("#", "//", "*")
_HEADER_WITHIN: Final = 200
_MOST_CELLS: Final = 500


@dataclass(frozen=True, slots=True)
class Cells:
    """A table, its cells still text.

    Parameters
    ----------
    header : Line
    lines : tuple of Line
        As wide as the header.
    separator : str
        Its name.
    declared_unit : str
        Of lengths, from a line above the header or a comment; empty where none declares one.
    """

    header: Line
    lines: tuple[Line, ...]
    separator: str
    declared_unit: str


def read_cells(path: Path, is_header: Callable[[Sequence[str]], bool], wanted: str, findings: Findings) -> Cells:
    """Read a table.

    Parameters
    ----------
    path : Path
    is_header : callable
        Whether cells are those of the table's header.
    wanted : str
        What such a header has, for people.
    findings : Findings
        Takes lines that are wider than the header.

    Raises
    ------
    FileInvalid
        If it is no text, or no line of it is a header.
    """
    lines = _text(path, wanted, findings).splitlines()
    for separator, name in _SEPARATORS.items():
        for number, line in enumerate(lines[:_HEADER_WITHIN], start=1):
            cells = split(_bare(line), separator)
            if is_header(cells):
                body = tuple(_body(lines, number, len(cells), separator, findings))
                return Cells(Line(number, cells), body, name, _declared(lines, number))
    shown = next((line.strip() for line in lines if line.strip()), "nothing")
    findings.give_up("no line heads its columns", found=f"'{shown[:60]}'", wanted=wanted)


def split(line: str, separator: str) -> tuple[str, ...]:
    """Split a line; two blanks as separator mean two or more, one blank any run of them."""
    if separator == "  ":
        return tuple(cell.strip(' "') for cell in re.split(r"\s{2,}", line.strip()))
    text = " ".join(line.split()) if separator == " " else line
    try:
        cells = next(csv.reader([text], delimiter=separator, skipinitialspace=True), [])
    except csv.Error:  # one cell longer than any of a table
        return ()
    return tuple(cell.strip() for cell in cells[:_MOST_CELLS])


def decimal_of(lines: Sequence[Line], columns: Sequence[int], findings: Findings) -> str:
    """Find the decimal mark of some columns.

    Returns
    -------
    str
        ``,`` or ``.``

    Raises
    ------
    FileInvalid
        If they have both.
    """
    seen: dict[str, int] = {}
    for line in lines:
        for column in columns:
            cell = line.cells[column]
            for mark in ".,":
                if mark in cell and length_of(cell, mark) is not None:
                    seen.setdefault(mark, line.number)
    if len(seen) == 2:
        findings.give_up(
            "numbers have both decimal points and decimal commas",
            place=f"line {max(seen.values())}",
            hint="write the file with one of the two, and without thousands separators",
        )
    return "," if "," in seen else "."


def _text(path: Path, wanted: str, findings: Findings) -> str:
    content = plain_bytes(path, findings, wanted)
    try:
        text = decode(content)
    except UnicodeDecodeError:
        findings.give_up("is no text", wanted=wanted)
    if "\0" in text:
        findings.give_up("is no text", found="null characters", wanted=wanted)
    return text


def _bare(line: str) -> str:
    """Take the comment sign from a line: some programs write their header as a comment."""
    return re.sub(r"^\s*(?:#|//|\*)+\s*", "", line)


def _is_comment(line: str) -> bool:
    return line.lstrip().startswith(_COMMENTS)


def _declared(lines: Sequence[str], header: int) -> str:
    above = (line for number, line in enumerate(lines, start=1) if number < header or _is_comment(line))
    return next((unit for line in above if (unit := declared_unit(line))), "")


def _body(lines: Sequence[str], header: int, width: int, separator: str, findings: Findings) -> Iterator[Line]:
    for number, line in enumerate(lines[header:], start=header + 1):
        if not line.strip(' ;,\t"') or _is_comment(line):
            continue
        cells = split(line, separator)
        if any(cells[width:]) or (len(cells) < width and separator in (" ", "  ")):
            hint = "text that holds the separator stands between quotation marks"
            found = f"{len(cells)} cells"
            findings.error_in_line(number, "has not the header's cells", found=found, wanted=str(width), hint=hint)
            continue
        yield Line(number, (*cells[:width], *[""] * (width - len(cells))))
