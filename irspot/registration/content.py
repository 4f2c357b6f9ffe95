"""What a board shows in a frame, as places of edges with their directions: how it is known again when it has moved.

Only the place and the direction of an edge count, not how large its step is or which side is warmer, so that a board
that warms up stays the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.errors import PlacementRefused
from irspot.opencv import load_cv2
from irspot.registration.edge_map import edge_map
from irspot.registration.placement import Placement
from irspot.shapes import Shape

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

MOST_POINTS: Final = 900
_SPACING_PX: Final = 3.0
_BESIDE_PX: Final = 5
"""Width of the band along the outline whose edges are the outline's own."""
_ALONG_DEG: Final = 12.0
"""... if they run along it within this."""
_LEAST_IN_VIEW: Final = 0.25
_FARTHEST_PX: Final = 1e5
_MARGIN_PX: Final = 4.0
_GAP_BLURS: Final = 3.0
_STUCK_NOISES: Final = 12.0
_STUCK_K: Final = 1.0
_NOISES: Final = 4.0
_FLAT_MM: Final = 1.0
"""Surfaces lower than this are taken for the board's own."""
_RIM_MM: Final = 1.5
"""A raised zone's own border counts as raised though it is found so far outside of it."""


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """Edges on a board in one frame.

    Parameters
    ----------
    places_px : ndarray, shape (n, 2)
        In the stored image.
    normals : ndarray, shape (n, 2)
        Unit vectors across each edge.
    height_mm : ndarray, shape (n,)
        Of the surface that each is seen on.
    on_outline : ndarray of bool, shape (n,)
    outline_shows : float or None
        Share of the outline in view along which there are edges; None where too little of it is in view.
    """

    places_px: FloatArray
    normals: FloatArray
    height_mm: FloatArray
    on_outline: Bool
    outline_shows: float | None


@dataclass(frozen=True, slots=True, eq=False)
class Offsets:
    """Edges found along normals.

    Parameters
    ----------
    offset_px : ndarray, shape (n,)
        How far along its normal each was found.
    present : ndarray of bool, shape (n,)
        Whether there is one.
    seen : ndarray of bool, shape (n,)
        Whether its surroundings are in view.
    """

    offset_px: FloatArray
    present: Bool
    seen: Bool


def beside_gaps(degc: F32, blur_px: float) -> Bool:
    """Say which pixels lie in or beside one without a number: what was drawn there would show as an edge.

    Returns
    -------
    ndarray of bool, shape (rows, columns)
    """
    unknown = ~np.isfinite(degc)
    if not unknown.any():
        return unknown
    side = 2 * int(np.ceil(_GAP_BLURS * max(1.0, blur_px))) + 1
    return np.asarray(load_cv2().dilate(unknown.astype(np.uint8), np.ones((side, side), np.uint8)) > 0)


def edges_on_board(
    degc: F32, board: Board, placement: Placement, noise_k: float, blur_px: float, beside: Bool
) -> Edges:
    """Find the edges that lie on a board, spread over it.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Without gaps.
    board : Board
    placement : Placement
    noise_k, blur_px : float
    beside : ndarray of bool, shape (rows, columns)
        Pixels where no edge counts, see `beside_gaps`.

    Returns
    -------
    Edges
        At most `MOST_POINTS`; perhaps none.
    """
    clean = without_stuck(degc, noise_k)
    found = edge_map(clean, noise_k, blur_px)
    inside, rim = _on_board(board, placement, degc.shape)
    inside &= ~beside
    at = np.clip(np.rint(found.points_px).astype(int), 0, np.array(degc.shape[::-1]) - 1)
    wanted = np.flatnonzero(inside[at[:, 1], at[:, 0]])
    wanted = wanted[np.argsort(-found.weights[wanted], kind="stable")]
    places, normals = found.points_px[wanted], found.normals[wanted]
    kept = _apart(places, max(_SPACING_PX, float(np.sqrt(inside.sum() / MOST_POINTS)) / 2.5))[:MOST_POINTS]
    places, normals = places[kept], normals[kept]
    smooth, least = smoothed(clean, blur_px), least_slope(noise_k, blur_px)
    for _ in range(2):
        # The same way of measuring as later on, so that nothing of its own errors is taken for a motion.
        here = offsets(smooth, places, normals, 2.0, 1.0, least)
        places = (places + here.offset_px[:, None] * normals)[here.present]
        normals = normals[here.present]
    outline = _of_outline(rim, places, normals)
    shows = _share_shown(board, placement, places[outline], degc.shape)
    return Edges(places, normals, heights_at(board, placement, places), outline, shows)


