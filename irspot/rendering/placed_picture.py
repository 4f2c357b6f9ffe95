"""Where a board was placed: its outline with the uncertainty of each corner, its top edge, its zones and marks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.errors import PlacementRefused
from irspot.registration.heights import at_height
from irspot.registration.placement import Placement
from irspot.registration.spread import largest_u, place_covariances_px
from irspot.rendering import theme
from irspot.rendering.heat import checked_size
from irspot.rendering.picture import Picture
from irspot.rendering.placement_page import Item, Plan, begun, grey_range, grey_words, plan_placement
from irspot.rendering.placement_strokes import finished, label_box
from irspot.rendering.sheet import Align, Line, set_text
from irspot.rendering.strokes import Image, closed, double_lines
from irspot.rendering.text import clean
from irspot.rendering.theme import Color
from irspot.uncertain import rounded

FloatArray = NDArray[np.float64]

# Colours of Okabe and Ito (2008), told apart by all common colour visions; the last is lightened, for words.
OUTLINE: Final[Color] = (86, 180, 233)
TOP: Final[Color] = (230, 159, 0)
SPREAD: Final[Color] = (240, 228, 66)
MARK: Final[Color] = (236, 160, 204)
FOUND, LEFT_OUT, OF_THE_FILE = (
    "marks found, which hold the board",
    "marks that show elsewhere, left out",
    "other marks of the board file",
)
MARKS: Final[dict[str, Color]] = {FOUND: MARK, LEFT_OUT: theme.WARNING, OF_THE_FILE: theme.MUTED}
_ENLARGED: Final = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
_LEAST_SHOWN: Final = 9.0
"""Design px that the ellipse of the most uncertain corner has for a radius at least."""
_WORDS, _SMALL = 32.0, 25.0
_STEPS: Final = 240
_TOP_SHARE: Final = 0.02
_MARKS_NAMED: Final = 12
_NUMBER_AWAY: Final = 46.0


def placed_picture(
    degc: NDArray[Any],
    board: Board,
    placement: Placement,
    *,
    facts: Sequence[str] = (),
    subtitle: str = "",
    size: tuple[int, int] = (1920, 1080),
) -> Picture:
    """Draw a board where it was placed.

    Parameters
    ----------
    degc : ndarray, shape (rows, columns)
        Radiance temperatures; NaN where not measured.
    board : Board
    placement : Placement
    facts : sequence of str
        What else is to be said: method, residual, how the camera stands.
    subtitle : str
        Frame, side and so on.
    size : tuple of int
        Width and height, px.

    Returns
    -------
    Picture
        Of exactly that size.

    Raises
    ------
    UsageError
        For a size too small to read or too large to hold.
    """
    plan = plan_placed(degc, board, placement, facts=facts, subtitle=subtitle, size=size)
    image = begun(plan, degc)
    view = image[plan.view]
    _draw_zones(view, plan, board, placement)
    _draw_outline(view, plan, board, placement)
    names = [*_draw_marks(view, plan, board, placement), *_draw_corners(view, plan, board, placement)]
    set_text(view, names)
    return finished(image, plan)


def plan_placed(
    degc: NDArray[Any],
    board: Board,
    placement: Placement,
    *,
    facts: Sequence[str],
    subtitle: str,
    size: tuple[int, int],
) -> Plan:
    """Decide what stands where; the parameters are those of `placed_picture`."""
    shape = (degc.shape[0], degc.shape[1])
    checked = checked_size(size)
    u_px = _corner_u_px(board, placement)
    # Where the frame goes does not depend on how large ellipses are drawn; so the page is laid out once for its scale.
    bare = plan_placement(checked, shape, "", "", _items(degc, board, placement, facts, u_px, 1))
    times = enlarged(u_px, bare)
    return plan_placement(
        checked, shape, f"Placed: {board.name}", subtitle, _items(degc, board, placement, facts, u_px, times)
    )


def enlarged(u_px: FloatArray, plan: Plan) -> int:
    """Say how many times the corners' uncertainty is drawn enlarged, so that it can be seen."""
    largest = float(np.nanmax(u_px)) if np.isfinite(u_px).any() else math.nan
    if not largest > 0.0:
        return 1
    shown = 2.0 * largest * plan.image.width / plan.frame_shape[1]
    return next((times for times in _ENLARGED if times * shown >= plan.px(_LEAST_SHOWN)), _ENLARGED[-1])


def _corner_u_px(board: Board, placement: Placement) -> FloatArray:
    return largest_u(place_covariances_px(placement, board.outline.array_mm))


def kind_of(mark_id: str, placement: Placement) -> str:
    """Say of a mark whether it holds the placement, shows elsewhere, or is only where the board file has it."""
    if mark_id in placement.marks:
        return FOUND
    return LEFT_OUT if mark_id in placement.marks_left_out else OF_THE_FILE


