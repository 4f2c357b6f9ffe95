"""A board's outline from a layout file: a Gerber profile layer or a DXF drawing."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from irspot.files.findings import Findings
from irspot.files.toml import plain_bytes
from irspot.layout.loops import FLAT_MM, MAX_DRAWING_BYTES, FloatArray, Loops, loops_of
from irspot.shapes import Polygon


@dataclass(frozen=True, slots=True)
class Drawn:
    """An outline, moved so that its box starts at (0, 0).

    Parameters
    ----------
    outline : Polygon
    origin_mm : tuple of float
        Lower-left corner of its box in the file's own system.
    notes : tuple of str
        How it was read, for people.
    """

    outline: Polygon
    origin_mm: tuple[float, float]
    notes: tuple[str, ...]


def kind_of(path: Path) -> str:
    """Say whether a file is ``gerber``, ``dxf`` or neither (empty), by how it begins.

    Raises
    ------
    FileInvalid
        If it cannot be read.
    """
    wanted = "a Gerber profile layer or a DXF drawing"
    head = plain_bytes(path, Findings(str(path)), wanted, MAX_DRAWING_BYTES)[:20_000]
    if head.startswith(b"AutoCAD Binary DXF") or re.match(rb"\s*(?:999\s[^\n]*\n\s*)*0\s*\r?\n\s*SECTION\b", head):
        return "dxf"
    return "gerber" if re.search(rb"%(?:FS[LT]|MO(?:MM|IN)|TF\.|ADD)|^G04", head, re.MULTILINE) else ""


def read_outline(path: Path, layer: str = "") -> Drawn:
    """Read a board's outline.

    Parameters
    ----------
    path : Path
    layer : str
        Of a DXF drawing; all where empty.

    Returns
    -------
    Drawn
        The largest closed loop; arcs are chords that stand off them by up to `FLAT_MM`.

    Raises
    ------
    FileInvalid
        If the file is of another kind or draws no closed loop.
    LibraryMissing
        If the library that reads it is not installed.
    """
    from irspot.layout.dxf import dxf_lines
    from irspot.layout.gerber import gerber_lines

    findings = Findings(str(path))
    kind = kind_of(path)
    if kind == "gerber":
        lines, notes = gerber_lines(path, findings)
    elif kind == "dxf":
        lines, notes = dxf_lines(path, findings, layer=layer)
    else:
        findings.give_up("is no outline", wanted="a Gerber profile layer (RS-274X, X2) or a DXF drawing")
    loops = loops_of(lines)
    if loops.largest is None:
        if not lines:
            findings.give_up("draws no line", hint="give the layer of the board's edge")
        hint = "close the outline in the layout program, or give --size-mm"
        findings.give_up("draws no closed loop", found=_gap_words(loops), hint=hint)
    return _drawn(loops.largest, loops, notes)


def _drawn(ring: FloatArray, loops: Loops, notes: tuple[str, ...]) -> Drawn:
    low = ring.min(axis=0)
    outline = Polygon(tuple((round(x, 6), round(y, 6)) for x, y in (ring - low).tolist()))
    _, _, width, height = outline.box_mm
    words = [f"outline {width:.2f} x {height:.2f} mm of {len(ring)} corners, arcs within {FLAT_MM:g} mm"]
    if loops.inside:
        words.append(f"loops inside it (cut-outs, holes), left out: {loops.inside}")
    if loops.beside:
        words.append(f"smaller loops beside it, left out: {loops.beside}")
    if loops.open_ends:
        words.append(f"open lines, left out: {loops.open_ends}")
    return Drawn(outline, (float(low[0]), float(low[1])), (*words, *notes))


def _gap_words(loops: Loops) -> str:
    return f"open lines: {loops.open_ends}, the nearest two ends {loops.gap_mm:.3f} mm apart"
