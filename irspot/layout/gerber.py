"""The profile layer of a board: Gerber, RS-274X and X2."""

from __future__ import annotations

import contextlib
import io
import math
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np

from irspot.errors import LibraryMissing
from irspot.files.findings import Findings
from irspot.files.toml import plain_bytes
from irspot.layout.loops import FloatArray, arc_points

Point = tuple[float, float]
Arc = tuple[bool, Point]

_OFF_CIRCLE_MM: Final = 0.05
"""Files round arcs' centres to a ten-thousandth of an inch at worst."""
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
    text = plain_bytes(path, findings, "a Gerber profile layer").decode("latin-1")
    with warnings.catch_warnings(record=True) as said, contextlib.redirect_stdout(io.StringIO()):
        warnings.simplefilter("always")
        try:
            layer = GerberFile.from_string(text, filename=path.name)
        except Exception as error:  # the library raises what its parser meets
            reason = str(error).rsplit(": ", 1)[-1][:120]
            findings.give_up(f"cannot be read as Gerber: {reason}", wanted="a profile layer, RS-274X or X2")
    lines = []
    for item in layer.objects:
        for start, end, arc in _pieces(item, drawn.Arc, drawn.Line, drawn.Region):
            if arc is None:
                lines.append(np.array([start, end], np.float64))
                continue
            clockwise, centre = arc
            off = abs(math.dist(start, centre) - math.dist(end, centre))
            if off > _OFF_CIRCLE_MM:
                findings.give_up("an arc's ends lie on two circles", found=f"{off:.3f} mm apart")
            lines.append(arc_points(start, end, centre, clockwise=clockwise))
    notes = (f"{len(said)} statements of the profile layer were not understood",) if said else ()
    return lines, notes


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
