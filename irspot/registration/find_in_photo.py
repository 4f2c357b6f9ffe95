"""Find a board's outline in a visible-light photo, or say why it cannot be found for certain.

A photo is full of edges, most of them the board's own print and parts. So it is the outer border of what is no bench
that is sought: the solid shape first; then the step of colour along its outline, only where the board's own colour
comes up to it, for parts stand over the edge; then whether there is board inside and bench outside all around.
"""

from __future__ import annotations

from typing import Final, NoReturn

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Side
from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.opencv import load_cv2
from irspot.photo import Photo
from irspot.placing import ImageSide
from irspot.registration.find_board import candidates_of
from irspot.registration.outline_score import OutlinePoints, carried_outline, outline_points
from irspot.registration.photo_edges import OnEdges, on_edges
from irspot.registration.photo_view import PhotoView, as_heat, photo_view
from irspot.registration.placement import Placement
from irspot.registration.refine import Refined
from irspot.registration.way_round import faces, symmetries

FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

SEARCHED_PX: Final = 1000
"""Photos are reduced to about this length of their longer side."""
_SOLID_NOISE: Final = 0.5
_POINTS: Final = 480
_LEAST_OWN: Final = 0.4
_LEAST_OWN_EDGE: Final = 0.25
"""Share of the outline, and of each of its edges, that steps from board to bench just there."""
_MOST_ELSEWHERE: Final = 0.2
_MOST_OFF: Final = 0.4
"""Share of a third of an edge along which the step is elsewhere, or there is none, at most."""
_LEAST_FILLED: Final = 0.7
_MOST_BEYOND: Final = 0.3
"""Share of the outline's area that is board at least, and that the same solid shape has outside it at most."""
_SAME_PX: Final = 6.0
_LEAST_MARGIN: Final = 0.1
_LEAST_TURN: Final = 0.12
"""Difference of cosines between two ways round, to the side that was named, below which neither is nearer."""
_HINT: Final = (
    "give photo_corners_px, or photo_points_px of marks; a sheet of another colour under the board makes its edge show"
)


def find_in_photo(
    photo: Photo, board: Board, optics: Optics, *, side: Side, top: ImageSide | None, file: str
) -> Placement:
    """Find a board in a photo.

    Parameters
    ----------
    photo : Photo
        All of the board in view, on a bench whose colour runs around it.
    board : Board
    optics : Optics
    side : {"front", "rear"}
    top : {"up", "right", "down", "left"} or None
        Needed where the outline looks the same in several ways.
    file : str
        Named in refusals.

    Returns
    -------
    Placement

    Raises
    ------
    PlacementRefused
        With the reason.
    """
    _check_way_round(board, top, file)
    factor = max(1, round(max(photo.size_px) / SEARCHED_PX))
    view = photo_view(photo, optics, factor)
    if view is None:
        _refuse(file, "nothing of the photo differs enough in colour from what lies along its border", "contrast")
    points = outline_points(board.outline.array_mm, _POINTS)
    starts = candidates_of(as_heat(view.solid), board, view.lens, side=side, top=top, noise_k=_SOLID_NOISE)
    said = (start for start in starts if faces(start.facing))
    tried = (on_edges(view, points, board, start.refined.matrix, start.facing) for start in said)
    found = _distinct(sorted((each for each in tried if each is not None), key=lambda each: -each.worth))
    best = _judged(found, view, points, file)
    return _placement(best.refined, board, side, optics, photo.size_px, factor)


def _check_way_round(board: Board, top: ImageSide | None, file: str) -> None:
    if top is None and len(symmetries(board.outline.array_mm)) > 1:
        raise PlacementRefused(
            "the outline looks the same in several ways round",
            cause="orientation",
            file=file,
            key="photo_top",
            wanted="up, right, down or left",
            hint="say which side of the photo the board's top edge faces: photo_top, or --photo-top",
        )


