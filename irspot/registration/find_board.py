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
from irspot.registration.candidates import (
    DEFAULT_BLUR_PX,
    LEAST_IN_VIEW,
    SAME_PX,
    Candidate,
    carried,
    refined_candidates,
)
from irspot.registration.distortion import undistort
from irspot.registration.doubts import doubt_of
from irspot.registration.edge_map import EdgeMap, edge_map, noise_of, without_gaps
from irspot.registration.edge_profiles import Profiles, profiles_of
from irspot.registration.hypotheses import LEAST_AREA, hypotheses
from irspot.registration.lines import Lines, lines_of
from irspot.registration.marks import check_decidable, refuse_open, refuse_top, with_marks
from irspot.registration.marks_alone import place_by_marks
from irspot.registration.outline_lines import four_lines
from irspot.registration.outline_score import outline_points, outline_scores
from irspot.registration.placement import Placement
from irspot.registration.told_apart import shows_its_way
from irspot.registration.twins import twins_of
from irspot.registration.way_round import faces, one_way_of_each, symmetries

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]

_COARSE_POINTS: Final = 200
_FINE_POINTS: Final = 480
_ROUGH_POINTS: Final = 120
_RANKED: Final = 28
_TRIED: Final = 6
"""So many hypotheses of different places are refined roughly, and so many of these finely."""
_TWIN_POINTS: Final = 240
_SHORT: Final = 4.5
"""Second boards are sought to so many px of the search."""
_LEAST_EVIDENCE: Final = 1.0
"""From which a candidate is believed; see `Candidate.evidence`."""
_LEAST_MARGIN: Final = 4.0
"""By how much its evidence must exceed that of another place ..."""
_MORE_HELD: Final = 0.1
"""... or how much more of the outline in view must show."""
_LEAST_DOUBT: Final = 1.0
"""By how much the evidence for another way round must exceed that for the one that was said to contradict it."""
_WITHOUT_FOCAL: Final = 2.0
"""What the evidence must be higher by where the focal length is not known: nearly any four lines make a view then."""
_ALIKE_EVIDENCE: Final = 2.0
"""Ways round of one place are alike by their edges if their evidence differs by less."""
_MOST_U_PX: Final = 0.4
"""Largest standard uncertainty of a corner, of noise alone, that is believed."""
_MOST_DISAGREEMENT: Final = 5.0
_GOOD_WORTH: Final = 0.85
"""An outline that shows this well is not believed for an edge that lies elsewhere than the others say by so much."""
_LEAST_EDGE_IN_VIEW: Final = 0.6
_LEAST_ALONE: Final = 0.35
"""Share at which an edge itself must show where the others do not say where it is."""
_LEAST_TURN: Final = 0.062
"""Difference of cosines between two ways round, to the image side that was named, below which neither is nearer."""
_LEAST_AREA: Final = 0.18
"""Share of the frame that an outline's hull covers at least."""
_CLEAR: Final = 0.5
"""Strength from which an edge is clear."""
_SMALL_AREA: Final = 0.02
"""Where nothing is found, smaller ones down to this are sought to say so."""
_MOST_TILT_DEG: Final = 48.0
_APART: Final = 0.25
_ALIKE_SIZE: Final = 2.5
_RIVAL_EVIDENCE: Final = -2.0
_RIVAL_IN_VIEW: Final = 0.75
"""Another outline of like size that overlaps the best by less, shows by more and has such evidence is another board."""
_PART_IN_VIEW: Final = 0.4
_SAME_TILT_DEG: Final = 8.0
"""One less in view is another board if it lies as the best does, and is believed."""
_MARKS_MAY_DO: Final = {"contrast", "cut-off", "edge", "outline", "too-small"}
"""What an outline may be refused for where marks can still place the board."""


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
        With cause ``orientation``, ``top``, ``mirrored``, ``outline``, ``contrast``, ``edge``, ``cut-off``, ``two``,
        ``too-small``, ``tilted``, ``marks`` or ``part``.
    """
    check_decidable(board, top, file)
    whole = without_gaps(degc)
    noise = max(noise_k or 0.0, noise_of(whole))

    def by_outline(top: ImageSide | None) -> Placement:
        return _by_outline(whole, board, optics, side=side, top=top, noise_k=noise, file=file)

    try:
        placed = by_outline(top)
    except PlacementRefused as refusal:
        by_marks = None
        if refusal.cause in _MARKS_MAY_DO:
            by_marks = place_by_marks(whole, board, optics, side=side, top=top, noise_k=noise, file=file)
        if by_marks is None:
            raise
        return by_marks
    placed = with_marks(whole, board, placed, top=top, noise_k=noise, again=by_outline, file=file)
    doubt = doubt_of(whole, placed, board)
    if doubt is None:
        return placed
    by_marks = place_by_marks(whole, board, optics, side=side, top=top, noise_k=noise, file=file)
    if by_marks is None:
        _refuse(file, doubt.message, doubt.cause, hint=doubt.hint)
    return by_marks


def _by_outline(
    degc: F32, board: Board, optics: Optics, *, side: Side, top: ImageSide | None, noise_k: float, file: str
) -> Placement:
    """Find the best place for the outline; of ways round in which it looks the same any, if no `top` is given."""
    size_px = (degc.shape[1], degc.shape[0])
    shown = _shown(degc, optics, noise_k)
    candidates = _candidates(shown, board, side=side, top=top, least_area=LEAST_AREA)
    any_way = top is None and len(symmetries(board.outline.array_mm)) > 1
    if not any(_is_believed(each, optics) for each in candidates):
        _check_not_small(_candidates(shown, board, side=side, top=top, least_area=_SMALL_AREA), optics, file)
        _check_contrast(shown, file)
    said = tuple(each for each in candidates if faces(each.facing))
    _check_top(said, [each for each in candidates if not faces(each.facing)], board, top, file)
    best = _judged(said, any_way, file, focal_known=optics.focal_px is not None)
    _check_alone(shown, board, best, file)
    if top is None and not _shows_its_way(best, board):
        refuse_open("what tells the outline's ways round apart does not show", 4, file)
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
    """List places the board could be, the likeliest first; see `find_board`.

    Where a `top` is given, so are places that face elsewhere and in which the outline looks different: they may
    contradict it.
    """
    shown = _shown(degc, optics, noise_k)
    return _candidates(shown, board, side=side, top=top, least_area=LEAST_AREA)


@dataclass(frozen=True, slots=True, eq=False)
class _Shown:
    """What a frame shows, whatever the board."""

    edges: EdgeMap
    lines: Lines
    profiles: Profiles
    optics: Optics
    blur_px: float
    size_px: tuple[int, int]


def _shown(degc: F32, optics: Optics, noise_k: float) -> _Shown:
    size_px = (degc.shape[1], degc.shape[0])
    blur = optics.blur_px or DEFAULT_BLUR_PX
    edges = edge_map(degc, noise_k, blur)
    straight = undistort(edges.points_px, optics, size_px) if optics.distorted else edges.points_px
    lines = lines_of(edges, straight, size_px)
    return _Shown(edges, lines, profiles_of(degc, noise_k, blur), optics, blur, size_px)


def _candidates(
    shown: _Shown, board: Board, *, side: Side, top: ImageSide | None, least_area: float
) -> tuple[Candidate, ...]:
    """Refine the best hypotheses roughly, and the best of these finely."""
    edges, optics, size_px, vertices = shown.edges, shown.optics, shown.size_px, board.outline.array_mm
    choices = four_lines(vertices)
    every = hypotheses(shown.lines, choices, size_px, optics, mirrored=side == "rear", least_area=least_area)
    every = every[one_way_of_each(every, vertices, top)]
    if not len(every):
        return ()
    reach = 2.5 * edges.scale + shown.blur_px
    rough = refined_candidates(
        edges, shown.profiles, _ranked(edges, every, vertices, optics, size_px), vertices, optics, size_px, top,
        count=_ROUGH_POINTS, reaches_px=(reach + 2.0, 2.0 + shown.blur_px), ask_edges=False,
    )  # fmt: skip
    if not rough:
        return ()
    nearest = np.stack([each.refined.matrix for each in rough[:_TRIED]])
    return refined_candidates(
        edges, shown.profiles, nearest, vertices, optics, size_px, top,
        count=_FINE_POINTS, reaches_px=(2.0 + shown.blur_px, 1.5 + shown.blur_px, 1.5 + shown.blur_px), ask_edges=True,
    )  # fmt: skip


def _ranked(
    edges: EdgeMap, matrices: FloatArray, vertices: FloatArray, optics: Optics, size_px: tuple[int, int]
) -> FloatArray:
    """Take the best hypotheses of different places."""
    coarse = outline_points(vertices, _COARSE_POINTS)
    score, in_view = outline_scores(edges, coarse, matrices, optics, size_px)
    score = score * np.minimum(1.0, in_view / LEAST_IN_VIEW)
    corners = carried(matrices, vertices)
    taken: list[int] = []
    for k in np.argsort(-score, kind="stable"):
        if all(np.abs(corners[k] - corners[other]).max() > SAME_PX * edges.scale for other in taken):
            taken.append(int(k))
        if len(taken) >= _RANKED:
            break
    return matrices[taken]


def _judged(candidates: tuple[Candidate, ...], any_way: bool, file: str, *, focal_known: bool) -> Candidate:
    """Take the best candidate, if it is good enough and no other comes near it."""
    if not candidates:
        _refuse(file, "no outline of this board's shape shows in the frame", "outline")
    best, others = _the_way_round(candidates, any_way, file)
    _check_shown(best, others, file, focal_known=focal_known)
    if any(_is_other_board(other, best) for other in others):
        _refuse(file, _TWO_BOARDS, "two")
    if best.tilt_deg > _MOST_TILT_DEG:
        found = f"{best.tilt_deg:.0f} degrees"
        _refuse(
            file, "the board is seen too much aslant", "tilted", found=found, hint=f"look at it squarer; or {_HINT}"
        )
    if best.area_share < _LEAST_AREA:
        _refuse_small(best, file)
    if any(other.in_view >= LEAST_IN_VIEW and not _is_better(best, other, _LEAST_MARGIN) for other in others):
        _refuse(file, "two places fit the outline nearly alike", "two")
    return best


def _check_top(
    said: tuple[Candidate, ...], turned: list[Candidate], board: Board, top: ImageSide | None, file: str
) -> None:
    """Refuse a top that the outline contradicts: turned, it lies better on the frame's edges than as was said."""
    for each in turned:
        better = each.evidence >= _LEAST_EVIDENCE and all(_is_better(each, other, _LEAST_DOUBT) for other in said)
        if better and _shows_its_way(each, board):
            refuse_top(board, each.refined.matrix, str(top), file, by="outline")


