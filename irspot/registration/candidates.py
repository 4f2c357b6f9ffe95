"""Places a board could be, with what speaks for each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Optics
from irspot.opencv import load_cv2
from irspot.placing import ImageSide
from irspot.registration.edge_map import EdgeMap
from irspot.registration.edge_profiles import Profiles
from irspot.registration.edge_shifts import Shift, edge_shifts
from irspot.registration.outline_score import OutlinePoints, outline_points, strengths_at
from irspot.registration.refine import Refined, normal_slopes, refine
from irspot.registration.rigid import tilt_deg
from irspot.registration.spread import largest_u
from irspot.registration.way_round import IMAGE_SIDES, top_direction

FloatArray = NDArray[np.float64]

DEFAULT_BLUR_PX: Final = 1.0
"""Standard deviation of the point spread where the camera file states none."""
LEAST_IN_VIEW: Final = 0.55
SAME_PX: Final = 6.0
"""Outlines whose corners are nearer than this are one candidate."""
_ENOUGH: Final = 0.5
"""Of an edge's length; what shows beyond it adds nothing, so that no long edge makes up for a missing one."""
_CLOSE_PX: Final = 0.3
_CLOSE_BLURS: Final = 0.2
_STRONG: Final = 0.3
"""An edge counts as the outline's own if it is so near and so strong."""
_EDGE_PX: Final = 0.1
"""Edges of real boards, and of pixels, are no straighter than this."""
_LEAST_OF_EDGE: Final = 0.05
"""Share of an edge below which nothing is said about it."""
_COLLAPSED: Final = 0.03
"""Share of the frame below which an outline was pulled together onto one edge rather than found."""
_MOST_TILT_DEG: Final = 65.0
_SAID_PX: Final = 1.0
"""Standard uncertainty up to which the others say where an edge is."""
_PER_WORTH: Final = 22.7
_PER_LOG_U: Final = 1.3
_PER_LOG_DISAGREEMENT: Final = 1.6
_ODDS_AGAINST: Final = 20.0
_LEAST_U_PX: Final = 0.01
_LEAST_DISAGREEMENT: Final = 0.5
_UNKNOWN: Final = 1.5
"""Disagreement that is reckoned with where, for want of a focal length, edges say nothing about each other."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A place the board could be.

    Parameters
    ----------
    refined : Refined
    corners_px : ndarray, shape (n, 2)
        The outline's corners, in px of the undistorted frame.
    shares : ndarray, shape (n,)
        Share of each edge of the outline, as far as it is in view, at which the frame has one; 1 for those out of view.
    seen : ndarray, shape (n,)
        Share of each edge in view.
    held : float
        Share of the outline in view at which the frame has an edge.
    worth : float
        The same, each edge counted up to half its length, against half of all: 0 to 1.
    in_view : float
        Share of the outline in view.
    area_share : float
        Area of the outline's hull against the frame's.
    facing : float
        Cosine between the board's top and the image side that was named; 1 where none was.
    tilt_deg : float
        Angle between the camera's axis and the board's normal.
    u_px : float
        Standard uncertainty of the least certain corner.
    shifts : tuple of (float, float) or None
        How far each edge lies from where the others say; see `edge_shifts`. Empty if it was not asked.
    """

    refined: Refined
    corners_px: FloatArray
    shares: FloatArray
    seen: FloatArray
    held: float
    worth: float
    in_view: float
    area_share: float
    facing: float
    tilt_deg: float
    u_px: float
    shifts: tuple[Shift, ...]

    @property
    def disagreement(self) -> float:
        """Largest shift of an edge in standard uncertainties."""
        known = [shift[0] / float(np.hypot(shift[1], _EDGE_PX)) for shift in self.shifts if shift is not None]
        return max(known) if known else _UNKNOWN

    @property
    def faintest(self) -> float:
        """Share at which the faintest of those edges shows whose place the others do not say; 1 for none such."""
        left = [
            float(share * seen)
            for share, seen, shift in zip(self.shares, self.seen, self.shifts, strict=True)
            if shift is None or shift[1] > _SAID_PX
        ]
        return min(left, default=1.0)

    @property
    def evidence(self) -> float:
        """Natural logarithm of the odds that the board is here: a discriminant of worth, uncertainty, disagreement.

        Its weights are about those of a logistic regression over the candidates in 1,400 rendered scenes.
        """
        u, apart = np.log(max(self.u_px, _LEAST_U_PX)), np.log(max(self.disagreement, _LEAST_DISAGREEMENT))
        return float(_PER_WORTH * self.worth - _PER_LOG_U * u - _PER_LOG_DISAGREEMENT * apart - _ODDS_AGAINST)


