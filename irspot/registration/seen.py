"""What a search for a board saw, for a person to look at: edges, and the outlines that lie on them best."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Side
from irspot.frame import Frame
from irspot.placing import AutoPlacement, CornersPx, HowToPlace, ImageSide, PointsPx
from irspot.registration import homography
from irspot.registration.distortion import distort

FloatArray = NDArray[np.float64]

_SHOWN: Final = 3
_SAME_PX: Final = 6.0
"""Outlines whose corners are nearer than this are one place, whichever way round."""
_CLEAR: Final = 0.3
"""Strength, 0 to 1, from which on an edge is worth showing."""
_BORDER_POINTS: Final = 240


@dataclass(frozen=True, slots=True, eq=False)
class SeenOutline:
    """A place where the board could be.

    Parameters
    ----------
    border_px : ndarray, shape (n, 2)
        Points along the outline in the stored image; NaN where it lies behind the camera.
    fit : float
        How well edges support it, 0 to 1.
    on_edges : float
        Share of what is in view of it at which the frame has an edge.
    in_view : float
        Share of it in view.
    ways : int
        So many ways round fit this place.
    """

    border_px: FloatArray
    fit: float
    on_edges: float
    in_view: float
    ways: int


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What was seen in a frame.

    Parameters
    ----------
    outlines : tuple of SeenOutline
        The likeliest first, a few at most.
    edges_px : ndarray, shape (n, 2)
        Places of clear edges in the stored image.
    given_px : tuple of (str, float, float)
        Points given by hand, by name.
    """

    outlines: tuple[SeenOutline, ...] = ()
    edges_px: FloatArray = field(default_factory=lambda: np.empty((0, 2)))
    given_px: tuple[tuple[str, float, float], ...] = ()


def what_was_seen(
    frame: Frame, board: Board, how: HowToPlace, *, side: Side = "front", top: ImageSide | None = None
) -> Seen:
    """Look for a board once more and tell what shows, whether or not it is enough to place it.

    Parameters
    ----------
    frame : Frame
    board : Board
    how : CornersPx, PointsPx or AutoPlacement
        Points given by hand are shown as they are, and nothing is sought.
    side : {"front", "rear"}
    top : {"up", "right", "down", "left"}, optional

    Returns
    -------
    Seen
    """
    if isinstance(how, CornersPx):
        return Seen(given_px=tuple((str(number), x, y) for number, (x, y) in enumerate(how.points_px, start=1)))
    if isinstance(how, PointsPx):
        return Seen(given_px=how.points_px)
    assert isinstance(how, AutoPlacement)
    return _sought(frame, board, side, top)


def _sought(frame: Frame, board: Board, side: Side, top: ImageSide | None) -> Seen:
    from irspot.radiometry import radiance_temperature
    from irspot.registration.edge_map import edge_map, noise_of, without_gaps
    from irspot.registration.find_board import candidates_of
    from irspot.registration.way_round import symmetries

    degc = without_gaps(radiance_temperature(frame))
    if not np.isfinite(degc).any():
        return Seen()
    noise_k = max(frame.camera.accuracy.noise_k, noise_of(degc))
    optics = frame.camera.optics
    edges = edge_map(degc, noise_k)
    candidates = candidates_of(degc, board, optics, side=side, top=top, noise_k=noise_k)
    places: list[list[int]] = []
    for number, candidate in enumerate(candidates):
        known = (place for place in places if _same_place(candidates[place[0]].corners_px, candidate.corners_px))
        mine = next(known, None)
        if mine is None:
            places.append([number])
        else:
            mine.append(number)
    step_mm = float(np.ptp(board.outline.array_mm, axis=0).sum()) * 2.0 / _BORDER_POINTS
    border_mm = board.outline.border_points(step_mm)
    size_px = (frame.shape[1], frame.shape[0])
    # Without a top only one of the ways round in which an outline looks the same was tried.
    alike = len(symmetries(board.outline.array_mm)) if top is None else 1
    outlines = tuple(
        SeenOutline(
            distort(homography.apply(best.refined.matrix, border_mm), optics, size_px),
            best.worth,
            best.held,
            best.in_view,
            max(alike, len(place)),
        )
        for place, best in ((place, candidates[place[0]]) for place in places[:_SHOWN])
    )
    return Seen(outlines, edges.points_px[edges.weights > _CLEAR])


def _same_place(one_px: FloatArray, other_px: FloatArray) -> bool:
    apart = np.linalg.norm(one_px[:, None] - other_px[None], axis=2)
    return bool(apart.min(axis=0).max() < _SAME_PX and apart.min(axis=1).max() < _SAME_PX)
