"""Where a board is in a later frame, relative to a frame in which it was placed: still, moved, or not to be known."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.constants import EDGE_U_PX
from irspot.errors import PlacementRefused
from irspot.registration import homography
from irspot.registration.content import beside_gaps, edges_on_board, least_slope, offsets, smoothed
from irspot.registration.edge_map import noise_of, without_gaps
from irspot.registration.follow_support import Support, support_of
from irspot.registration.held_edges import Anchors, Match, Round, anchors_of, matched
from irspot.registration.motions import FreeMotion, Motion, StiffMotion
from irspot.registration.moved import Moved, carried_placement, motion_u_px, moved_between
from irspot.registration.placement import Placement
from irspot.registration.rigid import camera_matrix
from irspot.registration.shift_search import Guess, Sought, guesses, sought, tuned

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

_DEFAULT_BLUR_PX: Final = 1.0
_FEWEST_EDGES: Final = 40
_OUTLINE_SHOWS: Final = 0.35
_SPREAD: Final = 0.9
"""Edges that a board must show to be known again; the share of its outline, or else of the board that they are spread
over: with little of both, what lies over a cold board could be taken for it."""
_FIXED_PX: Final = 0.35
"""An edge found so near to where it was may belong to something that did not move with the board."""
_APART_SIGMAS: Final = 2.0
_GAINED: Final = 0.06
"""The outline by itself is met better elsewhere if a parameter differs by so many standard uncertainties, and this
share more of the outline is met."""
_RIVALRY: Final = 0.7
_SAME_PX: Final = 2.0
_LARGEST_U_PX: Final = 0.7
_SIGNIFICANT: Final = 2.0
"""A move below so many standard uncertainties is none to go by."""

_NEARBY: Final = (Round(2.0), Round(2.0), Round(2.0, settled=True))
_FAR: Final = (Round(3.0, gentle=True), Round(2.0, gentle=True), Round(2.0), Round(2.0, settled=True))
_AGAIN: Final = (Round(2.0, settled=True), Round(2.0, settled=True))


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """A frame in which a board was placed, and what it shows there.

    Parameters
    ----------
    placement : Placement
    corners_mm : ndarray, shape (n, 2)
        Of the outline.
    anchors : Anchors or None
        None where the board shows too little to be known again.
    sought : Sought or None
    blur_px, noise_k : float
    """

    placement: Placement
    corners_mm: FloatArray
    anchors: Anchors | None
    sought: Sought | None
    blur_px: float
    noise_k: float

    @property
    def usable(self) -> bool:
        """Whether the board shows enough to be followed."""
        return self.anchors is not None


@dataclass(frozen=True, slots=True, eq=False)
class Followed:
    """Where a board is in a later frame.

    Parameters
    ----------
    placement : Placement
        Its mapping is the reference's own where the board did not move by more than can be told.
    moved : Moved
    support : float
        Share of the board's edges in view that are where they should be.
    """

    placement: Placement
    moved: Moved
    support: float


def reference_of(degc: F32, board: Board, placement: Placement, noise_k: float | None = None) -> Reference:
    """Take a frame in which a board was placed as the one that later frames are held against.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Any temperatures; NaN where there is none.
    board : Board
    placement : Placement
        In this frame.
    noise_k : float, optional
        Standard deviation of one pixel; estimated where not given, or where the frame shows more.

    Returns
    -------
    Reference
    """
    whole = without_gaps(degc)
    noise = max(noise_k or 0.0, noise_of(whole))
    blur = placement.optics.blur_px or _DEFAULT_BLUR_PX
    corners = board.outline.array_mm
    edges = edges_on_board(whole, board, placement, noise, blur, beside_gaps(degc, blur))
    bare = Reference(placement, corners, None, None, blur, noise)
    if len(edges.places_px) < _FEWEST_EDGES:
        return bare
    anchors = anchors_of(edges, _motion_of(placement, corners), placement.optics, placement.size_px)
    if edges.outline_shows is not None and edges.outline_shows < _OUTLINE_SHOWS and anchors.spread < _SPREAD:
        return bare
    middle = placement.to_px(corners).mean(axis=0)
    wanted = sought(edges.places_px, edges.normals, middle, degc.shape, noise)
    return Reference(placement, corners, anchors, wanted, blur, noise)


def _motion_of(placement: Placement, corners_mm: FloatArray) -> Motion:
    corners = homography.apply(placement.matrix, corners_mm)
    middle = corners.mean(axis=0)
    reach = float(np.hypot(*(corners - middle).T).mean())
    camera = camera_matrix(placement.optics, placement.size_px)
    if camera is None:
        return FreeMotion(middle, reach)
    return StiffMotion.of(placement.matrix, camera, middle, reach)


def follow(reference: Reference, degc: F32, noise_k: float | None = None, file: str = "") -> Followed:
    """Find the board of a reference in a later frame of the same camera.

    Parameters
    ----------
    reference : Reference
    degc : ndarray of float32, shape (rows, columns)
        Any temperatures: the board may be warmer or cooler, and show another pattern of heat.
    noise_k : float, optional
    file : str
        Named in refusals.

    Returns
    -------
    Followed

    Raises
    ------
    PlacementRefused
        With cause ``content`` where the reference shows too little, ``lost`` where the frame does not show the board
        plainly enough, ``two`` where it shows it in two places, ``size`` where the frame is of another size.
    """
    if degc.shape[::-1] != reference.placement.size_px:
        raise PlacementRefused(
            "the frame is not of the size of the one the board was placed in", cause="size", file=file
        )
    if reference.anchors is None or reference.sought is None:
        raise PlacementRefused(
            "the board showed too little in the frame it was placed in to be known again", cause="content", file=file
        )
    whole = without_gaps(degc)
    if not np.isfinite(whole).any():
        raise PlacementRefused("the frame holds no numbers", cause="lost", file=file)
    smooth, beside = smoothed(whole, reference.blur_px), beside_gaps(degc, reference.blur_px)
    smooth[beside] = np.nan
    least = least_slope(max(noise_k or 0.0, reference.noise_k), reference.blur_px)
    frame = _Frame(whole, smooth, least, np.argwhere(beside)[:, ::-1].astype(np.float64))
    found = _nearby(reference.anchors, frame)
    if len(found) == 1 and support_of(found[0], reference.anchors).plain:
        return _followed(reference, found[0], file)
    return _followed(reference, _searched(reference, reference.anchors, reference.sought, frame, found, file), file)


@dataclass(frozen=True, slots=True, eq=False)
class _Frame:
    """A frame without gaps, smoothed but for its gaps, an edge's least slope, and places in or beside gaps."""

    whole: F32
    smooth: F32
    least: float
    gaps_px: FloatArray


