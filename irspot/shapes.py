"""Regions in board millimetres: polygons and circles, and the plane geometry they need.

x right, y up, seen from the front of the board. A border belongs to its shape.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

BORDER_MM = 1e-6
"""How far beside a border a point still counts as on it: rounding of a mapping, far below anything visible."""


@dataclass(frozen=True, slots=True)
class Polygon:
    """A simple polygon.

    Parameters
    ----------
    vertices_mm : tuple of (float, float)
        Three or more corners, either way round, the last not repeating the first.
    """

    vertices_mm: tuple[tuple[float, float], ...]

    @property
    def array_mm(self) -> FloatArray:
        """Corners as an array, shape (n, 2)."""
        return np.array(self.vertices_mm, dtype=np.float64)

    @property
    def box_mm(self) -> tuple[float, float, float, float]:
        """Bounding box ``(x0, y0, x1, y1)``."""
        xs = [x for x, _ in self.vertices_mm]
        ys = [y for _, y in self.vertices_mm]
        return min(xs), min(ys), max(xs), max(ys)

    def contains(self, x_mm: ArrayLike, y_mm: ArrayLike) -> BoolArray:
        """Say which points lie inside or on the border."""
        return in_polygon(self.array_mm, np.asarray(x_mm, np.float64), np.asarray(y_mm, np.float64))

    def border_points(self, step_mm: float) -> FloatArray:
        """Points along the border no further than `step_mm` apart, corners included, shape (n, 2)."""
        corners = self.array_mm
        pieces = []
        for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            count = max(1, int(np.ceil(np.hypot(*(end - start)) / step_mm)))
            pieces.append(start + (end - start) * (np.arange(count) / count)[:, None])
        return np.concatenate(pieces)


@dataclass(frozen=True, slots=True)
class Circle:
    """A disc.

    Parameters
    ----------
    x_mm, y_mm, radius_mm : float
        Centre and radius.
    """

    x_mm: float
    y_mm: float
    radius_mm: float

    @property
    def box_mm(self) -> tuple[float, float, float, float]:
        """Bounding box ``(x0, y0, x1, y1)``."""
        r = self.radius_mm
        return self.x_mm - r, self.y_mm - r, self.x_mm + r, self.y_mm + r

    def contains(self, x_mm: ArrayLike, y_mm: ArrayLike) -> BoolArray:
        """Say which points lie inside or on the border."""
        dx = np.asarray(x_mm, np.float64) - self.x_mm
        dy = np.asarray(y_mm, np.float64) - self.y_mm
        return np.asarray(dx * dx + dy * dy <= (self.radius_mm + BORDER_MM) ** 2)

    def border_points(self, step_mm: float) -> FloatArray:
        """Points along the border no further than `step_mm` apart, at least 32, shape (n, 2)."""
        count = max(32, int(np.ceil(2.0 * np.pi * self.radius_mm / step_mm)))
        angle = 2.0 * np.pi * np.arange(count) / count
        return np.column_stack([self.x_mm + self.radius_mm * np.cos(angle), self.y_mm + self.radius_mm * np.sin(angle)])


Shape = Polygon | Circle


def rectangle(x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> Polygon:
    """Make a rectangle from its lower-left corner and size; the corners run counter-clockwise from it."""
    x1, y1 = x_mm + width_mm, y_mm + height_mm
    return Polygon(((x_mm, y_mm), (x1, y_mm), (x1, y1), (x_mm, y1)))


def signed_area(vertices: FloatArray) -> float:
    """Area by the shoelace formula, positive for counter-clockwise in x-right y-up axes.

    Parameters
    ----------
    vertices : ndarray, shape (n, 2)

    Examples
    --------
    >>> signed_area(np.array([[0.0, 0.0], [4.0, 0.0], [0.0, 3.0]]))
    6.0
    """
    # Relative to the first corner: far-off origins would cost digits.
    x, y = (vertices - vertices[0]).T
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def centroid(vertices: FloatArray) -> tuple[float, float]:
    """Centroid of a simple polygon.

    Parameters
    ----------
    vertices : ndarray, shape (n, 2)

    Returns
    -------
    tuple of float
        ``(x, y)``; NaN for a polygon without area.
    """
    x, y = (vertices - vertices[0]).T
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    area = float(0.5 * np.sum(cross))
    if area == 0.0:
        return float("nan"), float("nan")
    cx = float(np.sum((x + np.roll(x, -1)) * cross)) / (6.0 * area)
    cy = float(np.sum((y + np.roll(y, -1)) * cross)) / (6.0 * area)
    return cx + float(vertices[0, 0]), cy + float(vertices[0, 1])


def in_polygon(vertices: FloatArray, x: FloatArray, y: FloatArray) -> BoolArray:
    """Say which points lie inside a polygon or within `BORDER_MM` of its border (crossing-number rule).

    Parameters
    ----------
    vertices : ndarray, shape (n, 2)
    x, y : ndarray, any one shape

    Returns
    -------
    ndarray of bool, that shape
    """
    inside = np.zeros(np.shape(x), dtype=bool)
    border = np.zeros(np.shape(x), dtype=bool)
    for (x0, y0), (x1, y1) in zip(vertices, np.roll(vertices, -1, axis=0), strict=True):
        dx, dy = x1 - x0, y1 - y0
        length = float(np.hypot(dx, dy))
        if length == 0.0:
            continue
        across = (dx * (y - y0) - dy * (x - x0)) / length
        along = (dx * (x - x0) + dy * (y - y0)) / length
        border |= (np.abs(across) <= BORDER_MM) & (along >= -BORDER_MM) & (along <= length + BORDER_MM)
        if dy != 0.0:
            crosses = (y0 > y) != (y1 > y)
            # `across` has the sign of "left of the edge"; a ray to the right meets upward edges it lies left of.
            inside ^= crosses & ((across > 0.0) == (dy > 0.0))
    # A place without numbers compares false everywhere, which alone would not keep it out.
    return (inside & ~np.isnan(x)) | border


def crossing_edges(vertices: FloatArray) -> tuple[int, int] | None:
    """Find two edges of a polygon that cross or touch though they are not neighbours.

    Parameters
    ----------
    vertices : ndarray, shape (n, 2)

    Returns
    -------
    tuple of int or None
        Indices of the two edges (edge i runs from corner i to the next); None for a simple polygon.
    """
    count = len(vertices)
    ends = np.roll(vertices, -1, axis=0)
    for i in range(count):
        for j in range(i + 1, count):
            neighbours = j == i + 1 or (i == 0 and j == count - 1)
            if neighbours:
                if count > 2 and _folds_back(vertices[i], ends[i], vertices[j], ends[j]):
                    return i, j
            elif _segments_meet(vertices[i], ends[i], vertices[j], ends[j]):
                return i, j
    return None


def _turn(a: FloatArray, b: FloatArray, c: FloatArray) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _on_segment(a: FloatArray, b: FloatArray, p: FloatArray) -> bool:
    return bool(np.all(p >= np.minimum(a, b)) and np.all(p <= np.maximum(a, b)))


def _segments_meet(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> bool:
    t1, t2, t3, t4 = _turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b)
    if t1 * t2 < 0.0 and t3 * t4 < 0.0:
        return True
    return (
        (t1 == 0.0 and _on_segment(a, b, c))
        or (t2 == 0.0 and _on_segment(a, b, d))
        or (t3 == 0.0 and _on_segment(c, d, a))
        or (t4 == 0.0 and _on_segment(c, d, b))
    )


def _folds_back(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> bool:
    """Say whether two neighbouring edges lie on top of one another (the outline runs back on itself)."""
    shared_first = bool(np.all(b == c))
    p, q, r = (a, b, d) if shared_first else (b, a, c)
    return _turn(p, q, r) == 0.0 and float(np.dot(p - q, r - q)) > 0.0


def distance_to_border(vertices: FloatArray, x: float, y: float) -> float:
    """Distance from a point to the nearest place of a polygon's border.

    Parameters
    ----------
    vertices : ndarray, shape (n, 2)
    x, y : float
    """
    starts, ends = vertices, np.roll(vertices, -1, axis=0)
    edge = ends - starts
    length_squared = np.maximum(np.sum(edge * edge, axis=1), 1e-300)
    share = np.clip(np.sum((np.array([x, y]) - starts) * edge, axis=1) / length_squared, 0.0, 1.0)
    nearest = starts + share[:, None] * edge
    return float(np.min(np.hypot(nearest[:, 0] - x, nearest[:, 1] - y)))
