"""The outline of a board in a DXF drawing."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, radians, sin
from pathlib import Path
from typing import Any, Final

import numpy as np

from irspot.errors import LibraryMissing
from irspot.files.findings import Findings, known_or_list
from irspot.files.toml import plain_bytes
from irspot.layout.loops import FLAT_MM, FloatArray, arc_points

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
        import ezdxf
        from ezdxf import disassemble, recover
    except ImportError as error:
        raise LibraryMissing("DXF files need the library ezdxf", file=str(path), hint=_INSTALL) from error
    plain_bytes(path, findings, "a DXF drawing")
    try:
        document, _ = recover.readfile(path)
        entities: list[Any] = list(disassemble.recursive_decompose(document.modelspace()))
    except (OSError, ezdxf.DXFError, ValueError, KeyError, IndexError, TypeError, AttributeError) as error:
        findings.give_up(f"cannot be read as DXF: {str(error)[:120]}", wanted="a DXF drawing")
    factor = _MM_PER_UNIT.get(document.units)
    if factor is None:
        hint = "set the drawing's unit ($INSUNITS) to millimetres or inches and save it again"
        findings.give_up("states no unit of length", found=f"$INSUNITS = {document.units}", hint=hint)
    drawn = [entity for entity in entities if entity.dxftype() in _DRAWN]
    layers = sorted({entity.dxf.layer for entity in drawn})
    if layer:
        drawn = [entity for entity in drawn if entity.dxf.layer.casefold() == layer.casefold()]
        if not drawn:
            findings.give_up(f"has nothing on the layer '{layer}'", hint=known_or_list(layer, layers, "layer"))
    lines = [factor * line for entity in drawn for line in _pieces(entity, FLAT_MM / factor)]
    return lines, (f"lines of the layers {', '.join(layers)}",) if not layer and len(layers) > 1 else ()


def _pieces(entity: Any, flat: float) -> Iterator[FloatArray]:
    """Cut what is drawn into chords, in the drawing's unit; arcs by their own circle, not by curves that come near."""
    import ezdxf.path

    kind = entity.dxftype()
    if kind in ("LWPOLYLINE", "POLYLINE"):
        for part in entity.virtual_entities():
            yield from _pieces(part, flat)
    elif kind in ("ARC", "CIRCLE") and entity.dxf.extrusion.z > 0.0:
        whole = kind == "CIRCLE"
        first, last = (0.0, 0.0) if whole else (entity.dxf.start_angle, entity.dxf.end_angle)
        centre, radius = entity.dxf.center, entity.dxf.radius
        ends = [(centre.x + radius * cos(radians(a)), centre.y + radius * sin(radians(a))) for a in (first, last)]
        yield arc_points(ends[0], ends[1], (centre.x, centre.y), clockwise=False, flat=flat)
    else:
        points = [(point.x, point.y) for point in ezdxf.path.make_path(entity).flattening(flat, segments=4)]
        if len(points) > 1:
            yield np.array(points, np.float64)
