"""A board whose outline does not show, placed by its marks: only where no chance explains what they show.

Round things of the whole frame are taken for marks in every way a camera could see them. What counts is how many views
as good as the best one chance would give: the number of views tried among things at least as round, times the chance
that the marks beyond the four a view is made of fall on round things as well (an a contrario argument: A. Desolneux,
L. Moisan, J.-M. Morel, "Meaningful alignments", International Journal of Computer Vision 40, 2000).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import comb
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Side
from irspot.camera import Optics
from irspot.opencv import load_cv2
from irspot.placing import ImageSide
from irspot.registration.mark_blobs import Blobs, blobs_of
from irspot.registration.mark_patterns import LEAST_AREA, MOST_AREA, Patterns, patterns, share_in_view
from irspot.registration.mark_pose import MarkFit, fit_marks
from irspot.registration.mark_refine import THICKNESS_MM, sighting_noise
from irspot.registration.marks import refuse_top
from irspot.registration.placement import Placement
from irspot.registration.spread import largest_u, place_covariances_px
from irspot.registration.way_round import facing

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]

_FEWEST: Final = 4
_DEFAULT_BLUR_PX: Final = 1.0
_MOST_SIGMAS: Final = 3.5
_SLACK_PX: Final = 0.3
_ROUNDS: Final = 4
_STIFF_SLACK: Final = 0.03
"""Share of a view's size by which four things may miss a stiff plate's shape and still be tried."""
_MOST_BY_CHANCE: Final = 1e-6
_LEAST_RATIO: Final = 1e3
"""By how much more of any other view chance has to give than of the best."""
_MOST_CORNER_U_PX: Final = 1.0
_LEAST_SHARE_SHOWN: Final = 0.6
_SAME_PX: Final = 3.0
"""Outlines whose corners are nearer than this are one place."""


@dataclass(frozen=True, slots=True, eq=False)
class MarkedPlace:
    """A place that marks give a board.

    Parameters
    ----------
    placement : Placement
    corners_px : ndarray, shape (n, 2)
        Of the outline, in the stored image.
    by_chance : float
        How many views as good as this one chance would give.
    shown : float
        Share of the marks in view that show.
    corner_u_px : float
        Largest standard uncertainty of a corner.
    """

    placement: Placement
    corners_px: FloatArray
    by_chance: float
    shown: float
    corner_u_px: float

    @property
    def certain(self) -> bool:
        """Whether it can be believed, if no other place comes near it."""
        return (
            self.by_chance <= _MOST_BY_CHANCE
            and self.shown >= _LEAST_SHARE_SHOWN
            and self.corner_u_px <= _MOST_CORNER_U_PX
        )


def place_by_marks(
    degc: F32, board: Board, optics: Optics, *, side: Side, top: ImageSide | None, noise_k: float, file: str = ""
) -> Placement | None:
    """Place a board by marks that show, if they leave no doubt.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Without gaps.
    board : Board
    optics : Optics
    side : {"front", "rear"}
    top : {"up", "right", "down", "left"}, optional
    noise_k : float
    file : str
        Named in the refusal.

    Returns
    -------
    Placement or None
        None where fewer than four marks show, or in several ways, or where they do not hold the outline firmly.

    Raises
    ------
    PlacementRefused
        With cause ``top`` where the board's top faces another image side than was said.
    """
    places = places_by_marks(degc, board, optics, side=side, noise_k=noise_k)
    if not places or not places[0].certain:
        return None
    alike = [each for each in places if each.by_chance < _LEAST_RATIO * places[0].by_chance]
    vertices = board.outline.array_mm
    turned = facing(np.stack([each.placement.matrix for each in alike]), vertices, top)
    if len(alike) == 1 and not turned[0]:
        refuse_top(board, places[0].placement.matrix, str(top), file)
    chosen = [each for each, is_turned in zip(alike, turned.tolist(), strict=True) if is_turned]
    # Marks as symmetric as the outline lie alike in several ways round, of which top names one.
    other_places = any(not _same_place(each, places[0]) for each in alike)
    return chosen[0].placement if len(chosen) == 1 and chosen[0].certain and not other_places else None


def _same_place(one: MarkedPlace, other: MarkedPlace) -> bool:
    apart = np.linalg.norm(one.corners_px[:, None] - other.corners_px[None], axis=2)
    return bool(apart.min(axis=0).max() < _SAME_PX and apart.min(axis=1).max() < _SAME_PX)


def places_by_marks(degc: F32, board: Board, optics: Optics, *, side: Side, noise_k: float) -> tuple[MarkedPlace, ...]:
    """List places that marks give a board, the one chance explains least first.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Without gaps.
    board : Board
    optics : Optics
    side : {"front", "rear"}
    noise_k : float

    Returns
    -------
    tuple of MarkedPlace
        Of different places, or of one place in different ways round.
    """
    if len(board.marks) < _FEWEST:
        return ()
    size_px = (degc.shape[1], degc.shape[0])
    vertices, marks_mm = board.outline.array_mm, np.array([(mark.x_mm, mark.y_mm) for mark in board.marks])
    blur_px = optics.blur_px or _DEFAULT_BLUR_PX
    blobs = blobs_of(degc, _scales(vertices, size_px), optics, blur_px=blur_px, noise_k=noise_k)
    if len(blobs.xy_px) < _FEWEST:
        return ()
    found = patterns(marks_mm, blobs.straight_px, vertices, size_px, optics, mirrored=side == "rear")
    places = []
    for matrix in found.matrices:
        start = Placement(matrix, side, optics, size_px, "auto", 0.0, 0.0, _FEWEST, held_mm=marks_mm)
        place = _settled(start, board, marks_mm, blobs, found)
        if place is not None:
            places.append(place)
    return _distinct(sorted(places, key=lambda each: each.by_chance))


def _scales(vertices_mm: FloatArray, size_px: tuple[int, int]) -> tuple[float, float]:
    """The least and the most px that a mm of a board has that fills a plausible share of the frame."""
    own = float(np.prod(np.ptp(vertices_mm, axis=0)))
    frame = float(size_px[0] * size_px[1])
    return float(np.sqrt(LEAST_AREA * frame / own)), float(np.sqrt(MOST_AREA * frame / own))


def _settled(start: Placement, board: Board, marks_mm: FloatArray, blobs: Blobs, found: Patterns) -> MarkedPlace | None:
    """Fit a view to all marks that lie on round things, until those stay the same."""
    thickness = board.thickness_mm or THICKNESS_MM
    reach = max(2.5, 0.006 * max(start.size_px))
    marks, things = _nearest(start, marks_mm, blobs, np.full(len(marks_mm), reach))
    for _ in range(_ROUNDS):
        if len(marks) < _FEWEST:
            return None
        fit = fit_marks(start, marks_mm[marks], blobs.xy_px[things], blobs.u_px[things], thickness)
        if fit is None:
            return None
        start, before = fit.placement, marks
        marks, things = _nearest(start, marks_mm, blobs, np.minimum(reach, _allowed(start, marks_mm, blobs, thickness)))
        if np.array_equal(marks, before):
            return _judged(fit, board, marks_mm, marks, things, blobs, found)
    return None


def _allowed(here: Placement, marks_mm: FloatArray, blobs: Blobs, thickness: float) -> FloatArray:
    """How far from where a fitted view has it a mark may be found."""
    noise = np.diag(sighting_noise(here, marks_mm, np.full(len(marks_mm), np.median(blobs.u_px)), thickness))
    own = largest_u(place_covariances_px(here, marks_mm))
    return np.asarray(_MOST_SIGMAS * np.sqrt(noise.reshape(-1, 2).max(axis=1) + own**2) + _SLACK_PX)


def _nearest(
    here: Placement, marks_mm: FloatArray, blobs: Blobs, allowed_px: FloatArray
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pair marks with the round things that lie nearest to them, as far away as allowed."""
    places = here.to_px(marks_mm)
    away = np.linalg.norm(places[:, None] - blobs.xy_px[None], axis=2)
    away = np.where(np.isfinite(away), away, np.inf)
    things = away.argmin(axis=1)
    least = away[np.arange(len(places)), things]
    # No two marks on one thing: the nearer has it.
    order = np.argsort(least, kind="stable")
    first = np.zeros(len(places), bool)
    first[order[np.unique(things[order], return_index=True)[1]]] = True
    marks = np.flatnonzero((least <= allowed_px) & first)
    return marks, things[marks]


