"""Marks that decide which way round a placed board lies, and hold it better than its outline alone."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, NoReturn

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.errors import PlacementRefused
from irspot.placing import ImageSide
from irspot.registration.board_plane import board_plane
from irspot.registration.mark_centres import fit_centre
from irspot.registration.mark_evidence import BoardRoundness, board_roundness
from irspot.registration.mark_refine import THICKNESS_MM, Sighting, join, px_per_mm
from irspot.registration.mark_ways import CLEAR_CHANCE, Way, beats, best_way, can_tell, ways_of
from irspot.registration.placement import Placement
from irspot.registration.way_round import IMAGE_SIDES, top_direction

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]


def marks_can_decide(board: Board) -> bool:
    """Say whether a board's marks, if they show, tell all ways apart in which its outline looks the same."""
    ways = [way for way in ways_of(board.outline.array_mm) if not way.turned_over]
    marks_mm = marks_of(board)
    return all(can_tell(one, other, marks_mm) for one in ways for other in ways if one is not other)


def marks_of(board: Board) -> FloatArray:
    """Places of a board's marks, shape (n, 2)."""
    return np.array([(mark.x_mm, mark.y_mm) for mark in board.marks], np.float64).reshape(-1, 2)


def with_marks(
    degc: F32, board: Board, placement: Placement, *, top: ImageSide | None, noise_k: float, file: str = ""
) -> Placement:
    """Check a placement that was found from the outline by the board's marks, and let them take part in it.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Without gaps.
    board : Board
    placement : Placement
        In any of the ways that the outline leaves open, if no `top` is given.
    top : {"up", "right", "down", "left"}, optional
        Image side the board's top edge faces.
    noise_k : float
    file : str
        Named in refusals.

    Returns
    -------
    Placement

    Raises
    ------
    PlacementRefused
        With cause ``orientation`` where the marks do not decide the way round, ``top`` or ``mirrored`` where they
        contradict what was said.
    """
    marks_mm = marks_of(board)
    ways = ways_of(board.outline.array_mm)
    places = np.concatenate([way.carried(marks_mm) for way in ways])
    blur_px = placement.optics.blur_px or DEFAULT_BLUR_PX
    plane = board_plane(degc, placement, board.outline.array_mm, blur_px)
    seen = board_roundness(plane, places, noise_k)
    way = _way_round(board, ways, seen, placement, top, file)
    return _joined(degc, board, placement, way, seen, noise_k)


DEFAULT_BLUR_PX: Final = 1.0


def _way_round(
    board: Board, ways: tuple[Way, ...], seen: BoardRoundness, placement: Placement, top: ImageSide | None, file: str
) -> Way:
    """Choose the way the marks show, or check the one that was said."""
    marks_mm = marks_of(board)
    turned = tuple(way for way in ways if not way.turned_over)
    allowed = turned if top is None else ways[:1]
    for other in ways:
        if other.turned_over and all(beats(other, way, marks_mm, seen) for way in allowed):
            _refuse_side(placement, file)
    if top is not None:
        for other in turned[1:]:
            if beats(other, ways[0], marks_mm, seen):
                _refuse_top(board, placement, other, top, file)
        return ways[0]
    chosen = best_way(turned, marks_mm, seen)
    if chosen is None:
        raise PlacementRefused(
            "the outline looks the same in several ways round, and the marks do not show clearly enough to decide",
            cause="orientation",
            file=file,
            key="top",
            wanted=_CHOICES,
            hint="say which image side the board's top edge faces: top, or --top",
        )
    return chosen


_CHOICES: Final = "up, right, down or left"


def _refuse_side(placement: Placement, file: str) -> NoReturn:
    other = "rear" if placement.side == "front" else "front"
    raise PlacementRefused(
        f"the marks show as in a view of the {other}, but the side is {placement.side}",
        cause="mirrored",
        file=file,
        key="side",
        found=placement.side,
        wanted=other,
        hint=f'if the frame shows the {other}, set side = "{other}"; else check the marks\' places in the board file',
    )


def _refuse_top(board: Board, placement: Placement, way: Way, top: ImageSide, file: str) -> NoReturn:
    direction = top_direction((placement.matrix @ way.matrix)[None], board.outline.array_mm)[0]
    says = max(IMAGE_SIDES, key=lambda name: float(direction @ IMAGE_SIDES[name]))
    raise PlacementRefused(
        "the marks show the board another way round than top says",
        cause="top",
        file=file,
        key="top",
        found=top,
        wanted=f"{says}, by the marks",
        hint=f'set top = "{says}", or check the marks\' places in the board file',
    )


def _joined(
    degc: F32, board: Board, placement: Placement, way: Way, seen: BoardRoundness, noise_k: float
) -> Placement:
    """Lay the board the way it was found to lie, and join the marks that show."""
    sightings = sightings_of(degc, board, placement, way, seen, noise_k)
    placement = relaid(placement, way)
    if not sightings or placement.covariance is None:
        return placement
    joined = join(placement, placement.covariance, sightings, board.thickness_mm or THICKNESS_MM)
    count = placement.points + len(joined.used)
    residual = float(np.sqrt((placement.points * placement.residual_px**2 + np.sum(joined.misses_px**2)) / count))
    joined.matrix.flags.writeable = False
    return replace(
        placement,
        matrix=joined.matrix,
        covariance=joined.covariance,
        residual_px=residual,
        residual_mm=residual / max(seen.plane.px_per_mm, 1e-9),
        u_point_px=residual,
        points=count,
        marks=joined.used,
        marks_left_out=joined.left_out,
    )


def sightings_of(
    degc: F32, board: Board, placement: Placement, way: Way, seen: BoardRoundness, noise_k: float
) -> tuple[Sighting, ...]:
    """Find the marks that show clearly where one way of laying the board has them."""
    marks_mm = marks_of(board)
    lying = way.carried(marks_mm)
    chances = seen.chances(lying)
    slopes = px_per_mm(placement, lying)
    blur_px = placement.optics.blur_px or DEFAULT_BLUR_PX
    use = np.ones(degc.shape, bool)
    found = []
    for k, mark in enumerate(board.marks):
        if not chances[k] <= CLEAR_CHANCE:
            continue
        start_mm, radius_mm = seen.roundest(lying[k])
        start = placement.to_px(start_mm[None])[0]
        centre = fit_centre(degc, use, start, slopes[k], radius_mm=radius_mm, blur_px=blur_px, noise_k=noise_k)
        if centre is not None and np.hypot(*(centre.xy_px - start)) < seen.plane.px_per_mm * seen.reach_mm:
            found.append(Sighting(mark.id, marks_mm[k], centre.xy_px, centre.u_px))
    return tuple(found)


def relaid(placement: Placement, way: Way) -> Placement:
    """Lay a placed board another way into its outline; the covariance follows to first order."""
    product = placement.matrix @ way.matrix
    last = product[2, 2]
    # d(M W)/dM is I ⊗ Wᵀ, and division by the last entry takes away what that entry changes.
    slopes = np.kron(np.eye(3), way.matrix.T) / last
    slopes = slopes - np.outer(product.ravel() / last, slopes[8])
    matrix = product / last
    matrix.flags.writeable = False
    inner = slopes[:8, :8]
    covariance = None if placement.covariance is None else inner @ placement.covariance @ inner.T
    return replace(placement, matrix=matrix, covariance=covariance)
