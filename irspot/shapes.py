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
        for start, end in zip(corners, following(corners), strict=True):
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


def following(corners: FloatArray) -> FloatArray:
    """Give every corner's successor, the first being the last's: `numpy.roll` for a fraction of its time.

    Parameters
    ----------
    corners : ndarray, shape (n, ...)

    Returns
    -------
    ndarray, that shape

    Examples
    --------
    >>> following(np.array([3.0, 4.0, 5.0]))
    array([4., 5., 3.])
    """
    return np.concatenate([corners[1:], corners[:1]])


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
    return float(0.5 * np.sum(x * following(y) - following(x) * y))


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
    cross = x * following(y) - following(x) * y
    area = float(0.5 * np.sum(cross))
    if area == 0.0:
        return float("nan"), float("nan")
    cx = float(np.sum((x + following(x)) * cross)) / (6.0 * area)
    cy = float(np.sum((y + following(y)) * cross)) / (6.0 * area)
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
    # Lists, since arithmetic of arrays with Python's own numbers is quicker than with numpy's.
    for (x0, y0), (x1, y1) in zip(vertices.tolist(), following(vertices).tolist(), strict=True):
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
    ends = following(vertices)
    indices = np.arange(count)
    # In blocks of rows: an outline of thousands of corners must not need memory for every pair of edges at once.
    step = max(1, _PAIRS_AT_ONCE // max(1, count))
    for first in range(0, count, step):
        i = indices[first : first + step, None]
        meet = _edges_meet(vertices[i], ends[i], vertices[None], ends[None])
        neighbours = ((i + 1) % count == indices) | ((indices + 1) % count == i)
        meet = np.where(neighbours, _folds_back(i, vertices, ends), meet) & (indices > i)
        if meet.any():
            row, j = np.argwhere(meet)[0]
            return first + int(row), int(j)
    return None


_PAIRS_AT_ONCE = 250_000


def _turn(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Twice the area of triangles, positive where c lies left of a → b; any shapes (..., 2) that broadcast."""
    ab, ac = b - a, c - a
    return np.asarray(ab[..., 0] * ac[..., 1] - ab[..., 1] * ac[..., 0])


def _on_segment(a: FloatArray, b: FloatArray, p: FloatArray) -> BoolArray:
    return np.asarray(np.all((p >= np.minimum(a, b)) & (p <= np.maximum(a, b)), axis=-1))


def _edges_meet(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> BoolArray:
    """Say which segments a–b and c–d have a point in common."""
    t1, t2, t3, t4 = _turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b)
    return np.asarray(
        ((t1 * t2 < 0.0) & (t3 * t4 < 0.0))
        | ((t1 == 0.0) & _on_segment(a, b, c))
        | ((t2 == 0.0) & _on_segment(a, b, d))
        | ((t3 == 0.0) & _on_segment(c, d, a))
        | ((t4 == 0.0) & _on_segment(c, d, b))
    )


def _folds_back(i: NDArray[np.intp], vertices: FloatArray, ends: FloatArray) -> BoolArray:
    """Say which edges i, shape (n, 1), lie on top of a neighbouring edge: the outline runs back on itself.

    Of an edge and its successor, their common corner is the first one's end. Shape (n, count), with a meaning for
    neighbours only.
    """
    count = len(vertices)
    follows = (i + 1) % count == np.arange(count)
    common = np.where(follows[..., None], ends[i], vertices[i])
    mine = np.where(follows[..., None], vertices[i], ends[i])
    theirs = np.where(follows[..., None], ends[None], vertices[None])
    back = np.sum((mine - common) * (theirs - common), axis=-1) > 0.0
    return np.asarray((_turn(mine, common, theirs) == 0.0) & back)


def distance_to_border(vertices: FloatArray, x: float, y: float) -> float:
    """Distance from a point to the nearest place of a polygon's border.

    Parameters
    ----------
    vertices : ndarray, shape (n, 2)
    x, y : float
    """
    starts, ends = vertices, following(vertices)
    edge = ends - starts
    length_squared = np.maximum(np.sum(edge * edge, axis=1), 1e-300)
    share = np.clip(np.sum((np.array([x, y]) - starts) * edge, axis=1) / length_squared, 0.0, 1.0)
    nearest = starts + share[:, None] * edge
    return float(np.min(np.hypot(nearest[:, 0] - x, nearest[:, 1] - y)))