def _shows_its_way(candidate: Candidate, board: Board) -> bool:
    vertices, refined = board.outline.array_mm, candidate.refined
    return shows_its_way(vertices, outline_points(vertices, _FINE_POINTS).xy_mm, refined.seen, refined.held)


def _is_better(best: Candidate, other: Candidate, margin: float) -> bool:
    """Say whether the best place is clearly likelier than another: by its evidence, or as more of its outline shows."""
    return best.evidence - other.evidence >= margin or best.held - other.held >= _MORE_HELD


def _is_believed(candidate: Candidate, optics: Optics) -> bool:
    least = _LEAST_EVIDENCE + (0.0 if optics.focal_px else _WITHOUT_FOCAL)
    return candidate.in_view >= LEAST_IN_VIEW and candidate.evidence >= least


def _check_contrast(shown: _Shown, file: str) -> None:
    """Have as much of clear edges in the frame as the smallest board that is placed has."""
    clear_px = float((shown.edges.weights > _CLEAR).sum()) * shown.edges.scale
    around_px = 4.0 * float(np.sqrt(_LEAST_AREA * shown.size_px[0] * shown.size_px[1]))
    if clear_px < around_px:
        _refuse(file, "no outline stands out in the frame: hardly anything does", "contrast")


def _check_not_small(candidates: tuple[Candidate, ...], optics: Optics, file: str) -> None:
    """Say of a board that is found only where small ones are sought that it is too small."""
    small = [each for each in candidates if _is_believed(each, optics) and each.area_share < _LEAST_AREA]
    if small:
        _refuse_small(small[0], file)


