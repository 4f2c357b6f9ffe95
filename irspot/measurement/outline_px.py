"""Shapes carried into the image: their border in px, and the largest circle that fits inside them."""

from __future__ import annotations

from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.registration.placement import Placement
from irspot.shapes import Circle, Polygon, Shape, following

FloatArray = NDArray[np.float64]

_STEP_PX: Final = 24.0
"""Length of the chords that stand for an edge bent by the lens: they stray some hundredths of a pixel."""
_SAGITTA_PX: Final = 0.02
"""How far the chords of a disc stray from it."""
_FEW_EDGES: Final = 8
_TOLERANCE_PX: Final = 0.05
_MOST_CELLS: Final = 20_000


def border_px(shape: Shape, placement: Placement) -> FloatArray:
    """Carry a shape's border into the stored image as a closed polyline.

    Parameters
    ----------
    shape : Polygon or Circle
    placement : Placement

    Returns
    -------
    ndarray, shape (n, 2)
        The corners of a polygon where straight stays straight, else points along the border; NaN behind the camera.
    """
    if isinstance(shape, Polygon) and not placement.optics.distorted:
        return placement.to_px(shape.array_mm)
    return placement.to_px(shape.border_points(_chord_mm(shape, placement)))


def across_px(shape: Shape, exclude: tuple[Shape, ...], placement: Placement) -> float:
    """Diameter of the largest circle that fits into a shape's image, outside all excluded parts.

    Geometry of the projected border, not of pixels, so it means the same for zones of a pixel and of a hundred; the
    frame's edge does not cut it. Exact for convex polygons of few corners and for discs under an undistorted lens,
    else within 0.1 px.

    Parameters
    ----------
    shape : Polygon or Circle
    exclude : tuple of Polygon or Circle
    placement : Placement

    Returns
    -------
    float
        px; NaN where part of the shape lies behind the camera.
    """
    if isinstance(shape, Circle) and not exclude and not placement.optics.distorted:
        return _ellipse_width(shape, placement.matrix)
    rings = [border_px(part, placement) for part in (shape, *exclude)]
    if not all(np.all(np.isfinite(ring)) for ring in rings):
        return float("nan")
    if not exclude and len(rings[0]) <= _FEW_EDGES and _convex(rings[0]):
        return _convex_inscribed(rings[0])
    return _inscribed(rings)


def _chord_mm(shape: Shape, placement: Placement) -> float:
    """Choose chords long enough to be few and short enough to keep to the border."""
    x0, y0, x1, y1 = shape.box_mm
    corners = placement.to_px(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
    size_px = float(np.hypot(*np.ptp(corners, axis=0)))
    if not np.isfinite(size_px) or size_px == 0.0:
        return float(np.hypot(x1 - x0, y1 - y0)) / 32.0
    px_per_mm = size_px / float(np.hypot(x1 - x0, y1 - y0))
    chord_px = _STEP_PX
    if isinstance(shape, Circle):
        # Sagitta of a chord c of a circle of radius r: c² / (8 r).
        chord_px = min(chord_px, float(np.sqrt(8.0 * _SAGITTA_PX * shape.radius_mm * px_per_mm)))
    return chord_px / px_per_mm


def _ellipse_width(circle: Circle, matrix: FloatArray) -> float:
    """Minor axis of a circle's image: the conic ``H⁻ᵀ C H⁻¹`` (Hartley & Zisserman, result 2.13)."""
    x, y, r = circle.x_mm, circle.y_mm, circle.radius_mm
    conic = np.array([[1.0, 0.0, -x], [0.0, 1.0, -y], [-x, -y, x * x + y * y - r * r]])
    back = np.linalg.inv(matrix)
    image = back.T @ conic @ back
    axes = np.linalg.eigvalsh(image[:2, :2])
    if not (axes[0] > 0.0 or axes[1] < 0.0):
        return float("nan")
    squares = -np.linalg.det(image) / np.linalg.det(image[:2, :2]) / axes
    return 2.0 * float(np.sqrt(squares.min())) if squares.min() > 0.0 else float("nan")


def _convex(ring: FloatArray) -> bool:
    edge = following(ring) - ring
    turned = following(edge)
    turn = edge[:, 0] * turned[:, 1] - edge[:, 1] * turned[:, 0]
    return bool(np.all(turn > 0.0) or np.all(turn < 0.0))


def _convex_inscribed(ring: FloatArray) -> float:
    """Largest inscribed circle of a convex polygon: it touches three edges and crosses none."""
    edge = following(ring) - ring
    normal = np.column_stack([-edge[:, 1], edge[:, 0]]) / np.hypot(*edge.T)[:, None]
    if float(np.mean((ring.mean(axis=0) - ring)[0] @ normal[0])) < 0.0:
        normal = -normal
    offset = np.sum(normal * ring, axis=1)
    triples = np.array(list(combinations(range(len(ring)), 3)))
    system = np.concatenate([normal, -np.ones((len(ring), 1))], axis=1)[triples]
    solvable = np.abs(np.linalg.det(system)) > 1e-9
    circles = np.linalg.solve(system[solvable], offset[triples[solvable]][..., None])[..., 0]
    room = circles[:, :2] @ normal.T - offset
    fits = np.all(room >= circles[:, 2:] - 1e-7, axis=1)
    return 2.0 * float(circles[fits, 2].max(initial=0.0))


def _inscribed(rings: list[FloatArray]) -> float:
    """Largest inscribed circle of one ring outside the others, by cells that are split while they can hold it."""
    low, high = rings[0].min(axis=0), rings[0].max(axis=0)
    size = max(float((high - low).min()) / 4.0, float((high - low).max()) / 100.0, _TOLERANCE_PX)
    x, y = (np.arange(a + size / 2.0, b + size / 2.0, size) for a, b in zip(low, high, strict=True))
    cells = np.column_stack([grid.ravel() for grid in np.meshgrid(x, y)])
    best = 0.0
    while len(cells):
        room = _room(cells, rings)
        best = max(best, float(room.max()))
        promising = room + size * np.sqrt(0.5) > best + _TOLERANCE_PX
        kept = cells[promising][np.argsort(-room[promising])[:_MOST_CELLS]]
        size /= 2.0
        cells = (kept[:, None, :] + size / 2.0 * np.array([[-1, -1], [-1, 1], [1, -1], [1, 1]])).reshape(-1, 2)
    return 2.0 * best


def _room(places: FloatArray, rings: list[FloatArray]) -> FloatArray:
    """Distance to the nearest border, negative outside the first ring and inside the others."""
    distance = np.full(len(places), np.inf)
    allowed = np.ones(len(places), dtype=bool)
    for number, ring in enumerate(rings):
        near, inside = _distance_and_side(places, ring)
        distance = np.minimum(distance, near)
        allowed &= inside if number == 0 else ~inside
    return np.where(allowed, distance, -distance)


def _distance_and_side(places: FloatArray, ring: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    edge_x, edge_y = (following(ring) - ring).T
    x, y = places[:, :1] - ring[:, 0], places[:, 1:] - ring[:, 1]
    share = (x * edge_x + y * edge_y) / np.maximum(edge_x * edge_x + edge_y * edge_y, 1e-300)
    share = np.minimum(np.maximum(share, 0.0), 1.0)
    miss_x, miss_y = x - share * edge_x, y - share * edge_y
    distance = np.sqrt((miss_x * miss_x + miss_y * miss_y).min(axis=1))
    crosses = (y < 0.0) != (y < edge_y)
    hits = crosses & ((edge_x * y > edge_y * x) == (edge_y > 0.0))
    return distance, np.asarray(hits.sum(axis=1) % 2 == 1)
