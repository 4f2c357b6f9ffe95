"""The table people read in a terminal."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from irspot.flags import VERDICTS, Flag, deciding
from irspot.results import Reading, Row
from irspot.uncertain import decimals_of, rounded

if TYPE_CHECKING:
    from rich.table import Table


def results_table(rows: Sequence[Row], *, with_run: bool) -> Table:
    """Make the terminal table: one line a zone, numbers by the project's rounding rule.

    Parameters
    ----------
    rows : sequence of Row
    with_run : bool
        Whether run and frame get columns of their own (a study) or not (one frame).

    Returns
    -------
    rich.table.Table
        User text goes in as plain text, never as markup.
    """
    from rich.box import SIMPLE_HEAD
    from rich.table import Table
    from rich.text import Text

    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    for name in ("run", "frame") if with_run else ():
        table.add_column(name, overflow="fold")
    table.add_column("zone", overflow="fold")
    for name in ("max °C", "rise K", "mean °C", "at mm", "pixels"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("verdict", no_wrap=True)
    table.add_column("flags", overflow="fold")
    for row in rows:
        reading = row.reading
        run = (row.label.run, reading.frame) if with_run else ()
        cells = (*run, reading.zone, *_figures(reading), reading.verdict, _flags(reading))
        table.add_row(*(Text(_printable(cell)) for cell in cells), style=_STYLES[reading.verdict])
    return table


def narrow_table(rows: Sequence[Row], *, with_run: bool) -> Table:
    """Make the table for a narrow terminal: maximum, rise and verdict; `flag_lines` go below it.

    Parameters
    ----------
    rows : sequence of Row
    with_run : bool
        Whether the run gets a column.

    Returns
    -------
    rich.table.Table
    """
    from rich.box import SIMPLE_HEAD
    from rich.table import Table
    from rich.text import Text

    table = Table(box=SIMPLE_HEAD, pad_edge=False)
    for name in ("run", "zone") if with_run else ("zone",):
        table.add_column(name, overflow="fold")
    for name in ("max °C", "rise K"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("verdict", no_wrap=True)
    for row in rows:
        run = (row.label.run,) if with_run else ()
        cells = (*run, row.reading.zone, *_figures(row.reading)[:2], row.reading.verdict)
        table.add_row(*(Text(_printable(cell)) for cell in cells), style=_STYLES[row.reading.verdict])
    return table


def flag_lines(rows: Sequence[Row]) -> list[str]:
    """Say below a table without flags which flags there are, and on which zones; one line a flag."""
    zones = list(dict.fromkeys(row.reading.zone for row in rows))
    flags = sorted({flag for row in rows for flag in row.reading.flags})
    lines = []
    for flag in flags:
        flagged = [zone for zone in zones if any(r.reading.zone == zone and flag in r.reading.flags for r in rows)]
        named = ", ".join(flagged) if len(flagged) < len(zones) else "every zone"
        lines.append(_printable(f"{flag}: {named}"))
    return lines


def verdict_lines(rows: Sequence[Row], *, with_run: bool) -> list[str]:
    """Say below a table why readings are lower bounds or to be retaken, and what to do; one line a reason.

    Parameters
    ----------
    rows : sequence of Row
    with_run : bool
        Whether readings are named with their run.
    """
    found: dict[Flag, list[str]] = {}
    for row in rows:
        name = f"{row.label.run} {row.reading.zone}" if with_run else row.reading.zone
        for flag in deciding(row.reading.flags):
            found.setdefault(flag, []).append(name)
    worst = sorted(found.items(), key=lambda item: -VERDICTS.index(item[0].verdict))
    return [_printable(f"{flag.verdict}: {_few(names)}: {flag.reason} {flag.remedy}".rstrip()) for flag, names in worst]


def _few(names: list[str]) -> str:
    once = list(dict.fromkeys(names))
    more = f" and {len(once) - _NAMED} more" if len(once) > _NAMED else ""
    return ", ".join(once[:_NAMED]) + more


_NAMED = 4
"""Readings named in a line; the table has all of them."""

_STYLES = {"usable": "", "lower bound": "yellow", "retake": "red"}


def _figures(reading: Reading) -> tuple[str, str, str, str, str]:
    place = ""
    if math.isfinite(reading.hot_x_mm):
        place = f"{rounded(reading.hot_x_mm, 1)}, {rounded(reading.hot_y_mm, 1)}"
    return (
        reading.headline(),
        reading.rise_headline(),
        rounded(reading.mean_degc, decimals_of(reading.U_max_k)) if math.isfinite(reading.mean_degc) else "",
        place,
        str(reading.pixels),
    )


def _flags(reading: Reading) -> str:
    """Join the flags; the one that leaves a place open says by how much."""
    if not math.isfinite(reading.place_off_mm):
        return " ".join(reading.flags)
    off = f"height-not-corrected (up to {math.ceil(reading.place_off_mm)} mm off)"
    return " ".join(off if flag == "height-not-corrected" else flag for flag in reading.flags)


def _printable(text: str) -> str:
    return "".join(character if character.isprintable() else "·" for character in text)