def without_stuck(degc: F32, noise_k: float) -> F32:
    """Replace single pixels that stand far out of their neighbours: they belong to the camera, not to the board."""
    calm = load_cv2().medianBlur(degc, 3)
    return np.where(np.abs(degc - calm) > max(_STUCK_K, _STUCK_NOISES * noise_k), calm, degc)


def smoothed(degc: F32, blur_px: float) -> F32:
    """Smooth as much as the camera does, but by a pixel at least."""
    return np.asarray(load_cv2().GaussianBlur(degc, (0, 0), max(1.0, blur_px)))


def least_slope(noise_k: float, blur_px: float) -> float:
    """Slope of a smoothed frame, K/px, that noise hardly reaches.

    The slope's noise, after smoothing by a Gaussian of standard deviation s, is noise / (√(8 π) s²).
    """
    return _NOISES * noise_k / float(np.sqrt(8.0 * np.pi) * max(1.0, blur_px) ** 2)


def offsets(
    smooth: F32, places: FloatArray, normals: FloatArray, reach_px: float, step_px: float, least: float
) -> Offsets:
    """Find the steepest change along normals through places.

    Parameters
    ----------
    smooth : ndarray of float32, shape (rows, columns)
        NaN where nothing can be seen.
    places, normals : ndarray, shape (n, 2)
    reach_px : float
        How far to look.
    step_px : float
        How finely.
    least : float
        Least slope of an edge, K/px.

    Returns
    -------
    Offsets
        Placed between the steps by a parabola; what is steepest at the end of the reach is no edge.
    """
    if not len(places):
        return Offsets(np.empty(0), np.empty(0, bool), np.empty(0, bool))
    rows, columns = smooth.shape
    at = np.arange(-reach_px - step_px, reach_px + step_px + 1e-9, step_px)
    room = reach_px + 1.0
    with np.errstate(invalid="ignore"):
        seen = np.all((places >= room) & (places <= np.array([columns - 1, rows - 1]) - room), axis=1)
    here = np.where(seen[:, None], places, 0.0)
    along = here[:, None] + at[None, :, None] * np.where(seen[:, None], normals, 0.0)[:, None]
    cv2, maps = load_cv2(), along.astype(np.float32)
    profile = cv2.remap(smooth, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    seen &= np.isfinite(profile).all(axis=1)
    profile = np.where(seen[:, None], profile, np.float32(0.0))
    slope = np.abs(profile[:, 2:] - profile[:, :-2]) / (2.0 * step_px)
    middle = at[1:-1]
    # Of two edges within reach the nearer one is likelier: what is found fades with distance.
    best = np.argmax(slope * (1.0 - 0.5 * (middle / (reach_px + 1.0)) ** 2), axis=1)
    inner = np.clip(best, 1, len(middle) - 2)
    row = np.arange(len(best))
    for _ in range(2):
        # That fading may have chosen a neighbour of the steepest place.
        a, b, c = slope[row, inner - 1], slope[row, inner], slope[row, inner + 1]
        inner = np.clip(inner + np.where((c > b) & (c >= a), 1, np.where(a > b, -1, 0)), 1, len(middle) - 2)
    a, b, c = slope[row, inner - 1], slope[row, inner], slope[row, inner + 1]
    bend = a - 2.0 * b + c
    shift = np.where(bend < 0.0, 0.5 * (a - c) / np.minimum(bend, -1e-12), 0.0)
    offset = middle[inner] + np.clip(shift, -1.0, 1.0) * step_px
    return Offsets(offset, seen & (b >= a) & (b >= c) & (b > least), seen)


def heights_at(board: Board, placement: Placement, places_px: FloatArray) -> FloatArray:
    """Heights of the surfaces that are seen at places: of the highest zone that appears there, else 0."""
    heights = np.zeros(len(places_px))
    for zone in sorted(board.zones_of(placement.side), key=lambda zone: zone.height_mm):
        if zone.height_mm < _FLAT_MM:
            continue
        try:
            seen = placement.raised(zone.height_mm)
        except PlacementRefused:  # without a focal length it is somewhere near
            seen = placement
        heights[_near(zone.shape, seen.to_mm(places_px))] = zone.height_mm
    return heights


def _near(shape: Shape, xy_mm: FloatArray) -> Bool:
    within = np.zeros(len(xy_mm), bool)
    for dx, dy in ((0, 0), (1, 0), (-1, 0), (0, 1), (0, -1)):
        within |= shape.contains(xy_mm[:, 0] + dx * _RIM_MM, xy_mm[:, 1] + dy * _RIM_MM)
    return within


def _on_board(board: Board, placement: Placement, shape: tuple[int, int]) -> tuple[Bool, F32]:
    """Pixels of the board with its rim, without the frame's margin; and on the rim the outline's direction.

    Returns
    -------
    inside : ndarray of bool, shape (rows, columns)
    rim : ndarray of float32, shape (rows, columns)
        Direction of the outline, rad from x towards y over half a turn; NaN elsewhere.
    """
    cv2 = load_cv2()
    inside, rim = np.zeros(shape, np.uint8), np.full(shape, np.nan, np.float32)
    border = placement.to_px(board.outline.border_points(4.0))
    border = np.clip(border[np.all(np.isfinite(border), axis=1)], -_FARTHEST_PX, _FARTHEST_PX)
    if len(border) >= 3:
        fixed = np.rint(border * 16.0).astype(np.int32)
        cv2.fillPoly(inside, [fixed], 1, shift=4)
        cv2.polylines(inside, [fixed], True, 1, _BESIDE_PX, shift=4)
        for start, end in zip(fixed, np.roll(fixed, -1, axis=0), strict=True):
            direction = float(np.arctan2(*(end - start)[::-1]) % np.pi)
            cv2.line(rim, start.tolist(), end.tolist(), direction, _BESIDE_PX, shift=4)
    margin = int(_MARGIN_PX)
    view = np.zeros(shape, bool)
    view[margin : shape[0] - margin, margin : shape[1] - margin] = True
    return inside.astype(bool) & view, rim


def _of_outline(rim: F32, places: FloatArray, normals: FloatArray) -> Bool:
    """Say which edges lie on the outline and run along it."""
    at = np.clip(np.rint(places).astype(int), 0, np.array(rim.shape[::-1]) - 1)
    along = np.arctan2(normals[:, 0], -normals[:, 1])
    apart = np.abs((along - rim[at[:, 1], at[:, 0]] + np.pi / 2.0) % np.pi - np.pi / 2.0)
    return np.asarray(apart < np.deg2rad(_ALONG_DEG))


def _share_shown(board: Board, placement: Placement, edges_px: FloatArray, shape: tuple[int, int]) -> float | None:
    """Share of the outline in view that has one of its edges beside it; None where too little of it is in view."""
    near = np.zeros(shape, np.uint8)
    at = np.rint(edges_px).astype(int)
    near[at[:, 1], at[:, 0]] = 1
    near = load_cv2().dilate(near, np.ones((_BESIDE_PX + 4, _BESIDE_PX + 4), np.uint8))
    places = placement.to_px(board.outline.border_points(1.0))
    with np.errstate(invalid="ignore"):
        seen = np.all((places >= _MARGIN_PX) & (places <= np.array(shape[::-1]) - 1.0 - _MARGIN_PX), axis=1)
    x, y = np.rint(places[seen]).astype(int).T
    return float(near[y, x].mean()) if np.mean(seen) >= _LEAST_IN_VIEW else None


def _apart(places: FloatArray, spacing_px: float) -> NDArray[np.intp]:
    """Keep the first place of every cell of a grid, so that none lie close together; their order stays."""
    cells = np.floor(places / spacing_px).astype(np.int64)
    _, first = np.unique(cells[:, 0] * 100_000 + cells[:, 1], return_index=True)
    return np.sort(first)