def _nearby(anchors: Anchors, frame: _Frame) -> list[Match]:
    """Match the board about where it was; twice where the outline by itself is met better elsewhere.

    What lies over a board and does not move with it holds its other edges back.
    """
    everything = np.zeros(len(anchors.points), bool)
    start = np.zeros(anchors.motion.count)
    every = matched(frame.smooth, anchors, start, _NEARBY, frame.least, everything)
    if every is None:
        return []
    alone = matched(frame.smooth, anchors, start, _NEARBY, frame.least, ~anchors.on_outline)
    if alone is None or not _better_outline(alone, every, anchors):
        return [every]
    return [every, alone]


def _better_outline(alone: Match, every: Match, anchors: Anchors) -> bool:
    apart = np.abs(alone.by - every.by) > _APART_SIGMAS * np.sqrt(np.diag(alone.covariance) + np.diag(every.covariance))
    gained = support_of(alone, anchors).outline - support_of(every, anchors).outline
    return bool(apart.any() and gained > _GAINED)


def _searched(
    reference: Reference, anchors: Anchors, wanted: Sought, frame: _Frame, nearby: list[Match], file: str
) -> Match:
    """Look for the board elsewhere, too; take the place that most of its edges speak for."""
    places, normals = anchors.carried(np.zeros(anchors.motion.count))
    here = offsets(frame.smooth, places, normals, 1.5, 0.5, frame.least)
    fixed = here.present & (np.abs(here.offset_px) < _FIXED_PX)
    found = list(nearby)
    ranked = _distinct(found, reference, anchors)
    starts = (
        guesses(frame.whole, wanted, np.concatenate([places[fixed], frame.gaps_px]))
        if np.count_nonzero(~fixed) >= _FEWEST_EDGES
        else ()
    )
    for tried, guess in enumerate(starts):
        # A guess that the next one comes near to is not enough, be it ever so good: there may be two such places.
        rivalled = tried < 2 and guess.score > _RIVALRY * starts[0].score
        if tried and not rivalled and ranked and ranked[0][0].convincing and (len(ranked) < 2 or _beats(ranked)):
            break
        match = _from_start(anchors, frame, _tuned(anchors, wanted, frame, guess, fixed), fixed)
        if match is not None:
            found.append(match)
            ranked = _distinct(found, reference, anchors)
    if not ranked or not ranked[0][0].enough:
        raise PlacementRefused(
            "the board does not show plainly enough to be followed", cause="lost", file=file, hint=_HINT
        )
    if len(ranked) > 1 and not _beats(ranked):
        raise PlacementRefused("the board's edges fit two places nearly alike", cause="two", file=file, hint=_HINT)
    return ranked[0][1]