def _items(
    degc: NDArray[Any], board: Board, placement: Placement, facts: Sequence[str], u_px: FloatArray, times: int
) -> list[Item]:
    items = [Item(fact, _WORDS) for fact in facts]
    items += [
        Item("outline, corners numbered as the board file has them", _WORDS, mark="solid", mark_color=OUTLINE),
        Item("the board's top edge", _WORDS, mark="solid", mark_color=TOP),
    ]
    if np.isfinite(u_px).any():
        largest = rounded(2.0 * float(np.nanmax(u_px)), 1 if np.nanmax(u_px) > 0.05 else 2)
        shown = "" if times == 1 else f"; drawn {times} times as large"
        words = f"95 % likely place of each corner, within {largest} px{shown}"
        items.append(Item(words, _WORDS, mark="solid", mark_color=SPREAD))
    kinds = {kind_of(mark.id, placement) for mark in board.marks}
    items += [Item(words, _WORDS, mark="solid", mark_color=color) for words, color in MARKS.items() if words in kinds]
    low_degc, high_degc = grey_range(degc)
    if np.isfinite(low_degc):
        items.append(Item(grey_words(low_degc, high_degc), _SMALL, color=theme.MUTED))
    return items


def _draw_zones(view: Image, plan: Plan, board: Board, placement: Placement) -> None:
    step_mm = max(board.outline.box_mm[2:]) / _STEPS
    lines = []
    for zone in board.zones_of(placement.side):
        try:
            where = at_height(placement, zone.height_mm)
        except PlacementRefused:
            continue  # it would reach the camera; measuring it says so, placing the board does not need it
        lines.append(plan.on_image(where.to_px(closed(zone.shape.border_points(step_mm)))))
    if lines:
        double_lines(view, lines, plan.px(1.4))


def _draw_outline(view: Image, plan: Plan, board: Board, placement: Placement) -> None:
    step_mm = max(board.outline.box_mm[2:]) / _STEPS
    border = plan.on_image(placement.to_px(closed(board.outline.border_points(step_mm))))
    double_lines(view, [border], plan.px(3.0), OUTLINE)
    edges = [plan.on_image(placement.to_px(edge)) for edge in top_edges(board)]
    double_lines(view, edges, plan.px(7.0), TOP)


def top_edges(board: Board) -> list[FloatArray]:
    """Give the edges of the outline that lie along the top of its box, cut into short pieces, mm."""
    vertices = board.outline.array_mm
    y0, y1 = board.outline.box_mm[1], board.outline.box_mm[3]
    highest = y1 - _TOP_SHARE * (y1 - y0)
    return [
        start + np.linspace(0.0, 1.0, 30)[:, None] * (end - start)
        for start, end in zip(vertices, np.roll(vertices, -1, axis=0), strict=True)
        if min(start[1], end[1]) >= highest
    ]


def _draw_marks(view: Image, plan: Plan, board: Board, placement: Placement) -> list[Line]:
    if not board.marks:
        return []
    places = plan.on_image(placement.to_px(np.array([(mark.x_mm, mark.y_mm) for mark in board.marks])))
    arm, size = plan.px(11.0), plan.px(23.0)
    names: list[Line] = []
    for mark, place in zip(board.marks, places, strict=True):
        if not np.isfinite(place).all():
            continue
        color = MARKS[kind_of(mark.id, placement)]
        for step in (np.array([arm, 0.0]), np.array([0.0, arm])):
            double_lines(view, [np.array([place - step, place + step])], plan.px(2.6), color)
        if len(names) < 2 * _MARKS_NAMED:
            # Towards the frame's middle, so that none is cut off; on a dark copy of itself, so that it shows anywhere.
            to_left = place[0] > 0.8 * view.shape[1]
            x, y = place[0] + (-1.4 if to_left else 1.4) * arm, place[1] + 1.3 * arm
            text = clean(mark.id)[:16]
            align: Align = "right" if to_left else "left"
            names.append(Line(text, x + plan.px(2.0), y + plan.px(2.0), size, "bold", theme.DARK_STROKE, align))
            names.append(Line(text, x, y, size, "bold", color, align))
    return names


def _draw_corners(view: Image, plan: Plan, board: Board, placement: Placement) -> list[Line]:
    """Draw the ellipse that holds each corner with about 95 %, and its number beside it, outside if there is room."""
    corners_mm = board.outline.array_mm
    corners = plan.on_image(placement.to_px(corners_mm))
    spreads = place_covariances_px(placement, corners_mm)
    scale = plan.image.width / plan.frame_shape[1]
    times = enlarged(largest_u(spreads), plan) * scale
    middle = np.nanmean(np.where(np.isfinite(corners), corners, np.nan), axis=0) if np.isfinite(corners).any() else 0.0
    numbers = []
    for number, (corner, spread) in enumerate(zip(corners, spreads, strict=True), start=1):
        if not np.isfinite(corner).all():
            continue
        if np.isfinite(spread).all():
            double_lines(view, [corner + times * ellipse(spread)], plan.px(2.6), SPREAD)
        inwards = (middle - corner) / max(float(np.hypot(*(middle - corner))), 1e-9)
        away = plan.px(_NUMBER_AWAY)
        outside = corner - away * inwards
        room = np.all((outside > 0.5 * away) & (outside < np.array([view.shape[1], view.shape[0]]) - 0.5 * away))
        x, y = outside if room else corner + away * inwards
        numbers.append(label_box(view, plan, str(number), float(x), float(y), OUTLINE))
    return numbers


def ellipse(covariance: FloatArray) -> FloatArray:
    """Give points round the ellipse of two standard uncertainties, closed.

    Parameters
    ----------
    covariance : ndarray, shape (2, 2)

    Returns
    -------
    ndarray, shape (n, 2)
    """
    values, vectors = np.linalg.eigh(covariance)
    turn = np.linspace(0.0, 2.0 * np.pi, 49)
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    return np.asarray(2.0 * (circle * np.sqrt(np.maximum(values, 0.0))) @ vectors.T)
