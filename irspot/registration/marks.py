"""Marks that decide which way round a placed board lies, and hold it better than its outline alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final, NoReturn

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.errors import PlacementRefused
from irspot.placing import ImageSide
from irspot.registration.board_plane import board_pixels, board_plane
from irspot.registration.mark_centres import fit_centre
from irspot.registration.mark_evidence import BoardRoundness, board_roundness, weights_of
from irspot.registration.mark_refine import THICKNESS_MM, Sighting, join, px_per_mm
from irspot.registration.mark_ways import CLEAR_CHANCE, Way, beats, best_way, can_tell, ways_of
from irspot.registration.placement import Placement
from irspot.registration.way_round import IMAGE_SIDES, alike, top_direction

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]


def check_decidable(board: Board, top: ImageSide | None, file: str = "") -> None:
    """Refuse, before any search, a board that nothing could tell the way round of.

    Parameters
    ----------
    board : Board
    top : {"up", "right", "down", "left"}, optional
    file : str
        Named in the refusal.

    Raises
    ------
    PlacementRefused
        With cause ``orientation``.
    """
    turned = _turned(board)
    marks_mm = marks_of(board)
    if top is not None or all(can_tell(one, other, marks_mm) for one in turned for other in turned if one is not other):
        return
    what = "the outline looks the same" if len(marks_mm) == 0 else "the outline and its marks look the same"
    refuse_open(f"{what} in several ways round", len(turned), file)


def _turned(board: Board) -> tuple[Way, ...]:
    return tuple(way for way in ways_of(board.outline.array_mm) if not way.turned_over)


def refuse_open(message: str, ways: int, file: str) -> NoReturn:
    """Refuse to choose among ways round, naming what there is to choose from."""
    raise PlacementRefused(
        message,
        cause="orientation",
        file=file,
        key="top",
        wanted="up, right, down or left" if ways == 4 else "the image side that the board's top edge faces",
        hint="say which image side the board's top edge faces: top, or --top",
    )


def marks_of(board: Board) -> FloatArray:
    """Places of a board's marks, shape (n, 2)."""
    return np.array([(mark.x_mm, mark.y_mm) for mark in board.marks], np.float64).reshape(-1, 2)


def with_marks(
    degc: F32,
    board: Board,
    placement: Placement,
    *,
    top: ImageSide | None,
    noise_k: float,
    again: Callable[[ImageSide], Placement],
    file: str = "",
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
    again : callable
        Places the board anew, its top facing an image side; called where the outline is nearly but not quite the same
        in the way the marks show.
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
    if len(marks_mm) == 0:
        return placement
    ways = ways_of(board.outline.array_mm)
    places = np.concatenate([way.carried(marks_mm) for way in ways])
    blur_px = placement.optics.blur_px or DEFAULT_BLUR_PX
    plane = board_plane(degc, placement, board.outline.array_mm, blur_px)
    seen = board_roundness(plane, places, noise_k)
    way = _way_round(board, ways, seen, placement, top, file)
    if not alike(way.carried(board.outline.array_mm), board.outline.array_mm, _SAME_MM):
        facing = side_faced(board, placement.matrix @ way.matrix)
        return with_marks(degc, board, again(facing), top=facing, noise_k=noise_k, again=again, file=file)
    return _joined(degc, board, placement, way, seen, noise_k)


DEFAULT_BLUR_PX: Final = 1.0
_SAME_MM: Final = 0.05


def _way_round(
    board: Board, ways: tuple[Way, ...], seen: BoardRoundness, placement: Placement, top: ImageSide | None, file: str
) -> Way:
    """Choose the way the marks show, or check the one that was said."""
    marks_mm = marks_of(board)
    turned = tuple(way for way in ways if not way.turned_over)
    allowed = turned if top is None else ways[:1]
    against = [way for way in ways if way not in allowed and all(beats(way, one, marks_mm, seen) for one in allowed)]
    if against:
        shown = max(against, key=lambda way: float(weights_of(seen.chances(way.carried(marks_mm))).sum()))
        if shown.turned_over:
            _refuse_side(placement, file)
        refuse_top(board, placement.matrix @ shown.matrix, str(top), file)
    chosen = best_way(allowed, marks_mm, seen)
    if chosen is None:
        message = "the outline looks the same in several ways round, and the marks do not show clearly enough to decide"
        refuse_open(message, len(turned), file)
    return chosen


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


def side_faced(board: Board, matrix: FloatArray) -> ImageSide:
    """Image side that a board's top is nearest to facing."""
    direction = top_direction(matrix[None], board.outline.array_mm)[0]
    return max(IMAGE_SIDES, key=lambda name: float(direction @ IMAGE_SIDES[name]))


def refuse_top(board: Board, matrix: FloatArray, top: str, file: str, *, by: str = "marks") -> NoReturn:
    """Refuse what was said of the top, by the mapping that marks or the outline show."""
    says = side_faced(board, matrix)
    shows = "marks show" if by == "marks" else "outline shows"
    raise PlacementRefused(
        f"the {shows} the board another way round than top says",
        cause="top",
        file=file,
        key="top",
        found=top,
        wanted=f"{says}, by the {by}",
        hint=f'set top = "{says}", or check the {by} in the board file',
    )


def _joined(degc: F32, board: Board, placement: Placement, way: Way, seen: BoardRoundness, noise_k: float) -> Placement:
    """Lay the board the way it was found to lie, and join the marks that show."""
    sightings = sightings_of(degc, board, placement, way, seen, noise_k)
    placement = relaid(placement, way)
    if not sightings or placement.covariance is None:
        return placement
    joined = join(placement, placement.covariance, sightings, board.thickness_mm or THICKNESS_MM)
    if not joined.used:
        return replace(placement, marks_left_out=joined.left_out)
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
    use = board_pixels(placement, board.outline, blur_px)
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
