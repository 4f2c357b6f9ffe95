"""Shapes of a board file: made from their keys, and held against the plane geometry they must obey."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from irspot.board import Zone
from irspot.files.board_keys import SHAPE_KEYS
from irspot.files.findings import Findings, Loc, show
from irspot.shapes import (
    BORDER_MM,
    BoolArray,
    Circle,
    FloatArray,
    Polygon,
    Shape,
    crossing_edges,
    distance_to_border,
    rectangle,
    signed_area,
)

MIN_AREA_MM2: Final = 1e-6
"""Below it a polygon is a line for all purposes: a thousandth of a square millimetre's thousandth."""
VISIBLE_MM: Final = 0.01
"""Overhangs and overlaps below it are rounding of the drawing and not worth a word."""
_BORDER_SAMPLES: Final = 240
_GRID: Final = 24
_MAX_PAIRS: Final = 500
"""Overlaps looked at: beyond it a board is more overlap than zones, and enough has been said."""


def shape_of(table: Mapping[str, Any], loc: Loc, findings: Findings) -> Shape | None:
    """Make the one shape a table describes; None where it describes none or a wrong one.

    Parameters
    ----------
    table : mapping
        With at most one each of ``polygon_mm``, ``rect_mm``, ``circle_mm``, of sound types.
    loc : tuple
        Where the table stands.
    findings : Findings
    """
    given = [key for key in SHAPE_KEYS if key in table or findings.broken(*loc, key)]
    if len(given) != 1:
        found = " and ".join(given) or "none"
        findings.error(loc, "needs exactly one shape", found=found, wanted="polygon_mm, rect_mm or circle_mm")
        return None
    key = given[0]
    if key not in table:
        return None
    if key == "polygon_mm":
        return polygon_of(table[key], (*loc, key), findings)
    return (
        _rectangle(table[key], (*loc, key), findings)
        if key == "rect_mm"
        else _circle(table[key], (*loc, key), findings)
    )


def _rectangle(values: list[float], loc: Loc, findings: Findings) -> Polygon | None:
    x, y, width, height = values
    if width > 0.0 and height > 0.0:
        return rectangle(x, y, width, height)
    findings.error(loc, "width and height must be above 0", found=show(values), wanted="[x, y, width, height] in mm")
    return None


def _circle(values: list[float], loc: Loc, findings: Findings) -> Circle | None:
    x, y, radius = values
    if radius > 0.0:
        return Circle(x, y, radius)
    findings.error(loc, "the radius must be above 0", found=show(values), wanted="[x, y, radius] in mm")
    return None


def polygon_of(corners: list[list[float]], loc: Loc, findings: Findings) -> Polygon | None:
    """Make a polygon; None, with the reason noted, where it is not a simple one."""
    polygon = Polygon(tuple((x, y) for x, y in corners))
    if repeated := _repeated_corner(polygon.vertices_mm):
        first, second = repeated
        hint = "leave out the last; the polygon closes itself" if second == 0 else "leave one of them out"
        findings.error(loc, f"corner {second} repeats corner {first}", found=show(corners[first]), hint=hint)
    elif (crossing := crossing_edges(polygon.array_mm)) is not None:
        findings.error(loc, _crossing_message(*crossing, len(corners)), hint="list the corners in order along the edge")
    elif abs(signed_area(polygon.array_mm)) < MIN_AREA_MM2:
        findings.error(loc, "encloses no area", found=show(corners), wanted="corners that are not on one line")
    else:
        return polygon
    return None


def _repeated_corner(corners: tuple[tuple[float, float], ...]) -> tuple[int, int] | None:
    for index, corner in enumerate(corners):
        following = (index + 1) % len(corners)
        if corner == corners[following]:
            return index, following
    return None


def _crossing_message(first: int, second: int, count: int) -> str:
    edges = [f"{edge}–{(edge + 1) % count}" for edge in (first, second)]
    return f"crosses or touches itself: the edges between corners {edges[0]} and {edges[1]} meet"


def check_outline_origin(outline: Polygon, loc: Loc, findings: Findings) -> None:
    """Refuse an outline whose bounding box does not begin at the origin of all other places."""
    x0, y0, _, _ = outline.box_mm
    if abs(x0) > BORDER_MM or abs(y0) > BORDER_MM:
        hint = f"subtract ({x0:g}, {y0:g}) from every place of the file"
        findings.error(loc, "its bounding box must begin at (0, 0)", found=f"({x0:g}, {y0:g})", hint=hint)


