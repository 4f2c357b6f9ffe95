"""The log of a video's colour scale: from when on the bar had which ends."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Final

from irspot.color_wish import ScaleLog
from irspot.constants import ZERO_DEGC_KELVIN
from irspot.files import toml
from irspot.files.findings import Findings, show
from irspot.files.grammar import MAX_TEMPERATURE_DEGC

COLUMNS: Final = ("time_s", "low_degc", "high_degc")
_WANTED: Final = ",".join(COLUMNS)
_BOUNDS: Final = {
    "time_s": (0.0, 1e7),
    "low_degc": (-ZERO_DEGC_KELVIN, MAX_TEMPERATURE_DEGC),
    "high_degc": (-ZERO_DEGC_KELVIN, MAX_TEMPERATURE_DEGC),
}
_MOST_REPORTED: Final = 20
"""Lines; a log that is wrong in all of them is wrong in one way."""

Line = tuple[float, float, float]


def read_scale_log(path: Path) -> ScaleLog:
    """Read a log of the colour scale: comma-separated, with the columns time_s, low_degc and high_degc in any order.

    Parameters
    ----------
    path : Path

    Raises
    ------
    FileInvalid
        With everything that is wrong with it, each at its line.
    """
    findings = Findings(str(path))
    text = toml.plain_text(path, findings, "a log of the colour scale, comma-separated")
    rows = [(number, row) for number, row in enumerate(csv.reader(text.splitlines()), 1) if any(map(str.strip, row))]
    if not rows:
        findings.give_up("holds no line", wanted=_WANTED)
    places = _places(rows[0], findings)
    lines: list[tuple[int, Line]] = []
    for number, row in rows[1:]:
        line = _line(number, row, places, findings)
        if line is not None and _rises(number, line, lines, findings):
            lines.append((number, line))
        if len(findings.problems) >= _MOST_REPORTED:
            break
    findings.refuse_if_broken()
    if not lines:
        findings.give_up("holds no line of numbers", wanted=f"lines below {_WANTED}")
    return ScaleLog(tuple(line[0] for _, line in lines), tuple(line[1:] for _, line in lines), path)


def _places(row: tuple[int, list[str]], findings: Findings) -> list[int]:
    """Find the columns in the first line."""
    names = [name.strip() for name in row[1]]
    if sorted(names) != sorted(COLUMNS):
        findings.give_up("has other columns", place=f"line {row[0]}", found=show(",".join(names)), wanted=_WANTED)
    return [names.index(column) for column in COLUMNS]


def _line(number: int, row: list[str], places: list[int], findings: Findings) -> Line | None:
    """Read one line; None where something is wrong with it."""
    if len(row) != len(COLUMNS):
        findings.error_in_line(number, "has another number of columns", found=str(len(row)), wanted=str(len(COLUMNS)))
        return None
    values = []
    for name, at in zip(COLUMNS, places, strict=True):
        least, most = _BOUNDS[name]
        value = _number(row[at])
        if value is None or not least <= value <= most:
            wanted = f"a number from {least:g} to {most:g}"
            findings.error_in_line(
                number, f"{name} is no number that can be used", found=show(row[at].strip()), wanted=wanted
            )
            return None
        values.append(value)
    if values[1] >= values[2]:
        findings.error_in_line(
            number, "the low end must be below the high end", found=f"{values[1]:g} and {values[2]:g} °C"
        )
        return None
    return values[0], values[1], values[2]


def _number(text: str) -> float | None:
    try:
        return float(text)  # NaN lies within no bounds
    except ValueError:
        return None


def _rises(number: int, line: Line, before: list[tuple[int, Line]], findings: Findings) -> bool:
    if not before or line[0] > before[-1][1][0]:
        return True
    earlier, (time_s, _, _) = before[-1]
    wanted = f"a time after {time_s:g} s, that of line {earlier}"
    findings.error_in_line(number, "times must rise", found=f"{line[0]:g} s", wanted=wanted)
    return False
