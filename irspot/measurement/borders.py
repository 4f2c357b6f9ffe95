"""Borders of zones in the frame, closely sampled, each place with how far misplacement may move it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.measurement.geometry import placement_of
from irspot.registration.placement import Placement
from irspot.registration.spread import steps_px
from irspot.shapes import Shape

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_STEP_PX: Final = 1.0
_MOST_PLACES: Final = 2000
_ROOM_PX: Final = 2.0
_MOST_SHARE: Final = 0.1
"""Of the frame's shorter side, that a border's standard uncertainty counts for at most."""
_PIXEL_U2: Final = 1.0 / 3.0
"""Variance of a border's place along each axis, px², by pixels being counted by their centres: the outermost one lies
inside the border by anything up to a pixel, always inside, so that a pixel is the bound (JCGM 100:2008, 4.3.7)."""
_NODES: Final = 12
"""Places of a border at which its uncertainty is computed; between them it hardly changes and is interpolated."""


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A shape that counts for a zone, or does not, at its height.

    Parameters
    ----------
    shape : Polygon or Circle
    view : Placement
        Carries it: the board's, or that of its height.
    height_mm : float
        At which `view` carries it; 0 for the board's.
    box_px : tuple of float
        ``(x0, y0, x1, y1)`` that its border keeps to in the frame; without numbers where some of it is behind the
        camera.
    """

    shape: Shape
    view: Placement
    height_mm: float
    box_px: tuple[float, float, float, float] = (-np.inf, -np.inf, np.inf, np.inf)

    def holds(self, xy_px: FloatArray) -> BoolArray:
        """Say which places of the frame lie in the shape, border included."""
        return self.shape.contains(*self.view.to_mm(xy_px).T)


@dataclass(frozen=True, slots=True, eq=False)
class Area:
    """A zone in the frame: one shape less others, with their borders.

    Parameters
    ----------
    inside : Part
    outside : tuple of Part
    places_px : ndarray, shape (n, 2)
        Along the borders of all of them, about a pixel apart, as far as the frame shows them.
    roots : ndarray, shape (n, 2, 2)
        Symmetric roots of the covariance of each place as far as pixels tell it, px.
    u_px : float
        Largest standard uncertainty of the border's place, in whichever direction; 0 where none of it is in view.
    """

    inside: Part
    outside: tuple[Part, ...]
    places_px: FloatArray
    roots: FloatArray
    u_px: float

    def holds(self, xy_px: FloatArray) -> BoolArray:
        """Say which places of the frame lie in the zone, border included."""
        held = self.inside.holds(xy_px)
        for part in self.outside:
            x0, y0, x1, y1 = part.box_px
            near = held & ~np.any((xy_px < (x0, y0)) | (xy_px > (x1, y1)), axis=1)
            if near.any():
                held[near] &= ~part.holds(xy_px[near])
        return held


@lru_cache(maxsize=4)
def areas_of(board: Board, placement: Placement) -> tuple[Area, ...] | None:
    """Give the areas of every zone of the side a placement shows, then `elsewhere`.

    Parameters
    ----------
    board : Board
    placement : Placement
        Kept by identity: the frames of a recording share it, and the work.

    Returns
    -------
    tuple of Area, or None
        None where the placement does not say how uncertain it is.
    """
    zones = board.zones_of(placement.side)
    views = [placement_of(zone, placement) for zone in zones]
    parts = [
        [Part(shape, view, 0.0 if view is placement else zone.height_mm) for shape in (zone.shape, *zone.exclude)]
        for zone, view in zip(zones, views, strict=True)
    ]
    # `elsewhere` ends where zones appear and, of raised ones, where they stand: see `geometry`.
    whole = [each[0] for each in parts]
    feet = [Part(part.shape, placement, 0.0) for part in whole if part.view is not placement]
    parts.append([Part(board.outline, placement, 0.0), *whole, *feet])
    borders = _borders({id(part): part for each in parts for part in each}, placement)
    if borders is None:
        return None
    return tuple(_area(each, borders) for each in parts)


def largest_of(roots: FloatArray) -> FloatArray:
    """Largest standard uncertainty of each place: the larger eigenvalue of its root, shape (n,)."""
    a, b, c = roots[:, 0, 0], roots[:, 1, 1], roots[:, 0, 1]
    return np.asarray(0.5 * (a + b) + np.hypot(0.5 * (a - b), c))