def refined_candidates(
    edges: EdgeMap,
    profiles: Profiles,
    matrices: FloatArray,
    vertices_mm: FloatArray,
    optics: Optics,
    size_px: tuple[int, int],
    top: ImageSide | None,
    *,
    count: int,
    reaches_px: tuple[float, ...],
    ask_edges: bool,
) -> tuple[Candidate, ...]:
    """Refine hypotheses; give what is left of them, of different places, the likeliest first.

    Parameters
    ----------
    edges : EdgeMap
    profiles : Profiles
    matrices : ndarray, shape (k, 3, 3)
    vertices_mm : ndarray, shape (n, 2)
    optics : Optics
    size_px : tuple of int
    top : {"up", "right", "down", "left"} or None
    count : int
        Points along the outline.
    reaches_px : tuple of float
        See `refine`.
    ask_edges : bool
        Whether each edge is held against the others.
    """
    if not len(matrices):
        return ()
    points = outline_points(vertices_mm, count)
    found = [each for each in refine(profiles, points, matrices, optics, size_px, reaches_px) if each is not None]
    if not found:
        return ()
    strong = strengths_at(edges, points, np.stack([each.matrix for each in found]), optics, size_px) > _STRONG
    listed = []
    for refined, own in zip(found, strong, strict=True):
        shifts = edge_shifts(profiles, points, refined, optics, size_px) if ask_edges else ()
        listed.append(_candidate(refined, own, shifts, points, vertices_mm, optics, size_px, top))
    sound = [each for each in listed if each.area_share > _COLLAPSED and each.tilt_deg < _MOST_TILT_DEG]
    return _distinct(sorted(sound, key=lambda each: (each.in_view < LEAST_IN_VIEW, -each.evidence)))


def carried(matrices: FloatArray, xy_mm: FloatArray) -> FloatArray:
    """Carry places by each of several mappings, undistorted; shape (k, n, 2)."""
    at = np.column_stack([xy_mm, np.ones(len(xy_mm))]) @ np.swapaxes(matrices, 1, 2)
    return np.asarray(at[..., :2] / at[..., 2:])


def _candidate(
    refined: Refined,
    strong: NDArray[np.bool_],
    shifts: tuple[Shift, ...],
    points: OutlinePoints,
    vertices_mm: FloatArray,
    optics: Optics,
    size_px: tuple[int, int],
    top: ImageSide | None,
) -> Candidate:
    near = np.abs(refined.offset_px) < _CLOSE_PX + _CLOSE_BLURS * (optics.blur_px or DEFAULT_BLUR_PX)
    own = refined.present & near & strong
    edges = len(vertices_mm)
    total = np.bincount(points.edge, minlength=edges)
    seen = np.bincount(points.edge[refined.seen], minlength=edges)
    mine = np.bincount(points.edge[own & refined.seen], minlength=edges)
    shares = np.where(seen > 0, mine / np.maximum(seen, 1), 1.0)
    asked = np.where(seen > _LEAST_OF_EDGE * total, seen, 0)
    worth = float(np.minimum(shares / _ENOUGH, 1.0) @ asked / max(1, asked.sum()))
    cv2 = load_cv2()
    corners = carried(refined.matrix[None], vertices_mm)[0]
    area = float(cv2.contourArea(cv2.convexHull(corners.astype(np.float32)))) / (size_px[0] * size_px[1])
    cosine = 1.0
    if top is not None:
        cosine = float((top_direction(refined.matrix[None], vertices_mm) @ np.array(IMAGE_SIDES[top]))[0])
    return Candidate(
        refined=refined,
        corners_px=corners,
        shares=shares,
        seen=seen / total,
        held=float(mine.sum() / max(1, seen.sum())),
        worth=worth,
        in_view=float(refined.seen.mean()),
        area_share=area,
        facing=cosine,
        tilt_deg=tilt_deg(refined.matrix, optics, size_px),
        u_px=_corner_u_px(refined, vertices_mm),
        shifts=shifts,
    )


def _corner_u_px(refined: Refined, vertices_mm: FloatArray) -> float:
    """Standard uncertainty of the least certain corner, in px of the undistorted frame."""
    count = len(vertices_mm)
    matrices = np.broadcast_to(refined.matrix, (2, 3, 3))
    ways = np.stack([np.broadcast_to(way, (count, 2)) for way in np.eye(2)])
    slopes = np.swapaxes(normal_slopes(vertices_mm, matrices, ways), 0, 1)
    return float(largest_u(slopes @ refined.covariance @ np.swapaxes(slopes, 1, 2)).max())


def _distinct(candidates: list[Candidate]) -> tuple[Candidate, ...]:
    kept: list[Candidate] = []
    for each in candidates:
        if all(np.abs(each.corners_px - other.corners_px).max() > SAME_PX for other in kept):
            kept.append(each)
    return tuple(kept)
