"""How a text grid is written: its encoding, separator, decimal mark, and where its numbers begin.

Everything is decided from the characters by fixed rules; what two rules could read differently is refused.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from irspot.errors import FrameUnreadable

_CELL: Final = re.compile(
    r"[ \t\f\v]*(?:[+-]?(?:\d+(?:\.\d*|,\d+)?|\.\d+)(?:[eE][+-]?\d+)?|[+-]?(?:nan|inf|infinity))?[ \t\f\v]*",
    re.IGNORECASE,
)
"""A number with decimal point or comma, a marker of none, or nothing at all."""
_LAYOUT: Final = "\t\r\n\f\v\x85\xa0\ufeff"
"""Characters of text that do not print."""
_SEPARATORS: Final = {";": "semicolon", "\t": "tab", ",": "comma", " ": "spaces"}
_QUOTED: Final = re.compile(r'"([^"]*)"')
_NEWLINE: Final = re.compile(r"\r*\n|\r")


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the file that is neither blank nor a comment."""

    number: int
    text: str


@dataclass(frozen=True, slots=True)
class Grid:
    """A text grid, its rows still text.

    Parameters
    ----------
    lines : tuple of Line
        Rows of numbers, headers dropped.
    separator : str
    decimal : {".", ","}
    notes : tuple of str
        What was found out, for people.
    """

    lines: tuple[Line, ...]
    separator: str
    decimal: str
    notes: tuple[str, ...]


def is_text(head: bytes) -> bool:
    """Say whether these bytes are text and nothing else."""
    text = head.decode(_encoding(head), errors="replace")
    return bool(text) and all(c.isprintable() or c in _LAYOUT for c in text)


def has_row(head: bytes) -> bool:
    """Say whether one line of this text is a row of numbers."""
    text = head.decode(_encoding(head), errors="replace")
    return any(
        len(split(line, separator)) > 1 and _is_row(line, separator)
        for line in _NEWLINE.split(text)
        for separator in _SEPARATORS
    )


def decode(content: bytes) -> str:
    """Decode by byte order mark, else as UTF-8, else as Latin-1 (headers with a degree sign).

    Raises
    ------
    UnicodeDecodeError
        If the content breaks off within a character of its marked encoding.
    """
    encoding = _encoding(content)
    try:
        return content.decode(encoding)
    except UnicodeDecodeError:
        if encoding != "utf-8":
            raise
        return content.decode("latin-1")


def _encoding(content: bytes) -> str:
    if content.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    try:
        # The first kilobytes of a file may end within a character; that alone does not make it something else.
        codecs.getincrementaldecoder("utf-8")().decode(content)
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"


def parse_layout(text: str, file: str) -> Grid:
    """Find rows, separator and decimal mark.

    Raises
    ------
    FrameUnreadable
        If there is no grid of numbers, or it can be read in two ways.
    """
    lines, comments = _lines(text)
    if not lines:
        raise FrameUnreadable("the text holds no rows", file=file)
    separator = _separator(lines, file)
    first = next((i for i, line in enumerate(lines) if _is_row(line.text, separator)), None)
    if first is None:
        raise FrameUnreadable("the text holds no row of numbers", file=file)
    rows = lines[first:]
    _check_no_gap(rows, text, file)
    quoted = any('"' in line.text for line in rows)
    decimal = _decimal(rows, separator, quoted, file)
    return Grid(tuple(rows), separator, decimal, _notes(separator, decimal, comments, first))


def _lines(text: str) -> tuple[list[Line], int]:
    lines, comments = [], 0
    for number, content in enumerate(_NEWLINE.split(text), start=1):
        stripped = content.strip(" \"'\ufeff")
        if stripped.startswith("#"):
            comments += 1
        elif not _is_blank(content):
            lines.append(Line(number, content))
    return lines, comments


def _is_blank(content: str) -> bool:
    # Tabs alone are a row of empty cells.
    return not content.strip() and "\t" not in content


def _separator(lines: Sequence[Line], file: str) -> str:
    """Choose the separator by a line from the middle, where neither headers nor footers are."""
    middle = lines[len(lines) // 2]
    text = unquote(middle.text, ";")
    possible = [separator for separator in _SEPARATORS if len(split(text.strip(" "), separator)) > 1]
    if not possible:
        raise FrameUnreadable(
            "the text is no grid of numbers: no separator found",
            file=file,
            key=f"row {middle.number}",
            wanted="columns separated by semicolon, comma, tab or spaces",
        )
    # `21,5 22,5` holds commas and spaces, but only spaces divide it into numbers.
    return next((separator for separator in possible if _is_row(text, separator)), possible[0])


def split(text: str, separator: str) -> list[str]:
    """Split a row into its cells; any run of white space is one separator of a grid written with spaces."""
    return text.split() if separator == " " else text.split(separator)


def is_number(cell: str) -> bool:
    """Say whether a cell holds a number, a marker of none, or nothing."""
    return cell.isascii() and _CELL.fullmatch(cell) is not None


def _is_row(text: str, separator: str) -> bool:
    return all(is_number(cell) for cell in split(unquote(text, separator), separator))


def unquote(text: str, separator: str) -> str:
    """Take quotes off cells; a decimal comma inside them becomes a point where commas also separate."""
    if '"' not in text:
        return text
    if separator != ",":
        return text.replace('"', "")
    return _QUOTED.sub(lambda match: match[1].replace(",", "."), text)


def _decimal(rows: Sequence[Line], separator: str, quoted: bool, file: str) -> str:
    if separator == ",":
        return _decimal_in_quotes(rows, file) if quoted else "."
    comma = next((line for line in rows if "," in line.text), None)
    point = next((line for line in rows if "." in line.text), None)
    if comma and point:
        raise FrameUnreadable(
            "the numbers have both decimal points and decimal commas",
            file=file,
            key=f"row {max(comma.number, point.number)}",
            hint="save them with one of the two and without a separator of thousands",
        )
    return "," if comma else "."


def _decimal_in_quotes(rows: Sequence[Line], file: str) -> str:
    inside = [cell for line in rows for cell in _QUOTED.findall(line.text) if "," in cell]
    if inside and all(re.fullmatch(r"\s*[+-]?\d{1,3}(,\d{3})+\s*", cell) for cell in inside):
        raise FrameUnreadable(
            "commas in quoted numbers could be decimal commas or separators of thousands",
            file=file,
            found=inside[0][:40],
            hint="save the grid without separators of thousands",
        )
    return "," if inside else "."


def _check_no_gap(rows: Sequence[Line], text: str, file: str) -> None:
    """Refuse blank lines between rows: two frames in one file would become one tall frame."""
    first, last = rows[0].number, rows[-1].number
    if last - first + 1 == len(rows):
        return
    contents = _NEWLINE.split(text)[first - 1 : last]
    for number, content in enumerate(contents, start=first):
        if _is_blank(content):
            raise FrameUnreadable(
                "a blank line divides the grid", file=file, key=f"row {number}", wanted="one frame a file"
            )


def _notes(separator: str, decimal: str, comments: int, headers: int) -> tuple[str, ...]:
    skipped = [f"{count} {name} line{'s' if count > 1 else ''}" for count, name in
               ((comments, "comment"), (headers, "header")) if count]  # fmt: skip
    mark = "comma" if decimal == "," else "point"
    stated = f"separator {_SEPARATORS[separator]}, decimal {mark}"
    return (stated + (f"; skipped {' and '.join(skipped)}" if skipped else ""),)
