"""Placement by hand: points given in px for the outline's corners or for marks, or a refusal that says why."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, replace
from typing import Final, Literal, NoReturn

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Side
from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.placing import CornersPx, ImageSide, PointsPx
from irspot.registration import homography, order
from irspot.registration.distortion import undistort
from irspot.registration.placement import Placement

FloatArray = NDArray[np.float64]

_CLOSE_PX: Final = 2.0
"""Two points nearer than this are one point set twice."""
_WORST_LEVERAGE: Final = 10.0
"""Most that an outline corner may move for one pixel of error in the points."""
_NEAREST_DEPTH: Final = 0.05
"""Least ratio of nearest to farthest depth over the outline: no camera sees a board so steeply."""
_WORST_MISFIT_PX: Final = 10.0
_WORST_MISFIT_SHARE: Final = 0.03
"""A point further off than both (the second of the board's diagonal in px) is a mistake, not an error of hand."""
_TOP_DEGREES: Final = 60.0
"""How far the board's top may point away from the image side that `top` names."""

_IMAGE_SIDES: Final[dict[ImageSide, tuple[float, float]]] = {
    "up": (0.0, -1.0),
    "right": (1.0, 0.0),
    "down": (0.0, 1.0),
    "left": (-1.0, 0.0),
}


@dataclass(frozen=True, slots=True, eq=False)
class _Points:
    """Points of one list: their names for people, places in mm and px, and where the list stands."""

    names: tuple[str, ...]
    xy_mm: FloatArray
    xy_px: FloatArray
    key: str
    file: str

    def refuse(self, message: str, cause: str, *, hint: str = "", found: str = "") -> NoReturn:
        raise PlacementRefused(message, cause=cause, file=self.file, key=self.key, hint=hint, found=found)


def place(
    board: Board,
    size_px: tuple[int, int],
    optics: Optics,
    how: CornersPx | PointsPx,
    side: Side = "front",
    top: ImageSide | None = None,
    file: str = "",
) -> Placement:
    """Place a board in a frame.

    Parameters
    ----------
    board : Board
    size_px : tuple of int
        ``(columns, rows)`` of the frame.
    optics : Optics
        Lens distortion is undone before the fit.
    how : CornersPx or PointsPx
    side : {"front", "rear"}
        Side the frame shows.
    top : {"up", "right", "down", "left"}, optional
        Image side the board's top edge faces; checked against the points.
    file : str
        Named in errors.

    Returns
    -------
    Placement

    Raises
    ------
    PlacementRefused
        With the reason; `cause` is ``points``, ``outside``, ``close``, ``collinear``, ``mirrored``,
        ``swapped``, ``horizon``, ``residual``, ``top``, ``optics`` or ``size``.
    """
    if optics.size_px is not None and optics.size_px != size_px:
        raise PlacementRefused(
            "the frame is not of the size the camera file's optics belong to",
            cause="size",
            file=file,
            key="optics.size_px",
            found=f"{size_px[0]} x {size_px[1]}",
            wanted=f"{optics.size_px[0]} x {optics.size_px[1]}",
        )
    points = _points_of(board, how, file)
    _check_in_view(points, size_px)
    straight = replace(points, xy_px=_undistorted(points, optics, size_px))
    _check_spread(straight)
    _check_order(straight, side)
    matrix = _fitted(straight)
    _check_horizon(straight, matrix, board)
    _check_leverage(straight, matrix, board)
    placement = _with_residual(points, matrix, side, optics, size_px)
    _check_misfit(points, placement, board)
    if top is not None:
        _check_top(points, placement, board, top)
    return placement


def _points_of(board: Board, how: CornersPx | PointsPx, file: str) -> _Points:
    return _corners(board, how, file) if isinstance(how, CornersPx) else _marks(board, how, file)


def _corners(board: Board, how: CornersPx, file: str) -> _Points:
    vertices = board.outline.array_mm
    if len(vertices) < 4 or len(how.points_px) != len(vertices):
        raise PlacementRefused(
            "corners_px needs one point for each corner of the outline, and four or more",
            file=file,
            key="corners_px",
            found=f"{len(how.points_px)} points",
            wanted=f"{max(4, len(vertices))} points",
            hint="use points_px with marks" if len(vertices) < 4 else "",
        )
    names = tuple(f"point {n + 1}" for n in range(len(vertices)))
    return _Points(names, vertices, np.array(how.points_px, dtype=np.float64), "corners_px", file)


def _marks(board: Board, how: PointsPx, file: str) -> _Points:
    known = {mark.id: (mark.x_mm, mark.y_mm) for mark in board.marks}
    ids = tuple(mark_id for mark_id, _, _ in how.points_px)
    for mark_id in ids:
        if mark_id not in known:
            near = difflib.get_close_matches(mark_id, known, n=1)
            raise PlacementRefused(
                "the board file has no such mark",
                file=file,
                key=f"points_px.{mark_id}",
                wanted=", ".join(known) or "marks in the board file",
                hint=f"did you mean '{near[0]}'?" if near else "",
            )
    if len(set(ids)) < len(ids) or len(ids) < 4:
        raise PlacementRefused(
            "points_px needs four or more different marks",
            file=file,
            key="points_px",
            found=", ".join(ids) or "none",
        )
    xy_mm = np.array([known[mark_id] for mark_id in ids], dtype=np.float64)
    xy_px = np.array([(x, y) for _, x, y in how.points_px], dtype=np.float64)
    return _Points(ids, xy_mm, xy_px, "points_px", file)


def _check_in_view(points: _Points, size_px: tuple[int, int]) -> None:
    """Points may lie beyond the frame's edge, where a corner is cut off, but not by more than the frame's size."""
    size = np.array(size_px, dtype=np.float64)
    near = np.all((points.xy_px >= -size) & (points.xy_px <= 2.0 * size), axis=1)
    if not np.all(near):
        first = int(np.argmin(near))
        x, y = points.xy_px[first]
        points.refuse(
            f"{points.names[first]} lies far outside the frame of {size_px[0]} x {size_px[1]} px",
            "outside",
            found=f"{x:g}, {y:g}",
            hint="px count from the frame's upper left, x right, y down",
        )


def _undistorted(points: _Points, optics: Optics, size_px: tuple[int, int]) -> FloatArray:
    straight = undistort(points.xy_px, optics, size_px)
    lost = ~np.all(np.isfinite(straight), axis=1)
    if np.any(lost):
        name = points.names[int(np.argmax(lost))]
        points.refuse(
            f"{name} lies where the camera file's distortion cannot be undone",
            "optics",
            hint="check optics.distortion and focal_px",
        )
    return straight


def _check_spread(points: _Points) -> None:
    i, j, distance = order.closest_pair(points.xy_px)
    if distance < _CLOSE_PX:
        points.refuse(
            f"{points.names[i]} and {points.names[j]} lie in one place",
            "close",
            found=f"{distance:.1f} px apart",
        )
    if order.order_of(points.xy_mm, points.xy_px) == "undecided":
        points.refuse("the points lie on one line or too close together", "collinear", hint="spread them out")
    if len(points.names) == 4 and (flat := order.flat_triple(points.xy_px)) is not None:
        names = ", ".join(points.names[n] for n in flat)
        points.refuse(
            f"{names} lie on one line, so the four points do not fix the board",
            "collinear",
            hint="of four points no three may be in line; give more marks",
        )


def _check_order(points: _Points, side: Side) -> None:
    # px has y down and mm has y up, so the front turns triangles over and the mirrored rear does not.
    wanted: order.Order = "opposite" if side == "front" else "same"
    found = order.order_of(points.xy_mm, points.xy_px)
    if found == wanted:
        return
    if found == "mixed":
        _refuse_swapped(points, wanted)
    looks = "rear" if side == "front" else "front"
    points.refuse(
        f"the points run as in a view of the {looks}, but the side is {side}",
        "mirrored",
        hint=_mirror_hint(points.key, side),
    )


def _refuse_swapped(points: _Points, wanted: order.Order) -> NoReturn:
    pair = order.swapped_pair(points.xy_mm, points.xy_px, wanted)
    hint = f"{points.names[pair[0]]} and {points.names[pair[1]]} look exchanged" if pair else ""
    points.refuse("the points are not in the order of the board's", "swapped", hint=hint)


def _mirror_hint(key: str, side: Side) -> str:
    if side == "front":
        return 'if the frame shows the rear, set side = "rear"; else reverse the order of the points'
    if key == "corners_px":
        return (
            "corners keep the order of the outline as seen from the front: in a rear view a rectangle's first corner, "
            "the front's lower left, is at the lower right, its second at the lower left"
        )
    return 'a rear view shows the marks mirrored; check their ids, or set side = "front"'


def _fitted(points: _Points) -> FloatArray:
    try:
        return homography.fit(points.xy_mm, points.xy_px)
    except PlacementRefused as refused:
        points.refuse(refused.message, refused.cause)


def _check_horizon(points: _Points, matrix: FloatArray, board: Board) -> None:
    depth = np.column_stack([board.outline.array_mm, np.ones(len(board.outline.vertices_mm))]) @ matrix[2]
    if not depth.min() > _NEAREST_DEPTH * depth.max():
        points.refuse(
            "the points would have part of the board behind the camera or next to its lens",
            "horizon",
            hint="check the points' order and places",
        )


def _check_leverage(points: _Points, matrix: FloatArray, board: Board) -> None:
    moved = float(homography.leverage(matrix, points.xy_mm, board.outline.array_mm).max())
    if moved > _WORST_LEVERAGE:
        points.refuse(
            "the points lie too close together or too nearly on one line to hold the whole board",
            "close",
            found=f"a corner of the outline moves {moved:.0f} px for each px the points are wrong",
            hint="use points further apart",
        )


def _with_residual(
    points: _Points, matrix: FloatArray, side: Side, optics: Optics, size_px: tuple[int, int]
) -> Placement:
    matrix.flags.writeable = False
    method: Literal["corners", "points"] = "corners" if points.key == "corners_px" else "points"
    bare = Placement(matrix, side, optics, size_px, method, 0.0, 0.0, len(points.names), held_mm=points.xy_mm)
    return replace(
        bare,
        residual_px=_rms(bare.to_px(points.xy_mm) - points.xy_px),
        residual_mm=_rms(bare.to_mm(points.xy_px) - points.xy_mm),
    )


def _rms(misses: FloatArray) -> float:
    return float(np.sqrt(np.mean(np.sum(misses * misses, axis=1))))


def _check_misfit(points: _Points, placement: Placement, board: Board) -> None:
    misses = np.hypot(*(placement.to_px(points.xy_mm) - points.xy_px).T)
    corners = placement.to_px(board.outline.array_mm)
    diagonal = float(np.hypot(*(corners.max(axis=0) - corners.min(axis=0))))
    worst = int(np.argmax(misses))
    if not misses[worst] <= max(_WORST_MISFIT_PX, _WORST_MISFIT_SHARE * diagonal):
        points.refuse(
            f"{points.names[worst]} does not fit the others",
            "residual",
            found=f"{misses[worst]:.1f} px off",
            hint="one of the points is misplaced, or bears the wrong name",
        )


def _check_top(points: _Points, placement: Placement, board: Board, top: ImageSide) -> None:
    x0, y0, x1, y1 = board.outline.box_mm
    middle = np.array([(x0 + x1) / 2.0, (y0 + y1) / 2.0])
    low, high = placement.to_px(np.array([middle, middle + np.array([0.0, (y1 - y0) / 4.0])]))
    upwards = (high - low) / np.hypot(*(high - low))
    if float(upwards @ _IMAGE_SIDES[top]) < np.cos(np.radians(_TOP_DEGREES)):
        facing = max(_IMAGE_SIDES, key=lambda name: float(upwards @ _IMAGE_SIDES[name]))
        points.refuse(f'the points have the board\'s top face {facing}, but top = "{top}"', "top")
