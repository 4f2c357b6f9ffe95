"""Find a board's outline in a thermal frame, or say why it cannot be found for certain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NoReturn

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Side
from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.opencv import load_cv2
from irspot.placing import ImageSide
from irspot.registration.distortion import undistort
from irspot.registration.edge_map import EdgeMap, edge_map, noise_of, without_gaps
from irspot.registration.hypotheses import hypotheses
from irspot.registration.lines import lines_of
from irspot.registration.marks import check_decidable, with_marks
from irspot.registration.outline_lines import four_lines
from irspot.registration.outline_score import OutlinePoints, outline_points, outline_scores, strengths_at
from irspot.registration.placement import Placement
from irspot.registration.refine import Refined, edge_shifts, refine
from irspot.registration.way_round import IMAGE_SIDES, facing, one_way_of_each, symmetries, top_direction

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]

_COARSE_POINTS: Final = 200
_FINE_POINTS: Final = 480
_ROUGH_POINTS: Final = 120
_RANKED: Final = 28
_TRIED: Final = 6
"""So many hypotheses of different places are refined roughly, and so many of these finely."""
_SAME_PX: Final = 6.0
"""Outlines whose corners are nearer than this are one hypothesis."""
_LEAST_IN_VIEW: Final = 0.55
_GOOD_WORTH: Final = 0.74
"""Worth from which a candidate is believed though one edge of the outline is hidden altogether ..."""
_LEAST_WORTH: Final = 0.5
_LEAST_EDGE: Final = 0.25
"""... and from which, if each of its edges shows at this share of its length."""
_LEAST_MARGIN: Final = 0.08
_LEAST_TURN: Final = 0.12
"""Difference of cosines between two ways round, to the image side that was named, below which neither is nearer."""
_RIVAL_WORTH: Final = 0.8
_FAIR_WORTH: Final = 0.6
_APART: Final = 0.4
"""Another good outline that overlaps the best by less than this is another board."""
_LEAST_AREA: Final = 0.18
"""Share of the frame that an outline's hull covers at least."""
_LEAST_EDGE_IN_VIEW: Final = 0.6
_LEAST_EDGE_ALONE: Final = 0.85
_MOST_EDGE_U_PX: Final = 1.5
"""Share of an edge that is in view at least, where the other edges say where it is no better than this; and where, for
want of a focal length, they say nothing."""
_MOST_SHIFT_PX: Final = 3.0
_MOST_SHIFT_U: Final = 5.0
_MOST_U_PX: Final = 1.0
"""Largest standard uncertainty of a corner that is believed."""
_CLOSE_PX: Final = 0.3
_CLOSE_BLURS: Final = 0.2
_STRONG: Final = 0.3
"""An edge counts as the outline's own if it is so near and so strong."""
_DEFAULT_BLUR_PX: Final = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A place the board could be.

    Parameters
    ----------
    refined : Refined
    corners_px : ndarray, shape (n, 2)
        The outline's corners, in px of the undistorted frame.
    strength : float
        Mean strength of edges along the outline, 0 to 1.
    shares : ndarray, shape (n,)
        Share of each edge of the outline, as far as it is in view, at which the frame has one; 1 for those out of view.
    held : float
        The same of the whole outline.
    in_view : float
        Share of the outline in view.
    area_share : float
        Area of the outline's hull against the frame's.
    facing : float
        Cosine between the board's top and the image side that was named; 1 where none was.
    """

    refined: Refined
    corners_px: FloatArray
    strength: float
    shares: FloatArray
    held: float
    in_view: float
    area_share: float
    facing: float

    @property
    def worth(self) -> float:
        """How well edges support it: 0 to about 1.15."""
        return 0.5 * self.held + 0.5 * self.strength + 0.3 * min(0.5, float(self.shares.min()))


def find_board(
    degc: F32,
    board: Board,
    optics: Optics,
    *,
    side: Side = "front",
    top: ImageSide | None = None,
    noise_k: float | None = None,
    file: str = "",
) -> Placement:
    """Find a board in a frame.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Any temperatures; NaN where there is none.
    board : Board
    optics : Optics
    side : {"front", "rear"}
    top : {"up", "right", "down", "left"}, optional
        Image side the board's top edge faces; needed where the outline looks the same in several ways and no marks
        tell them apart.
    noise_k : float, optional
        Standard deviation of one pixel; estimated where not given, or where the frame shows more.
    file : str
        Named in refusals.

    Returns
    -------
    Placement

    Raises
    ------
    PlacementRefused
        With cause ``orientation``, ``top``, ``mirrored``, ``contrast``, ``outline``, ``edge``, ``cut-off``, ``two`` or
        ``too-small``.
    """
    check_decidable(board, top, file)
    whole = without_gaps(degc)
    noise = max(noise_k or 0.0, noise_of(whole))

    def by_outline(top: ImageSide | None) -> Placement:
        return _by_outline(whole, board, optics, side=side, top=top, noise_k=noise, file=file)

    placed = by_outline(top)
    return with_marks(whole, board, placed, top=top, noise_k=noise, again=by_outline, file=file)


def _by_outline(
    degc: F32, board: Board, optics: Optics, *, side: Side, top: ImageSide | None, noise_k: float, file: str
) -> Placement:
    """Find the best place for the outline; of ways round in which it looks the same any, if no `top` is given."""
    size_px = (degc.shape[1], degc.shape[0])
    candidates = candidates_of(degc, board, optics, side=side, top=top, noise_k=noise_k)
    any_way = top is None and len(symmetries(board.outline.array_mm)) > 1
    best = _judged(candidates, any_way, file)
    _check_each_edge(degc, board, best, optics, noise_k, file)
    matrix = best.refined.matrix
    matrix.flags.writeable = False
    points = int(best.refined.held.sum())
    per_px = float(np.sqrt(abs(np.linalg.det(matrix[:2, :2]))))
    residual = best.refined.residual_px
    return Placement(
        matrix,
        side,
        optics,
        size_px,
        "auto",
        residual,
        residual / max(per_px, 1e-9),
        points,
        residual,
        held_mm=board.outline.array_mm,
        covariance=best.refined.covariance,
        share_held=best.held,
    )


def candidates_of(
    degc: F32, board: Board, optics: Optics, *, side: Side, top: ImageSide | None, noise_k: float
) -> tuple[Candidate, ...]:
    """List places the board could be, the likeliest first; see `find_board`."""
    size_px = (degc.shape[1], degc.shape[0])
    vertices = board.outline.array_mm
    edges = edge_map(degc, noise_k)
    straight = undistort(edges.points_px, optics, size_px) if optics.distorted else edges.points_px
    lines = lines_of(edges, straight, size_px)
    every = hypotheses(lines, four_lines(vertices), size_px, optics, mirrored=side == "rear")
    every = every[one_way_of_each(every, vertices) if top is None else facing(every, vertices, top)]
    if not len(every):
        return ()
    blur = optics.blur_px or _DEFAULT_BLUR_PX
    reach = 2.5 * edges.scale + blur
    rough = _refined_all(
        degc, edges, _ranked(edges, every, vertices, optics, size_px), vertices, optics, top, noise_k,
        _ROUGH_POINTS, (reach + 2.0, 2.0 + blur),
    )  # fmt: skip
    nearest = [each.refined.matrix for each in rough[:_TRIED]]
    return _refined_all(
        degc, edges, nearest, vertices, optics, top, noise_k, _FINE_POINTS, (2.0 + blur, 1.5 + blur, 1.5 + blur)
    )


def _refined_all(
    degc: F32,
    edges: EdgeMap,
    matrices: list[FloatArray],
    vertices: FloatArray,
    optics: Optics,
    top: ImageSide | None,
    noise_k: float,
    count: int,
    reaches_px: tuple[float, ...],
) -> tuple[Candidate, ...]:
    """Refine hypotheses; give what is left of them, of different places, the likeliest first."""
    size_px = (degc.shape[1], degc.shape[0])
    points = outline_points(vertices, count)
    blur = optics.blur_px or _DEFAULT_BLUR_PX
    found = []
    for matrix in matrices:
        refined = refine(degc, points, matrix, optics, size_px, noise_k=noise_k, blur_px=blur, reaches_px=reaches_px)
        if refined is not None:
            found.append(_candidate(edges, refined, points, vertices, optics, size_px, top))
    return _distinct(sorted(found, key=lambda each: -each.worth))


def _ranked(
    edges: EdgeMap, matrices: FloatArray, vertices: FloatArray, optics: Optics, size_px: tuple[int, int]
) -> list[FloatArray]:
    """Take the best hypotheses of different places."""
    coarse = outline_points(vertices, _COARSE_POINTS)
    score, in_view = outline_scores(edges, coarse, matrices, optics, size_px)
    score = score * np.minimum(1.0, in_view / _LEAST_IN_VIEW)
    corners = _carried(matrices, vertices)
    taken: list[int] = []
    for k in np.argsort(-score, kind="stable"):
        if all(np.abs(corners[k] - corners[other]).max() > _SAME_PX * edges.scale for other in taken):
            taken.append(int(k))
        if len(taken) >= _RANKED:
            break
    return [matrices[k] for k in taken]


def _carried(matrices: FloatArray, xy_mm: FloatArray) -> FloatArray:
    ones = np.column_stack([xy_mm, np.ones(len(xy_mm))])
    carried = np.einsum("kij,nj->kni", matrices, ones)
    return np.asarray(carried[..., :2] / carried[..., 2:])


def _candidate(
    edges: EdgeMap,
    refined: Refined,
    points: OutlinePoints,
    vertices: FloatArray,
    optics: Optics,
    size_px: tuple[int, int],
    top: ImageSide | None,
) -> Candidate:
    matrix = refined.matrix[None]
    strength, in_view = outline_scores(edges, points, matrix, optics, size_px)
    near = np.abs(refined.offset_px) < _CLOSE_PX + _CLOSE_BLURS * (optics.blur_px or _DEFAULT_BLUR_PX)
    own = refined.present & near & (strengths_at(edges, points, matrix, optics, size_px)[0] > _STRONG)
    shares = np.ones(len(vertices))
    for edge in range(len(vertices)):
        mine = (points.edge == edge) & refined.seen
        if mine.any():
            shares[edge] = own[mine].mean()
    cosine = 1.0 if top is None else float((top_direction(matrix, vertices) @ np.array(IMAGE_SIDES[top]))[0])
    held = float(own.sum() / max(1, refined.seen.sum()))
    corners = _carried(matrix, vertices)[0]
    area = float(load_cv2().contourArea(load_cv2().convexHull(corners.astype(np.float32)))) / (size_px[0] * size_px[1])
    return Candidate(refined, corners, float(strength[0]), shares, held, float(in_view[0]), area, cosine)


def _distinct(candidates: list[Candidate]) -> tuple[Candidate, ...]:
    kept: list[Candidate] = []
    for each in candidates:
        if all(np.abs(each.corners_px - other.corners_px).max() > _SAME_PX for other in kept):
            kept.append(each)
    return tuple(kept)


def _judged(candidates: tuple[Candidate, ...], any_way: bool, file: str) -> Candidate:
    """Take the best candidate, if it is good enough and no other comes near it."""
    if not candidates:
        _refuse(file, "no outline of this board's shape shows in the frame", "outline")
    best, others = _the_way_round(candidates, any_way, file)
    if best.in_view < _LEAST_IN_VIEW:
        _refuse(file, "too little of the outline is in view", "cut-off", found=f"{100.0 * best.in_view:.0f} %")
    if best.worth < _LEAST_WORTH or (best.worth < _GOOD_WORTH and best.shares.min() < _LEAST_EDGE):
        found = f"{100.0 * best.held:.0f} % of it, {100.0 * best.shares.min():.0f} % of its faintest edge"
        _refuse(file, "too little of the outline stands out from what lies around", "contrast", found=found)
    if any(_is_rival(other) and _overlap(best, other) < _APART for other in others):
        _refuse(file, "two boards of this outline show in the frame", "two")
    if best.area_share < _LEAST_AREA:
        _refuse(file, "the board is too small in the frame", "too-small", found=f"{100.0 * best.area_share:.0f} %")
    if others and best.worth - max(other.worth for other in others) < _LEAST_MARGIN:
        _refuse(file, "two places fit the outline nearly alike", "two")
    return best


def _check_each_edge(degc: F32, board: Board, best: Candidate, optics: Optics, noise_k: float, file: str) -> None:
    """Have every edge lie where the others say: one that was taken for the board's and is not pulls it elsewhere."""
    size_px = (degc.shape[1], degc.shape[0])
    points = outline_points(board.outline.array_mm, _FINE_POINTS)
    blur = optics.blur_px or _DEFAULT_BLUR_PX
    seen = [float(best.refined.seen[points.edge == edge].mean()) for edge in range(len(best.shares))]
    shifts = edge_shifts(degc, points, best.refined, optics, size_px, noise_k=noise_k, blur_px=blur)
    for in_view, shift in zip(seen, shifts, strict=True):
        if shift is None:
            if in_view < _LEAST_EDGE_ALONE:
                _refuse(
                    file,
                    "an edge of the outline is cut off, and the others do not say where it is",
                    "cut-off",
                    hint=_FOCAL,
                )
        elif shift[1] > _MOST_EDGE_U_PX and in_view < _LEAST_EDGE_IN_VIEW:
            _refuse(file, "an edge of the outline is cut off, and the others hardly say where it is", "cut-off")
        elif shift[0] > max(_MOST_SHIFT_PX, _MOST_SHIFT_U * shift[1]):
            found = f"{shift[0]:.1f} px"
            _refuse(file, "one edge of the outline lies elsewhere than the others say", "edge", found=found)


