"""The profile layer of a board: Gerber, RS-274X and X2."""

from __future__ import annotations

import contextlib
import io
import math
import re
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np

from irspot.errors import LibraryMissing
from irspot.files.findings import Findings
from irspot.files.toml import plain_bytes
from irspot.layout.loops import MAX_DRAWING_BYTES, MAX_LINES, FloatArray, arc_points, refuse_far

Point = tuple[float, float]
Arc = tuple[bool, Point]

_OFF_CIRCLE_MM: Final = 0.05
"""Files round arcs' centres to a ten-thousandth of an inch at worst."""
_MOST_REPEATS: Final = 1000
_INSTALL: Final = "pip install 'irspot[layout]'"


def gerber_lines(path: Path, findings: Findings) -> tuple[list[FloatArray], tuple[str, ...]]:
    """Read the lines of a profile layer: middles of its strokes, borders of its regions.

    Returns
    -------
    list of ndarray, shape (n, 2)
        mm, arcs cut into chords.
    tuple of str
        What of the file was not understood.

    Raises
    ------
    FileInvalid
        If it is no Gerber file, or states no unit.
    LibraryMissing
        If the library that reads it is not installed.
    """
    try:
        from gerbonara import graphic_objects as drawn
        from gerbonara.rs274x import GerberFile
    except ImportError as error:
        raise LibraryMissing("Gerber files need the library gerbonara", file=str(path), hint=_INSTALL) from error
    text = plain_bytes(path, findings, "a Gerber profile layer", MAX_DRAWING_BYTES).decode("latin-1")
    for times in re.finditer(r"SRX(\d+)Y(\d+)", text):
        if len(times[0]) > 12 or int(times[1]) * int(times[2]) > _MOST_REPEATS:
            findings.give_up("repeats itself too often", found=times[0][:40], hint="give the layer of one board")
    with warnings.catch_warnings(record=True) as said, contextlib.redirect_stdout(io.StringIO()):
        warnings.simplefilter("always")
        try:
            layer = GerberFile.from_string(text, filename=path.name)
            pieces = [p for item in layer.objects for p in _pieces(item, drawn.Arc, drawn.Line, drawn.Region)]
            lines = [_cut(*piece) for piece in pieces[: MAX_LINES + 1]]
        except Exception as error:  # the library raises what its parser meets
            reason = str(error).rsplit(": ", 1)[-1][:120]
            findings.give_up(f"cannot be read as Gerber: {reason}", wanted="a profile layer, RS-274X or X2")
    if len(pieces) > MAX_LINES:
        findings.give_up("draws too much", wanted=f"at most {MAX_LINES} lines", hint="give the profile layer alone")
    notes = (f"{len(said)} statements of the profile layer were not understood",) if said else ()
    return lines, notes


def _cut(start: Point, end: Point, arc: Arc | None) -> FloatArray:
    """Cut a piece into chords; a straight one is one."""
    refuse_far(np.array([start, end]))
    if arc is None:
        return np.array([start, end], np.float64)
    clockwise, centre = arc
    refuse_far(np.array(centre))
    off = abs(math.dist(start, centre) - math.dist(end, centre))
    if off > _OFF_CIRCLE_MM:
        raise ValueError(f"the ends of an arc lie on two circles, {off:.3f} mm apart")
    return arc_points(start, end, centre, clockwise=clockwise)


def _pieces(item: Any, arc_kind: Any, line_kind: Any, region_kind: Any) -> Iterator[tuple[Point, Point, Arc | None]]:
    """Give start and end of what an object draws, mm, and of an arc whether it is clockwise, and its centre."""

    def mm(point: tuple[float, float]) -> Point:
        return item.unit.convert_to("mm", point[0]), item.unit.convert_to("mm", point[1])

    if isinstance(item, region_kind):
        for start, end, (clockwise, centre) in item.iter_segments():
            yield mm(start), mm(end), None if clockwise is None else (clockwise, mm(centre))
    elif isinstance(item, arc_kind):
        yield mm(item.p1), mm(item.p2), (item.clockwise, mm(item.center))
    elif isinstance(item, line_kind):
        yield mm(item.p1), mm(item.p2), None
