"""Bending those leaders that would run through another spot's ring."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Point = tuple[float, float]
Leader = tuple[Point, ...]
"""From the ring of a spot to its callout: two points, or three where it is bent."""

_DIRECTIONS = 16
_BEND_DISTANCES = (2.0, 3.2, 5.0)
"""From the spot, in radii of the ring."""


def bent_clear(
    leaders: Sequence[Leader | None],
    spots: Sequence[Point | None],
    ring: float,
    bounds: tuple[float, float, float, float],
) -> list[Leader | None]:
    """Bend leaders that pass through another spot's ring, where a single bend clears all rings and leaders.

    Parameters
    ----------
    leaders : sequence of leader or None
        Straight ones.
    spots : sequence of (x, y) or None
        What each points at.
    ring : float
        Radius to keep clear of, px.
    bounds : tuple of float
        ``(x0, y0, x1, y1)`` that bends stay in.

    Returns
    -------
    list of leader or None
        Those for which no bend helps stay as they are.
    """
    result = list(leaders)
    centers = np.array([spot for spot in spots if spot is not None], np.float64).reshape(-1, 2)
    for i, (leader, spot) in enumerate(zip(leaders, spots, strict=True)):
        if leader is None or spot is None or _clears(leader, centers, spot, ring):
            continue
        others = [other for j, other in enumerate(result) if other is not None and j != i]
        around = _segments(others)
        for path in _bends(spot, leader[-1], ring, bounds):
            if _clears(path, centers, spot, ring) and _leaves_own_ring(path, spot, ring) and not _meets(path, around):
                result[i] = path
                break
    return result


def _bends(spot: Point, port: Point, ring: float, bounds: tuple[float, float, float, float]) -> Iterator[Leader]:
    """Give paths with one bend, the shortest first."""
    angles = 2.0 * np.pi * np.arange(_DIRECTIONS) / _DIRECTIONS
    ways = np.column_stack([np.cos(angles), np.sin(angles)])
    paths = []
    for way in np.tile(ways, (len(_BEND_DISTANCES), 1)) * np.repeat(_BEND_DISTANCES, _DIRECTIONS)[:, None]:
        bend = np.array(spot) + ring * way
        if bounds[0] <= bend[0] <= bounds[2] and bounds[1] <= bend[1] <= bounds[3]:
            start = np.array(spot) + ring * way / np.hypot(*way)
            length = float(np.hypot(*(bend - start)) + np.hypot(*(np.array(port) - bend)))
            paths.append((length, (_point(start), _point(bend), port)))
    return (path for _, path in sorted(paths))


def _point(array: FloatArray) -> Point:
    return float(array[0]), float(array[1])


def _segments(leaders: Sequence[Leader]) -> FloatArray:
    """Every straight piece as ``(start, end)``, shape (n, 2, 2)."""
    pieces = [piece for leader in leaders for piece in pairwise(leader)]
    return np.array(pieces, np.float64).reshape(-1, 2, 2)


def _clears(leader: Leader, centers: FloatArray, own: Point, ring: float) -> bool:
    others = centers[np.any(centers != np.array(own), axis=1)]
    return all(bool(np.all(distance_to_segment(others, *piece) >= ring)) for piece in _segments([leader]))


def _leaves_own_ring(path: Leader, spot: Point, ring: float) -> bool:
    return bool(distance_to_segment(np.array([spot]), np.array(path[1]), np.array(path[2]))[0] >= ring)


def distance_to_segment(points: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Distance of points from a segment.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
    start, end : ndarray, shape (2,)

    Returns
    -------
    ndarray, shape (n,)
    """
    along = end - start
    share = np.clip((points - start) @ along / max(float(along @ along), 1e-12), 0.0, 1.0)
    off = points - start - share[:, None] * along
    return np.asarray(np.hypot(off[:, 0], off[:, 1]))


def _meets(path: Leader, pieces: FloatArray) -> bool:
    """Say whether any part of a path crosses one of the pieces."""
    c, d = pieces[:, 0], pieces[:, 1]
    for a, b in _segments([path]):
        if np.any((turns(a, b, c) * turns(a, b, d) < 0) & (turns(c, d, a) * turns(c, d, b) < 0)):
            return True
    return False


def turns(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Sign of the turn from a over b to c; two segments cross where each sees the other's ends on either side.

    Parameters
    ----------
    a, b, c : ndarray, shape (..., 2)
        Broadcast against one another.

    Returns
    -------
    ndarray, shape (...)
        -1, 0 or 1; the sign alone, because products of two tiny turns would vanish.
    """
    turn = (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]) - (b[..., 1] - a[..., 1]) * (c[..., 0] - a[..., 0])
    return np.sign(turn)
