"""How a log is written: separator, decimal mark, comments, header, lines of cells."""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from irspot.errors import FileInvalid, Problem

MAX_BYTES: Final = 500_000_000
"""A day of forty channels every tenth of a second is not half of it."""
_SEPARATORS: Final = {";": "semicolon", "\t": "tab", ",": "comma"}
_NUMBER: Final = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
_COMMENT: Final = re.compile(r"#\s*([A-Za-z][A-Za-z_ ]*?)\s*[:=]\s*(.+?)\s*[;,\t]*$")
_LOOKED_AT: Final = 200
"""Lines from which the separator is told."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line of cells, with its number in the file."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Written:
    """A log, its cells still text.

    Parameters
    ----------
    header : Line
    lines : tuple of Line
    decimal : {".", ","}
    declared : dict
        ``# name: value`` comments, names in lower case.
    notes : tuple of str
    """

    header: Line
    lines: tuple[Line, ...]
    decimal: str
    declared: dict[str, str]
    notes: tuple[str, ...]


def written(path: Path) -> Written:
    """Take a log apart into cells.

    Raises
    ------
    FileInvalid
        If it is no text of separated columns with a header, or its numbers can be read in two ways.
    """
    file = str(path)
    text = _text(path, file)
    comments, body = _without_comments(text.splitlines())
    if not body:
        raise refused(file, "the log holds no line")
    separator = _separator([line for _, line in body[:_LOOKED_AT]], file)
    lines = [Line(number, _split(line, separator)) for number, line in body]
    first = next((i for i, line in enumerate(lines) if _is_data(line.cells)), None)
    if first is None:
        raise refused(file, "the log holds no line of numbers", hint="wanted a time and at least one number a line")
    if first == 0:
        raise refused(file, "the log has no header", wanted="a line with the names of its columns above the numbers")
    decimal = _decimal(lines[first:], separator, file)
    preamble = f", {first - 1} lines above the header skipped" if first > 1 else ""
    note = f"separator {_SEPARATORS[separator]}, decimal {'comma' if decimal == ',' else 'point'}{preamble}"
    return Written(lines[first - 1], tuple(lines[first:]), decimal, comments, (note,))


def refused(
    file: str, message: str, *, key: str = "", found: str = "", wanted: str = "", hint: str = ""
) -> FileInvalid:
    """Make the error of a log that cannot be used."""
    return FileInvalid((Problem(message, file, key, found, wanted, hint),))


def number_of(cell: str, decimal: str) -> float | None:
    """Read a number; None for anything else.

    Examples
    --------
    >>> number_of(" 21,5", ","), number_of("OL", "."), number_of("1.234,5", ",")
    (21.5, None, None)
    """
    cell = cell.strip()
    if not cell.isascii() or not _NUMBER.fullmatch(cell) or (decimal == "." and "," in cell):
        return None
    return float(cell.replace(",", "."))


def _text(path: Path, file: str) -> str:
    try:
        size = path.stat().st_size
        if size > MAX_BYTES:
            raise refused(file, "the log is too long", found=f"{size} bytes", wanted=f"at most {MAX_BYTES}")
        content = path.read_bytes()
    except OSError as error:
        raise refused(file, f"the log cannot be read ({error.strerror or error})") from error
    for encoding in _encodings(content):
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" in text:
            break
        return text
    raise refused(file, "the log is no text", wanted="comma-, semicolon- or tab-separated text")


def _encodings(content: bytes) -> tuple[str, ...]:
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return ("utf-16",)
    # Older loggers write the degree sign in Latin-1.
    return ("utf-8-sig", "latin-1")


def _without_comments(lines: Sequence[str]) -> tuple[dict[str, str], list[tuple[int, str]]]:
    declared: dict[str, str] = {}
    body = []
    for number, line in enumerate(lines, start=1):
        stripped = line.strip().strip('"').strip()
        if stripped.startswith("#"):
            if match := _COMMENT.match(stripped):
                declared.setdefault(match[1].lower().replace(" ", "_"), match[2].strip())
        elif stripped.strip(";,\t "):
            body.append((number, line))
    return declared, body


def _separator(lines: Sequence[str], file: str) -> str:
    """Choose the separator that parts most lines into equally many cells, more than one."""
    best, most = "", 0
    for separator in _SEPARATORS:
        counts = [len(_split(line, separator)) for line in lines]
        usual = max(set(counts), key=lambda count: (counts.count(count), count))
        shared = counts.count(usual) if usual > 1 else 0
        # Decimal commas part semicolon-separated lines as well: the first of equals is the true one.
        if shared > most:
            best, most = separator, shared
    if not best:
        raise refused(file, "no separator found", wanted="columns separated by semicolon, tab or comma")
    return best


def _split(line: str, separator: str) -> tuple[str, ...]:
    return tuple(cell.strip() for cell in next(csv.reader([line], delimiter=separator), []))


def _is_data(cells: tuple[str, ...]) -> bool:
    """Whether a line holds measurements: a first cell with a digit, and a number in another one."""
    return any(c.isdigit() for c in cells[0]) and any(_NUMBER.fullmatch(cell) for cell in cells[1:])


def _decimal(lines: Sequence[Line], separator: str, file: str) -> str:
    comma: Line | None = None
    point: Line | None = None
    for line in lines:
        for cell in line.cells[1:]:
            if _NUMBER.fullmatch(cell):
                comma = comma or (line if "," in cell else None)
                point = point or (line if "." in cell else None)
    if comma and point:
        raise refused(
            file,
            "the numbers have both decimal points and decimal commas",
            key=f"line {max(comma.number, point.number)}",
            hint="write the log with one of the two",
        )
    return "," if comma else "."
