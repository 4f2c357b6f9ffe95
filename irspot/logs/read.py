"""A log file read: every line that can be used, and a word on every one that cannot."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from irspot.errors import Problem
from irspot.logs.cells import Line, Written, number_of, refused, written
from irspot.logs.clock import TimeColumns, stamps_of
from irspot.logs.header import Heading, heading_of, time_columns, unit_named
from irspot.logs.log import FloatArray, Log, LogColumn

_MOST_SAID: Final = 5
"""Lines named for one kind of fault; how many more there are is said."""
_GAP: Final = 3.5
"""A step so many times as long as the usual one is a gap."""


def read_log(path: Path) -> Log:
    """Read a log.

    Parameters
    ----------
    path : Path
        Separated text with a header: a time (seconds, ISO 8601, or a clock time with a date), and columns of numbers.

    Returns
    -------
    Log
        Lines whose time is missing, repeats or goes back are left out and named in ``problems``; so are cells that hold
        no number, which become NaN.

    Raises
    ------
    FileInvalid
        If no line can be used, or the log can be read in two ways.
    """
    file = str(path)
    text = written(path)
    headings = tuple(heading_of(cell) for cell in text.header.cells)
    where = time_columns(tuple(heading.name for heading in headings))
    faults = _Faults(file)
    lines = _whole(text, len(headings), faults)
    if not lines:
        raise refused(file, "no line has as many cells as the header", found=f"{len(headings)} in the header")
    declared = _with_zone(text.declared, text.header.cells[where[0]])
    stamps = stamps_of(lines, TimeColumns(*where, headings[where[0]]), declared, text.decimal, file)
    keep = _rising(lines, stamps.time_s, faults)
    kept = [lines[i] for i in keep]
    time_s = np.array([stamps.time_s[i] for i in keep])
    _note_gaps(kept, time_s, faults)
    columns = _columns(kept, headings, where, text, faults)
    notes = (*text.notes, stamps.note)
    return Log(file, time_s, stamps.start, columns, notes, faults.problems(), declared)


def _with_zone(declared: dict[str, str], heading: str) -> dict[str, str]:
    """Take a zone from the heading of the times: ``Time (UTC)``."""
    return {"utc_offset": "Z", **declared} if "utc" in heading.casefold() else declared


class _Faults:
    """What is wrong with single lines, gathered by kind."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._found: dict[str, list[tuple[int, str]]] = {}

    def add(self, kind: str, number: int, found: str = "") -> None:
        """Note a line."""
        self._found.setdefault(kind, []).append((number, found))

    def problems(self) -> tuple[Problem, ...]:
        """Give a warning a line, the first few of each kind, and how many more there are."""
        said = []
        for kind, lines in self._found.items():
            for number, found in lines[:_MOST_SAID]:
                said.append(Problem(kind, self._file, f"line {number}", found, severity="warning"))
            if len(lines) > _MOST_SAID:
                more = f"{kind}: {len(lines) - _MOST_SAID} more lines, the last being line {lines[-1][0]}"
                said.append(Problem(more, self._file, severity="warning"))
        return tuple(said)


def _whole(text: Written, width: int, faults: _Faults) -> list[Line]:
    """Leave out lines of another width; empty cells at their ends count for nothing."""
    lines = []
    for line in text.lines:
        cells = line.cells
        while len(cells) > width and not cells[-1]:
            cells = cells[:-1]
        if len(cells) == width:
            lines.append(Line(line.number, cells))
        else:
            faults.add("the line has another number of cells than the header and is left out", line.number)
    return lines


def _rising(lines: Sequence[Line], time_s: Sequence[float], faults: _Faults) -> list[int]:
    """Give the lines whose time rises; a clock set back for a while costs the lines until it has caught up."""
    keep: list[int] = []
    last = -math.inf
    for index, (line, seconds) in enumerate(zip(lines, time_s, strict=True)):
        if math.isnan(seconds):
            faults.add("the line has no time and is left out", line.number)
        elif seconds == last:
            faults.add("the time is that of the line before; the line is left out", line.number)
        elif seconds < last:
            faults.add("the time goes back; the line is left out", line.number, f"{last - seconds:g} s earlier")
        else:
            keep.append(index)
            last = seconds
    if not keep:
        raise refused(faults._file, "no line has a time")
    return keep


def _note_gaps(lines: Sequence[Line], time_s: FloatArray, faults: _Faults) -> None:
    steps = np.diff(time_s)
    if steps.size < 3:
        return
    usual = float(np.median(steps))
    for index in np.flatnonzero(steps > _GAP * usual).tolist():
        after, gap_s = lines[index + 1], float(steps[index])
        faults.add("nothing was logged before the line for longer than usual", after.number, f"{gap_s:g} s")


@dataclass(frozen=True, slots=True)
class _Place:
    index: int
    heading: Heading


def _columns(
    lines: Sequence[Line], headings: Sequence[Heading], where: tuple[int, int | None], text: Written, faults: _Faults
) -> tuple[LogColumn, ...]:
    declared = unit_named(text.declared.get("unit", ""))
    made: list[LogColumn] = []
    for place in (_Place(i, h) for i, h in enumerate(headings) if i not in where):
        heading = place.heading
        values = _values(lines, place, text.decimal, faults)
        if not np.isfinite(values).any():
            continue  # a column of remarks, or an unconnected channel: it holds nothing to measure with
        if any(column.name == heading.name for column in made):
            faults.add(f"the column '{heading.name}' stands twice; the first one counts", text.header.number)
            continue
        unit, factor, offset = heading.unit, heading.factor, heading.offset
        if not unit and declared is not None and declared[0] in ("degC", "mV"):
            unit, factor, offset = declared
        made.append(LogColumn(heading.name, unit, values * factor + offset))
    return tuple(made)


def _values(lines: Sequence[Line], place: _Place, decimal: str, faults: _Faults) -> FloatArray:
    values = np.full(len(lines), np.nan)
    wrong = []
    for row, line in enumerate(lines):
        cell = line.cells[place.index]
        value = number_of(cell, decimal)
        if value is not None and math.isfinite(value):
            values[row] = value
        elif cell and cell.casefold() != "nan":
            wrong.append((line.number, cell[:40]))
    if np.isfinite(values).any():
        for number, cell in wrong:
            faults.add(f"the column '{place.heading.name}' holds no number here", number, f"'{cell}'")
    return values
