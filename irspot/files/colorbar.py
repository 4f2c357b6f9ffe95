"""The ``[colorbar]`` table of a camera file: where the bar of its colour-mapped frames is, and its numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from irspot.camera import Colorbar
from irspot.color_wish import CLOSEST_TICKS
from irspot.files.findings import Findings, Loc, show

Box = tuple[int, int, int, int]


def colorbar_of(table: Mapping[str, Any], findings: Findings) -> Colorbar:
    """Check the table across its keys and convert it.

    Parameters
    ----------
    table : mapping
        Keys of a sound type.
    findings : Findings
        What is wrong is added.
    """
    bar = _box(table["bar_px"], ("colorbar", "bar_px"), findings) if "bar_px" in table else None
    ignored = enumerate(table.get("ignore_px", []))
    low_end = table.get("low_end")
    if bar is not None and low_end is not None:
        _check_low_end(bar, low_end, findings)
    return Colorbar(
        bar_px=bar,
        low_end=low_end,
        ticks=_ticks(table.get("ticks", []), findings),
        ignore_px=tuple(_box(box, ("colorbar", "ignore_px", index), findings) for index, box in ignored),
    )


def _box(values: Sequence[int], loc: Loc, findings: Findings) -> Box:
    x0, y0, x1, y1 = values
    if x0 >= x1 or y0 >= y1 or min(values) < 0:
        findings.error(
            loc,
            "is no box",
            found=show(list(values)),
            wanted="[x0, y0, x1, y1], upper left to lower right, ends exclusive",
        )
    return x0, y0, x1, y1


def _check_low_end(bar: Box, low_end: str, findings: Findings) -> None:
    upright = bar[3] - bar[1] > bar[2] - bar[0]
    if upright != (low_end in ("top", "bottom")):
        findings.error(
            ("colorbar", "low_end"),
            "contradicts the shape of bar_px",
            found=show(low_end),
            wanted="top or bottom for an upright bar, left or right for a lying one",
        )


def _ticks(rows: Sequence[Sequence[float]], findings: Findings) -> tuple[tuple[float, float], ...]:
    loc: Loc = ("colorbar", "ticks")
    ticks = tuple((place, degc) for place, degc in rows)
    if len(ticks) == 1:
        findings.error(loc, "one tick alone does not make a scale", wanted="two or more")
    for index, (place, _) in enumerate(ticks):
        if not 0.0 <= place <= 1.0:
            findings.error((*loc, index), "a place lies from 0 (low end) to 1 (high end)", found=f"{place:g}")
    for index, (first, second) in enumerate(pairwise(ticks), 1):
        if second[0] - first[0] < CLOSEST_TICKS or first[1] >= second[1]:
            findings.error((*loc, index), "ticks must rise in place and in temperature", found=show(list(second)))
    return ticks