def _refuse_small(candidate: Candidate, file: str) -> NoReturn:
    _refuse(
        file,
        "the board is too small in the frame",
        "too-small",
        found=f"{100.0 * candidate.area_share:.0f} % of it",
        hint=f"go nearer; or {_HINT}",
    )


def _check_shown(best: Candidate, others: list[Candidate], file: str, *, focal_known: bool) -> None:
    """Have enough of an outline show, and hold it firmly."""
    if best.in_view < LEAST_IN_VIEW:
        _refuse(file, "too little of the outline is in view", "cut-off", found=f"{100.0 * best.in_view:.0f} %")
    least = _LEAST_EVIDENCE + (0.0 if focal_known else _WITHOUT_FOCAL)
    if best.evidence < least:
        if any(other.in_view < LEAST_IN_VIEW and other.evidence > least for other in others):
            _refuse(file, "the outline seems to lie mostly out of view", "cut-off")
        if best.disagreement > _MOST_DISAGREEMENT and best.worth > _GOOD_WORTH:
            _refuse(file, "one edge of the outline lies elsewhere than the others say", "edge")
        found = f"{100.0 * best.held:.0f} % of it, {100.0 * best.shares.min():.0f} % of its faintest edge"
        _refuse(file, "too little of the outline stands out from what lies around", "contrast", found=found)
    if best.u_px > _MOST_U_PX or best.faintest < _LEAST_ALONE:
        found = f"{100.0 * best.faintest:.0f} % of the faintest, a corner known to {best.u_px:.1f} px"
        hint = _HINT if focal_known else f"{_FOCAL}; or {_HINT}"
        if best.seen.min() < _LEAST_EDGE_IN_VIEW:
            message = "an edge of the outline is cut off, and the others hardly say where it is"
            _refuse(file, message, "cut-off", found=found, hint=hint)
        _refuse(file, "an edge hardly shows, and the others do not say where it is", "contrast", found=found, hint=hint)