def check_inside(shape: Shape, outline: Polygon, loc: Loc, findings: Findings) -> None:
    """Refuse a zone fully outside the outline; warn of one that reaches over it."""
    points = _samples(shape)
    inside = outline.contains(points[:, 0], points[:, 1])
    if not inside.any() and not _covers_any(shape, outline):
        hint = "places are in mm from the lower-left corner of the outline seen from the front, rear ones too"
        findings.error(loc, "lies outside the outline", found=_box_text(shape), wanted=_box_text(outline), hint=hint)
    elif (over := _overhang(points[~inside], outline)) > VISIBLE_MM:
        findings.warn(loc, f"reaches {over:.2f} mm over the outline")


def check_exclude(part: Shape, shape: Shape, loc: Loc, findings: Findings) -> None:
    """Warn of an excluded part that touches its zone nowhere and so excludes nothing."""
    points = _samples(part)
    if not shape.contains(points[:, 0], points[:, 1]).any() and not _covers_any(part, shape):
        findings.warn(loc, "lies outside its zone and leaves out nothing", found=_box_text(part))


def check_point(x_mm: float, y_mm: float, outline: Polygon, loc: Loc, what: str, findings: Findings) -> None:
    """Warn of a site or mark beside the board."""
    if not outline.contains(x_mm, y_mm):
        over = distance_to_border(outline.array_mm, x_mm, y_mm)
        findings.warn(loc, f"the {what} lies {over:.2f} mm outside the outline", found=f"({x_mm:g}, {y_mm:g})")


def check_overlaps(zones: Mapping[int, Zone], findings: Findings) -> None:
    """Warn of zones of one side that share more than an edge.

    Parameters
    ----------
    zones : mapping of int to Zone
        By place in the file.
    findings : Findings
    """
    places = list(zones)
    tested = 0
    boxes = np.array([zones[place].shape.box_mm for place in places]).reshape(-1, 4)
    for order, place in enumerate(places):
        low = np.maximum(boxes[order, :2], boxes[order + 1 :, :2])
        high = np.minimum(boxes[order, 2:], boxes[order + 1 :, 2:])
        for offset in np.flatnonzero(np.all(high - low > VISIBLE_MM, axis=1)):
            other = places[order + 1 + int(offset)]
            if zones[place].side == zones[other].side and tested < _MAX_PAIRS:
                tested += 1
                area = _shared_area(zones[place], zones[other], low[offset], high[offset])
                _warn_of_overlap(place, other, area, zones, findings)


def _warn_of_overlap(place: int, other: int, area: float, zones: Mapping[int, Zone], findings: Findings) -> None:
    if area > VISIBLE_MM**2:
        message = f"zones '{zones[place].id}' and '{zones[other].id}' overlap by about {_rough(area)} mm²"
        findings.warn(("zone", other), message, hint="their pixels count for both; an exclude shape parts them")


def _shared_area(one: Zone, other: Zone, low: FloatArray, high: FloatArray) -> float:
    # Uneven spacing keeps samples off common edges, which run at even places and angles.
    steps = (np.arange(_GRID) + 0.5 + 0.123 * np.sin(np.arange(_GRID))) / _GRID
    x, y = np.meshgrid(low[0] + (high[0] - low[0]) * steps, low[1] + (high[1] - low[1]) * steps**1.0001)
    both = _counts(one, x, y) & _counts(other, x, y)
    return float(both.mean() * np.prod(high - low))


def _counts(zone: Zone, x: FloatArray, y: FloatArray) -> BoolArray:
    inside = zone.shape.contains(x, y)
    for part in zone.exclude:
        inside &= ~part.contains(x, y)
    return inside


def _samples(shape: Shape) -> FloatArray:
    x0, y0, x1, y1 = shape.box_mm
    return shape.border_points(max(2.0 * (x1 - x0 + y1 - y0) / _BORDER_SAMPLES, BORDER_MM))


def _covers_any(shape: Shape, other: Shape) -> bool:
    """Say whether a shape contains any border point of another (it may enclose it whole)."""
    points = _samples(other)
    return bool(shape.contains(points[:, 0], points[:, 1]).any())


def _overhang(points: FloatArray, outline: Polygon) -> float:
    corners = outline.array_mm
    return max((distance_to_border(corners, float(x), float(y)) for x, y in points), default=0.0)


def _box_text(shape: Shape) -> str:
    x0, y0, x1, y1 = (0.0 if math.isclose(v, 0.0, abs_tol=1e-9) else v for v in shape.box_mm)
    return f"x {x0:g} to {x1:g}, y {y0:g} to {y1:g} mm"


def _rough(value: float) -> str:
    return f"{value:.0f}" if value >= 10.0 else f"{value:.2g}"
