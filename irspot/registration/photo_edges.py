"""An outline moved onto the border between a board and its bench in a photo, and what of it colours support."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.opencv import load_cv2
from irspot.registration.edge_map import noise_of, read
from irspot.registration.edge_profiles import profiles_of
from irspot.registration.homography import apply
from irspot.registration.outline_score import OutlinePoints, carried_outline
from irspot.registration.photo_view import APART, BLUR_PX, PhotoView
from irspot.registration.refine import Refined, refine
from irspot.registration.surface_colors import SurfaceColor, color_of_surface

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

LIKE: Final = 4.0
"""Spreads to which a colour is the board's, or the bench's."""
_FEWEST_POINTS: Final = 60
_REACHES_PX: Final = ((5.0, 3.5, 2.5), (3.0, 2.0), (2.5, 2.0))
_FURTHEST_PX: Final = 6.0
"""How far edges may lead an outline away from where it was found, step by step."""
_LEAST_TINT: Final = 20.0
"""Levels by which board and bench differ in tint where that decides."""
_INSIDE_PX: Final = 6.0
_OUTSIDE_PX: Final = 5.0
"""How far from the outline it is looked whether there is board, and bench."""
_WITHIN_PX: Final = 4.0
_JUST_PX: Final = 2.0
"""How far inside the colour is the board's; and how far in and out it is nearer to the board's, to the bench's."""


@dataclass(frozen=True, slots=True, eq=False)
class OnEdges:
    """An outline on its edges.

    Where colours step from board to bench just there, where a little further in or out, and where there is bench inside
    or board outside.
    """

    refined: Refined
    corners_px: FloatArray
    own: Bool
    elsewhere: Bool
    off: Bool
    shares: FloatArray
    facing: float

    @property
    def worth(self) -> float:
        """How well colours support it: 0 to 2."""
        return float(self.own.mean() + self.shares.min())


def on_edges(view: PhotoView, points: OutlinePoints, board: Board, start: FloatArray, facing: float) -> OnEdges | None:
    """Move an outline onto the board's edges; None where they do not hold it, or only far from where it was found."""
    matrix = start
    refined: Refined | None = None
    for reaches in _REACHES_PX:
        strip = _strip_of(view, points, matrix)
        if np.count_nonzero(strip.between) < _FEWEST_POINTS:
            return None
        image = _against_bench(view, points, matrix, strip.between)
        refined = _refined(image, view, _only(points, strip.board), matrix, reaches)
        if refined is None:
            return None
        matrix = refined.matrix
    if refined is None or not _stayed(points, start, matrix, view):
        return None
    own, elsewhere, off = _steps(view, points, refined.matrix)
    shares = np.array([own[points.edge == edge].mean() for edge in np.unique(points.edge)])
    return OnEdges(refined, apply(refined.matrix, board.outline.array_mm), own, elsewhere, off, shares, facing)


def _refined(
    image: F32, view: PhotoView, points: OutlinePoints, matrix: FloatArray, reaches: tuple[float, ...]
) -> Refined | None:
    profiles = profiles_of(image, noise_of(image), BLUR_PX)
    (refined,) = refine(profiles, points, matrix[None], view.lens, view.size_px, reaches)
    return refined


def _only(points: OutlinePoints, some: Bool) -> OutlinePoints:
    return OutlinePoints(points.xy_mm[some], points.along[some], points.edge[some])


@dataclass(frozen=True, slots=True, eq=False)
class _Strip:
    """What lies along an outline: where the board's own colour comes up to it, where bench lies outside as well."""

    board: Bool
    between: Bool
    mask: SurfaceColor


def _strip_of(view: PhotoView, points: OutlinePoints, matrix: FloatArray) -> _Strip:
    inside, outside = (_beside(points, matrix, view, at) for at in (_INSIDE_PX, -_OUTSIDE_PX))
    within = np.zeros(view.solid.shape, np.uint8)
    load_cv2().fillPoly(within, [np.rint(inside).astype(np.int32)], 1)
    mask = color_of_surface(view.smooth, within.astype(bool) if within.any() else view.solid)
    other = view.other.astype(np.float32)
    board = _is_like(mask, view, inside) & (read(other, *inside.T) > 0.5)
    return _Strip(board, board & (read(other, *outside.T) < 0.5), mask)