def _is_other_board(other: Candidate, best: Candidate) -> bool:
    """Say whether an outline beside the best one is a board by itself, not one made of the best one's edges."""
    like = 1.0 / _ALIKE_SIZE < other.area_share / max(best.area_share, 1e-9) < _ALIKE_SIZE
    if other.in_view >= _RIVAL_IN_VIEW:
        shows = other.evidence > _RIVAL_EVIDENCE
    else:
        parallel = abs(other.tilt_deg - best.tilt_deg) < _SAME_TILT_DEG
        shows = other.in_view > _PART_IN_VIEW and parallel and other.evidence > _LEAST_EVIDENCE
    return like and shows and _overlap(best, other) < _APART


def _check_alone(shown: _Shown, board: Board, best: Candidate, file: str) -> None:
    """Have no second board lie beside the one that was found, wholly or partly in view."""
    edges, optics, size_px, vertices = shown.edges, shown.optics, shown.size_px, board.outline.array_mm
    beside = twins_of(edges, best.refined.matrix, vertices, optics, size_px)
    reach = _SHORT * edges.scale + shown.blur_px
    twins = refined_candidates(
        edges, shown.profiles, beside, vertices, optics, size_px, None,
        count=_TWIN_POINTS, reaches_px=(reach, 2.0 + shown.blur_px, 1.5 + shown.blur_px), ask_edges=True,
    )  # fmt: skip
    if any(_is_other_board(twin, best) for twin in twins):
        _refuse(file, _TWO_BOARDS, "two")


def _the_way_round(candidates: tuple[Candidate, ...], any_way: bool, file: str) -> tuple[Candidate, list[Candidate]]:
    """Choose among the ways round of the best place the one whose top faces the named side; give the other places."""
    best = candidates[0]
    same = [each for each in candidates if _same_place(each, best)]
    others = [each for each in candidates if not _same_place(each, best)]
    alike = [each for each in same if best.evidence - each.evidence < _ALIKE_EVIDENCE]
    alike.sort(key=lambda each: -each.facing)
    if not any_way and len(alike) > 1 and alike[0].facing - alike[1].facing < _LEAST_TURN:
        _refuse(file, "the board's top points between two sides of the image", "orientation")
    return alike[0], others


def _overlap(one: Candidate, other: Candidate) -> float:
    """Intersection over union of the hulls of two outlines."""
    cv2 = load_cv2()
    hulls = [cv2.convexHull(each.corners_px.astype(np.float32)) for each in (one, other)]
    areas = [float(cv2.contourArea(hull)) for hull in hulls]
    common = float(cv2.intersectConvexConvex(*hulls)[0])
    return common / max(areas[0] + areas[1] - common, 1e-9)


def _same_place(one: Candidate, other: Candidate) -> bool:
    apart = np.linalg.norm(one.corners_px[:, None] - other.corners_px[None], axis=2)
    return bool(apart.min(axis=0).max() < SAME_PX and apart.min(axis=1).max() < SAME_PX)


_TWO_BOARDS: Final = "two boards of this outline show in the frame"
_FOCAL: Final = "give focal_px or hfov_deg in the camera file's [optics]"
_HINT: Final = "give corners_px by hand, or points_px of marks; a lamp behind the board makes its edge show"


def _refuse(file: str, message: str, cause: str, *, found: str = "", hint: str = _HINT) -> NoReturn:
    raise PlacementRefused(message, cause=cause, file=file, key="placement", found=found, hint=hint)
