"""The outline of a board in a DXF drawing."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from math import cos, radians, sin
from pathlib import Path
from typing import Any, Final

import numpy as np

from irspot.errors import LibraryMissing
from irspot.files.findings import Findings, known_or_list
from irspot.files.toml import plain_bytes
from irspot.layout.loops import FLAT_MM, MAX_DRAWING_BYTES, MAX_LINES, FloatArray, arc_points, refuse_far
from irspot.layout.packages import few

_INSTALL: Final = "pip install 'irspot[layout]'"
# $INSUNITS, after the DXF reference: 1 inches, 4 millimetres, 5 centimetres, 6 metres, 9 mils, 13 microns.
_MM_PER_UNIT: Final = {1: 25.4, 4: 1.0, 5: 10.0, 6: 1000.0, 9: 0.0254, 13: 0.001}
_DRAWN: Final = frozenset({"LINE", "ARC", "CIRCLE", "ELLIPSE", "LWPOLYLINE", "POLYLINE", "SPLINE"})


def dxf_lines(path: Path, findings: Findings, *, layer: str = "") -> tuple[list[FloatArray], tuple[str, ...]]:
    """Read the lines of a drawing.

    Parameters
    ----------
    path : Path
    findings : Findings
    layer : str
        Only this one; all where empty.

    Returns
    -------
    list of ndarray, shape (n, 2)
        mm, curves cut into chords.
    tuple of str
        Layers they are from.

    Raises
    ------
    FileInvalid
        If it is no DXF file, states no unit, or has no such layer.
    LibraryMissing
        If the library that reads it is not installed.
    """
    try:
        from ezdxf import disassemble, recover
    except ImportError as error:
        raise LibraryMissing("DXF files need the library ezdxf", file=str(path), hint=_INSTALL) from error
    plain_bytes(path, findings, "a DXF drawing", MAX_DRAWING_BYTES)
    try:
        document, _ = recover.readfile(path)
        entities = list(islice(disassemble.recursive_decompose(document.modelspace()), MAX_LINES + 1))
        drawn = [entity for entity in entities if entity.dxftype() in _DRAWN]
        layers = sorted({str(entity.dxf.layer) for entity in drawn})
    except Exception as error:  # the library raises what its parser meets
        findings.give_up(f"cannot be read as DXF: {str(error)[:120]}", wanted="a DXF drawing")
    factor = _MM_PER_UNIT.get(document.units)
    if factor is None:
        hint = "set the drawing's unit ($INSUNITS) to millimetres or inches and save it again"
        findings.give_up("states no unit of length", found=f"$INSUNITS = {document.units}", hint=hint)
    if layer:
        drawn = [entity for entity in drawn if str(entity.dxf.layer).casefold() == layer.casefold()]
        if not drawn:
            findings.give_up(f"has nothing on the layer '{layer}'", hint=known_or_list(layer, layers, "layer"))
    if len(entities) > MAX_LINES:
        findings.give_up("draws too much", wanted=f"at most {MAX_LINES} lines", hint="save the board's edge alone")
    try:
        lines = [factor * line for entity in drawn for line in _pieces(entity, factor)]
    except Exception as error:
        findings.give_up(f"has a curve that cannot be drawn: {str(error)[:120]}")
    return lines, (f"lines of the layers {few(layers)}",) if not layer and len(layers) > 1 else ()


def _pieces(entity: Any, factor: float) -> Iterator[FloatArray]:
    """Cut what is drawn into chords, in the drawing's unit; arcs by their own circle, not by curves that come near."""
    import ezdxf.path

    kind = entity.dxftype()
    flat = FLAT_MM / factor
    if kind in ("LWPOLYLINE", "POLYLINE"):
        for part in entity.virtual_entities():
            yield from _pieces(part, factor)
    elif kind in ("ARC", "CIRCLE") and entity.dxf.extrusion.z > 0.0:
        whole = kind == "CIRCLE"
        first, last = (0.0, 0.0) if whole else (entity.dxf.start_angle, entity.dxf.end_angle)
        centre, radius = entity.dxf.center, entity.dxf.radius
        refuse_far(factor * np.array([centre.x, centre.y, radius]))
        ends = [(centre.x + radius * cos(radians(a)), centre.y + radius * sin(radians(a))) for a in (first, last)]
        yield arc_points(ends[0], ends[1], (centre.x, centre.y), clockwise=False, flat=flat)
    else:
        path = ezdxf.path.make_path(entity)
        refuse_far(factor * np.array([(point.x, point.y) for point in path.control_vertices()]))
        points = [(point.x, point.y) for point in path.flattening(flat, segments=4)]
        if len(points) > 1:
            yield np.array(points, np.float64)