_HINT: Final = "give the frames since the move a run of their own"


def _beats(ranked: list[tuple[Support, Match]]) -> bool:
    return ranked[0][0].beats(ranked[1][0])


def _tuned(anchors: Anchors, wanted: Sought, frame: _Frame, guess: Guess, fixed: Bool) -> Guess:
    places, normals = anchors.carried(_motion_by(anchors.motion, guess))
    return tuned(frame.smooth, places[~fixed], normals[~fixed], wanted, guess)


def _motion_by(motion: Motion, guess: Guess) -> FloatArray:
    by = np.zeros(motion.count)
    by[:3] = *guess.shift_px, np.deg2rad(guess.turn_deg) * motion.reach_px
    return by


def _from_start(anchors: Anchors, frame: _Frame, start: Guess, fixed: Bool) -> Match | None:
    first = matched(frame.smooth, anchors, _motion_by(anchors.motion, start), _FAR, frame.least, fixed)
    if first is None:
        return None
    # What is still where it was, and not where the board would be now, is something else's.
    return matched(frame.smooth, anchors, first.by, _AGAIN, frame.least, fixed & ~first.near)


def _distinct(matches: list[Match], reference: Reference, anchors: Anchors) -> list[tuple[Support, Match]]:
    """Order matches by their worth, and leave out those that are nearly one that is worth more."""
    judged = [(support_of(match, anchors), match) for match in matches]
    kept: list[tuple[Support, Match]] = []
    corners: list[FloatArray] = []
    for support, match in sorted(judged, key=lambda each: -each[0].worth):
        matrix = anchors.motion.matrix(match.by) @ reference.placement.matrix
        here = homography.apply(matrix, reference.corners_mm)
        if all(not np.abs(here - other).max() < _SAME_PX for other in corners):
            kept.append((support, match))
            corners.append(here)
    return kept


def _followed(reference: Reference, match: Match, file: str) -> Followed:
    """Say how far the board moved, and where it is."""
    assert reference.anchors is not None
    placed, motion = reference.placement, reference.anchors.motion
    carried = carried_placement(placed, motion, match.by, match.covariance)
    u_px = np.hypot(motion_u_px(placed, motion, match.by, match.covariance, reference.corners_mm), EDGE_U_PX)
    moved = moved_between(placed, carried, reference.corners_mm, u_px)
    if not (np.isfinite(moved.px + moved.mm) and np.all(u_px < _LARGEST_U_PX)):
        raise PlacementRefused(
            "the board's edges hold its place too loosely", cause="lost", file=file, found=f"± {u_px.max():.1f} px"
        )
    off_px = np.hypot(*(carried.to_px(reference.corners_mm) - placed.to_px(reference.corners_mm)).T)
    significant = bool(np.any(off_px > _SIGNIFICANT * u_px))
    chosen = carried if significant else replace(carried, matrix=placed.matrix)
    return Followed(chosen, moved, support_of(match, reference.anchors).every)