def _judged(found: list[OnEdges], view: PhotoView, points: OutlinePoints, file: str) -> OnEdges:
    """Take the best outline, if colours support it all around and no other comes near it."""
    if not found:
        _refuse(file, "no outline of this board's shape shows on the bench", "outline")
    best = _way_round([each for each in found if _same_place(each, found[0])], file)
    others = [each for each in found if not _same_place(each, best)]
    if not best.refined.seen.all() or not _in_view(best, view):
        _refuse(file, "the outline is not wholly in view in the photo", "cut-off")
    if best.own.mean() < _LEAST_OWN or best.shares.min() < _LEAST_OWN_EDGE:
        shares = f"{100.0 * best.own.mean():.0f} % of it, {100.0 * best.shares.min():.0f} % of its faintest edge"
        _refuse(
            file, "too little of the outline steps from the board's colour to the bench's", "contrast", found=shares
        )
    elsewhere, off = _worst_third(best.elsewhere, points), _worst_third(best.off, points)
    if elsewhere > _MOST_ELSEWHERE or off > _MOST_OFF:
        shares = f"{100.0 * max(elsewhere, off):.0f} % of a third of an edge"
        _refuse(
            file, "the colour steps from the board's to the bench's beside an edge of the outline", "edge", found=shares
        )
    filled, beyond = _overlap(view, points, best.refined.matrix)
    if filled < _LEAST_FILLED or beyond > _MOST_BEYOND:
        shares = f"{100.0 * filled:.0f} % of it filled, {100.0 * beyond:.0f} % of its area more beside it"
        _refuse(file, "what shows on the bench has not the outline's shape", "outline", found=shares)
    if others and best.worth - others[0].worth < _LEAST_MARGIN:
        _refuse(file, "two places fit the outline nearly alike", "two")
    return best


def _worst_third(some: Bool, points: OutlinePoints) -> float:
    """Largest share of a third of an edge.

    An edge that was drawn to parts over it, or to a shadow beside it, lies right along a part of its length only.
    """
    parts = (np.array_split(some[points.edge == edge], 3) for edge in np.unique(points.edge))
    return max(float(part.mean()) for thirds in parts for part in thirds)


def _distinct(found: list[OnEdges]) -> list[OnEdges]:
    kept: list[OnEdges] = []
    for each in found:
        if all(np.abs(each.corners_px - other.corners_px).max() > _SAME_PX for other in kept):
            kept.append(each)
    return kept


def _way_round(alike: list[OnEdges], file: str) -> OnEdges:
    """Choose among the ways round of one place the one whose top is nearest to the side of the photo that was named."""
    nearest = sorted(alike, key=lambda each: -each.facing)
    if len(nearest) > 1 and nearest[0].facing - nearest[1].facing < _LEAST_TURN:
        _refuse(file, "the board's top points between two sides of the photo", "orientation")
    return nearest[0]


def _same_place(one: OnEdges, other: OnEdges) -> bool:
    apart = np.linalg.norm(one.corners_px[:, None] - other.corners_px[None], axis=2)
    return bool(apart.min(axis=0).max() < _SAME_PX and apart.min(axis=1).max() < _SAME_PX)


def _in_view(found: OnEdges, view: PhotoView) -> bool:
    return bool(np.all((found.corners_px >= 0.0) & (found.corners_px <= np.array(view.size_px) - 1.0)))


def _overlap(view: PhotoView, points: OutlinePoints, matrix: FloatArray) -> tuple[float, float]:
    """Share of the outline's area that a solid shape fills, and area it has outside, against the same."""
    cv2 = load_cv2()
    places, solid = carried_outline(points, matrix[None], view.lens, view.size_px)[0][0], view.solid
    within = np.zeros(solid.shape, np.uint8)
    cv2.fillPoly(within, [np.rint(places).astype(np.int32)], 1)
    inside = within.astype(bool)
    area = max(1, int(inside.sum()))
    return float((solid & inside).sum() / area), float((solid & ~inside).sum() / area)


def _placement(
    refined: Refined, board: Board, side: Side, optics: Optics, size_px: tuple[int, int], factor: int
) -> Placement:
    """Carry a placement from the reduced photo to the photo itself."""
    half = (factor - 1) / 2.0
    up = np.array([[factor, 0.0, half], [0.0, factor, half], [0.0, 0.0, 1.0]])
    matrix = up @ refined.matrix
    matrix.flags.writeable = False
    slope = np.kron(up, np.eye(3))[:8, :8]
    per_mm = float(np.sqrt(abs(np.linalg.det(matrix[:2, :2]))))
    residual = factor * refined.residual_px
    return Placement(
        matrix,
        side,
        optics,
        size_px,
        "auto",
        residual,
        residual / max(per_mm, 1e-9),
        int(refined.held.sum()),
        residual,
        held_mm=board.outline.array_mm,
        covariance=slope @ refined.covariance @ slope.T,
    )


def _refuse(file: str, message: str, cause: str, *, found: str = "") -> NoReturn:
    raise PlacementRefused(message, cause=cause, file=file, key="photo_placement", found=found, hint=_HINT)
