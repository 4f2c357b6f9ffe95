"""Whether hand-given points lie in the order they should: not swapped, not mirrored, not on one line.

A perspective view keeps the turning sense of every three points in front of the camera, or turns all of them over.
So the signs of all triangles, in mm and in px, tell a mirrored list (all opposite) from a swapped one (mixed).
"""

from __future__ import annotations

from itertools import combinations
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Order = Literal["same", "opposite", "mixed", "undecided"]

FLAT_PX: Final = 3.0
"""A triangle lower than this says nothing: points set by hand are a pixel or two off (common practice)."""
_MOST_POINTS: Final = 60


def order_of(xy_mm: FloatArray, xy_px: FloatArray) -> Order:
    """Compare the turning sense of all triangles of points.

    Parameters
    ----------
    xy_mm, xy_px : ndarray, shape (n, 2)

    Returns
    -------
    {"same", "opposite", "mixed", "undecided"}
        ``same`` where every triangle turns the same way in numbers of mm and of px (which, px having y down and mm
        having y up, is how the rear looks); ``undecided`` where no triangle is high enough to say.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [90.0, 0.0], [90.0, 90.0], [0.0, 90.0]])
    >>> order_of(square, square), order_of(square, square[::-1]), order_of(square, square[[0, 2, 1, 3]])
    ('same', 'opposite', 'mixed')
    """
    signs = _signs(xy_mm, xy_px)
    if not signs.size:
        return "undecided"
    if np.all(signs > 0):
        return "same"
    return "opposite" if np.all(signs < 0) else "mixed"


def swapped_pair(xy_mm: FloatArray, xy_px: FloatArray, wanted: Order) -> tuple[int, int] | None:
    """Find two points whose exchange puts the whole list in order.

    Parameters
    ----------
    xy_mm, xy_px : ndarray, shape (n, 2)
    wanted : {"same", "opposite"}

    Returns
    -------
    tuple of int or None
        None where no single exchange helps.
    """
    if len(xy_px) > 16:
        return None
    for i, j in combinations(range(len(xy_px)), 2):
        exchanged = xy_px.copy()
        exchanged[[i, j]] = exchanged[[j, i]]
        if order_of(xy_mm, exchanged) == wanted:
            return i, j
    return None


def flat_triple(xy_px: FloatArray, lowest_px: float = FLAT_PX) -> tuple[int, int, int] | None:
    """Find three points on (nearly) one line: the flattest triangle, if it is lower than `lowest_px`."""
    corners = _triples(len(xy_px))
    _, heights = _areas_and_heights(xy_px, corners)
    flattest = int(np.argmin(heights))
    if heights[flattest] >= lowest_px:
        return None
    i, j, k = corners[flattest]
    return int(i), int(j), int(k)


def closest_pair(xy_px: FloatArray) -> tuple[int, int, float]:
    """Find the two points closest to one another, and their distance."""
    distance = np.hypot(*(xy_px[:, None, :] - xy_px[None, :, :]).transpose(2, 0, 1))
    distance[np.tril_indices(len(xy_px))] = np.inf
    i, j = np.unravel_index(int(np.argmin(distance)), distance.shape)
    return int(i), int(j), float(distance[i, j])


def _signs(xy_mm: FloatArray, xy_px: FloatArray) -> NDArray[np.int64]:
    corners = _triples(len(xy_mm))
    area_mm, height_mm = _areas_and_heights(xy_mm, corners)
    area_px, height_px = _areas_and_heights(xy_px, corners)
    px_per_mm = float(np.std(xy_px)) / max(float(np.std(xy_mm)), 1e-300)
    telling = (height_px >= FLAT_PX) & (height_mm * px_per_mm >= FLAT_PX)
    return np.asarray(np.sign(area_mm * area_px)[telling], dtype=np.int64)


def _triples(count: int) -> NDArray[np.int64]:
    # Many points (a finely drawn outline) are thinned evenly: the triangles grow with the third power. The places are
    # one or more apart, so that no two round to the same point.
    chosen = np.linspace(0, count - 1, min(count, _MOST_POINTS)).round().astype(np.int64)
    return chosen[np.array(list(combinations(range(len(chosen)), 3)), dtype=np.int64)]


def _areas_and_heights(xy: FloatArray, corners: NDArray[np.int64]) -> tuple[FloatArray, FloatArray]:
    """Doubled signed areas, and the least height of each triangle."""
    a, b, c = (xy[corners[:, n]] for n in range(3))
    doubled = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    longest = np.max([np.hypot(*(b - a).T), np.hypot(*(c - b).T), np.hypot(*(a - c).T)], axis=0)
    return doubled, np.abs(doubled) / np.maximum(longest, 1e-300)