def _area(parts: Sequence[Part], borders: dict[int, tuple[FloatArray, FloatArray]]) -> Area:
    places, roots = zip(*(borders[id(part)] for part in parts), strict=True)
    outside = tuple(replace(part, box_px=_box(border)) for part, border in zip(parts[1:], places[1:], strict=True))
    shown, held = _in_view(np.concatenate(places), np.concatenate(roots), parts[0].view.size_px)
    return Area(parts[0], outside, shown, held, float(largest_of(held).max(initial=0.0)))


def _in_view(places: FloatArray, roots: FloatArray, size_px: tuple[int, int]) -> tuple[FloatArray, FloatArray]:
    """Keep the places that the frame shows; near a horizon, where anything may be anywhere, bound how far they move."""
    with np.errstate(invalid="ignore"):
        shown = np.all((places >= -_ROOM_PX) & (places <= np.array(size_px) + _ROOM_PX), axis=1)
    shown &= np.isfinite(roots).all(axis=(1, 2))
    roots = roots[shown]
    share = np.minimum(1.0, _MOST_SHARE * min(size_px) / np.maximum(largest_of(roots), 1e-300))
    return places[shown], roots * share[:, None, None]


def _box(border: FloatArray) -> tuple[float, float, float, float]:
    """Give what a border keeps to, with room for what it does between its places; everything for one with NaN."""
    if not np.isfinite(border).all():
        return -np.inf, -np.inf, np.inf, np.inf
    (x0, y0), (x1, y1) = border.min(axis=0) - _ROOM_PX, border.max(axis=0) + _ROOM_PX
    return float(x0), float(y0), float(x1), float(y1)


def _borders(parts: dict[int, Part], placement: Placement) -> dict[int, tuple[FloatArray, FloatArray]] | None:
    """Sample borders, and find the uncertainty of all those of one height together."""
    found = {}
    for height_mm in sorted({part.height_mm for part in parts.values()}):
        mine = {key: part for key, part in parts.items() if part.height_mm == height_mm}
        borders_mm = {key: part.shape.border_points(_step_mm(part)) for key, part in mine.items()}
        nodes = {
            key: np.linspace(0, len(border), _NODES, endpoint=False).astype(int) for key, border in borders_mm.items()
        }
        at = np.concatenate([borders_mm[key][nodes[key]] for key in mine])
        steps = steps_px(placement, at, height_mm)
        if steps is None:
            return None
        covariances = np.einsum("kni,knj->nij", steps, steps) + _PIXEL_U2 * np.eye(2)
        roots = _root(covariances).reshape(len(mine), _NODES, 3)
        for (key, part), of_nodes in zip(mine.items(), roots, strict=True):
            found[key] = part.view.to_px(borders_mm[key]), _between(of_nodes, nodes[key], len(borders_mm[key]))
    return found


def _step_mm(part: Part) -> float:
    """Choose the distance of places along a border: a pixel, or more for borders that would need too many."""
    x0, y0, x1, y1 = part.shape.box_mm
    corners = part.view.to_px(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
    round_mm = 2.0 * (x1 - x0 + y1 - y0)
    round_px = float(np.hypot(*(np.roll(corners, -1, axis=0) - corners).T).sum())
    if not np.isfinite(round_px) or round_px == 0.0:
        return round_mm / 200.0
    return max(_STEP_PX * round_mm / round_px, round_mm / _MOST_PLACES)


def _root(covariances: FloatArray) -> FloatArray:
    """Symmetric root of 2 × 2 covariances, as (xx, yy, xy): ``(C + √det 1) / √(trace + 2 √det)``."""
    a, b, c = covariances[:, 0, 0], covariances[:, 1, 1], covariances[:, 0, 1]
    middle = np.sqrt(np.maximum(a * b - c * c, 0.0))
    size = np.sqrt(np.maximum(a + b + 2.0 * middle, 1e-300))
    return np.column_stack([(a + middle) / size, (b + middle) / size, c / size])


def _between(of_nodes: FloatArray, nodes: NDArray[np.intp], count: int) -> FloatArray:
    """Interpolate roots along a closed border, shape (count, 2, 2)."""
    xx, yy, xy = (np.interp(np.arange(count), nodes, each, period=count) for each in of_nodes.T)
    return np.stack([np.column_stack([xx, xy]), np.column_stack([xy, yy])], axis=1)