def _is_like(mask: SurfaceColor, view: PhotoView, places: FloatArray) -> Bool:
    return np.asarray(mask.apart(_colors_at(view.smooth, places), places[:, 0], places[:, 1]) < LIKE)


def _steps(view: PhotoView, points: OutlinePoints, matrix: FloatArray) -> tuple[Bool, Bool, Bool]:
    """Say at which points of an outline colours are as `OnEdges` has them."""
    strip = _strip_of(view, points, matrix)
    if not strip.between.any():
        return strip.between, strip.between, ~strip.between
    image = _against_bench(view, points, matrix, strip.between)
    levels = [
        read(image, *_beside(points, matrix, view, at).T) for at in (_INSIDE_PX, _JUST_PX, -_JUST_PX, -_OUTSIDE_PX)
    ]
    middle = 0.5 * (levels[0] + levels[3])  # of each point by itself: light and shadow differ along an outline
    within = _is_like(strip.mask, view, _beside(points, matrix, view, _WITHIN_PX))
    own = strip.between & within & (levels[1] > middle) & (levels[2] < middle)
    bench_inside = read(view.apart, *_beside(points, matrix, view, _INSIDE_PX).T) < LIKE
    board_outside = _is_like(strip.mask, view, _beside(points, matrix, view, -_OUTSIDE_PX)) & ~_is_bench(
        view, points, matrix
    )
    return own, strip.between & ~own, (bench_inside & ~within) | board_outside


def _is_bench(view: PhotoView, points: OutlinePoints, matrix: FloatArray) -> Bool:
    return np.asarray(read(view.apart, *_beside(points, matrix, view, -_OUTSIDE_PX).T) < APART)


def _against_bench(view: PhotoView, points: OutlinePoints, matrix: FloatArray, between: Bool) -> F32:
    """Give the picture in which board and bench differ most along an outline: a step there is where it is.

    Where the board is of another tint than the bench, that is its tint: shadows do not show in it. Else it is a mix of
    red, green and blue.
    """
    inside, outside = (_beside(points, matrix, view, at)[between] for at in (_INSIDE_PX, -_OUTSIDE_PX))
    if float(np.median(read(view.tint, *inside.T)) - np.median(read(view.tint, *outside.T))) > _LEAST_TINT:
        return view.tint
    weights = np.median(_colors_at(view.smooth, inside), axis=0) - np.median(_colors_at(view.smooth, outside), axis=0)
    return np.asarray(view.smooth @ (weights / max(float(np.abs(weights).sum()), 1e-9)), np.float32)


def _stayed(points: OutlinePoints, start: FloatArray, end: FloatArray, view: PhotoView) -> bool:
    """Say whether an outline ended near where it began: edges must not lead it away step by step."""
    places = [carried_outline(points, matrix[None], view.lens, view.size_px)[0][0] for matrix in (start, end)]
    return bool(np.nanmax(np.hypot(*(places[1] - places[0]).T)) < _FURTHEST_PX)


def _colors_at(smooth: F32, places: FloatArray) -> F32:
    planes = [read(np.ascontiguousarray(smooth[..., k]), places[:, 0], places[:, 1]) for k in range(3)]
    return np.stack(planes, axis=-1).astype(np.float32)


def _beside(points: OutlinePoints, matrix: FloatArray, view: PhotoView, inwards_px: float) -> FloatArray:
    """Places inside an outline by so much, or outside."""
    places, normals = (a[0] for a in carried_outline(points, matrix[None], view.lens, view.size_px))
    return np.asarray(places + inwards_px * float(np.sign(_area(places))) * normals)


def _area(places: FloatArray) -> float:
    """Area within a closed line, positive where normals (-y, x) of its steps point inwards (the shoelace formula)."""
    x, y = places.T
    return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