def _judged(
    fit: MarkFit,
    board: Board,
    marks_mm: FloatArray,
    marks: NDArray[np.intp],
    things: NDArray[np.intp],
    blobs: Blobs,
    found: Patterns,
) -> MarkedPlace | None:
    placement = fit.placement
    vertices = board.outline.array_mm
    corners = placement.to_px(vertices)
    if not np.all(np.isfinite(corners)):
        return None
    size = np.array(placement.size_px)
    places = placement.to_px(marks_mm)
    in_view = int(np.count_nonzero(np.all((places > 2.0) & (places < size - 3.0), axis=1)))
    in_view = max(in_view, len(marks))
    residual = float(np.sqrt(np.mean(fit.misses_px**2)))
    area = float(load_cv2().contourArea(load_cv2().convexHull(corners.astype(np.float32))))
    named = replace(
        placement,
        residual_px=residual,
        residual_mm=residual * float(np.sqrt(_area(vertices) / max(area, 1e-9))),
        points=len(marks),
        u_point_px=float(np.sqrt(np.mean(blobs.u_px[things] ** 2) + residual**2)),
        marks=tuple(board.marks[k].id for k in marks.tolist()),
    )
    reach = max(_SLACK_PX, float(fit.misses_px.max())) + _SLACK_PX
    seen_area = area * share_in_view(corners, placement.size_px)
    by_chance = _by_chance(len(marks), in_view, int(things.max()) + 1, reach, seen_area, placement, found)
    u_px = float(largest_u(place_covariances_px(named, vertices)).max())
    return MarkedPlace(named, corners, by_chance, len(marks) / in_view, u_px)


def _area(vertices_mm: FloatArray) -> float:
    return abs(float(load_cv2().contourArea(vertices_mm.astype(np.float32))))


def _by_chance(
    used: int, in_view: int, things: int, reach: float, area: float, placement: Placement, found: Patterns
) -> float:
    """How many views as good chance would give among so many round things on the board's part of the frame."""
    tried = found.choices * comb(things, 4) * 4 * found.plausible
    if placement.optics.focal_px is not None:
        # Two of eight coordinates are foretold by a stiff plate's shape.
        tried *= min(1.0, reach / (_STIFF_SLACK * np.sqrt(area))) ** 2
    meet = min(1.0, max(1, things - 4) * np.pi * reach**2 / max(area, 1.0))
    more, left = used - _FEWEST, in_view - _FEWEST
    tail = sum(comb(left, k) * meet**k * (1.0 - meet) ** (left - k) for k in range(more, left + 1))
    return float(tried * tail)


def _distinct(places: list[MarkedPlace]) -> tuple[MarkedPlace, ...]:
    kept: list[MarkedPlace] = []
    for each in places:
        if all(np.abs(each.corners_px - other.corners_px).max() > _SAME_PX for other in kept):
            kept.append(each)
    return tuple(kept)