_FOCAL: Final = "give focal_px or hfov_deg in the camera file's [optics], or corners_px by hand"


def _the_way_round(candidates: tuple[Candidate, ...], any_way: bool, file: str) -> tuple[Candidate, list[Candidate]]:
    """Choose among the ways round of the best place the one whose top faces the named side; give the other places."""
    best = candidates[0]
    same = [each for each in candidates if _same_place(each, best)]
    others = [each for each in candidates if not _same_place(each, best)]
    alike = sorted((each for each in same if best.worth - each.worth < _LEAST_MARGIN), key=lambda each: -each.facing)
    if not any_way and len(alike) > 1 and alike[0].facing - alike[1].facing < _LEAST_TURN:
        _refuse(file, "the board's top points between two sides of the image", "orientation")
    return alike[0], others


def _is_rival(other: Candidate) -> bool:
    """Say whether an outline beside the best one is a board by itself, not one made of the best one's edges."""
    return other.worth > _RIVAL_WORTH or (other.worth > _FAIR_WORTH and float(other.shares.min()) > _LEAST_EDGE)


def _overlap(one: Candidate, other: Candidate) -> float:
    """Intersection over union of the hulls of two outlines."""
    cv2 = load_cv2()
    hulls = [cv2.convexHull(each.corners_px.astype(np.float32)) for each in (one, other)]
    areas = [float(cv2.contourArea(hull)) for hull in hulls]
    common = float(cv2.intersectConvexConvex(*hulls)[0])
    return common / max(areas[0] + areas[1] - common, 1e-9)


def _same_place(one: Candidate, other: Candidate) -> bool:
    apart = np.linalg.norm(one.corners_px[:, None] - other.corners_px[None], axis=2)
    return bool(apart.min(axis=0).max() < _SAME_PX and apart.min(axis=1).max() < _SAME_PX)


_HINT: Final = "give corners_px by hand, or points_px of marks; a lamp behind the board makes its edge show"


def _refuse(file: str, message: str, cause: str, *, found: str = "", hint: str = _HINT) -> NoReturn:
    raise PlacementRefused(
        message,
        cause=cause,
        file=file,
        key="placement",
        found=found,
        hint=hint,
    )
