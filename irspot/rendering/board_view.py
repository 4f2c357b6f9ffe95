"""The board seen straight on, cut out along its outline, with axes in millimetres where they are wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.opencv import load_cv2
from irspot.registration.placement import Placement
from irspot.rendering import theme
from irspot.rendering.caption import Caption
from irspot.rendering.frame_layer import draw_frame, draw_outlines, outline_px, view_of
from irspot.rendering.heat import Plan, annotate, blank, lettered, plan_picture
from irspot.rendering.page import Page, on_page
from irspot.rendering.picture import Picture
from irspot.rendering.rectified import FOR_AXES, Margins, fitting_px_per_mm, rectified, seen_in, straight_on
from irspot.rendering.scale import degc_text, round_ticks
from irspot.rendering.sheet import Line
from irspot.rendering.strokes import Image, fill, line
from irspot.rendering.text import text_width
from irspot.rendering.underlay import Underlay
from irspot.results import Reading

AXES_LINE: Final = "axes: mm on the board, as seen from the front"
_MOST_TICKS: Final = 8
_TICK: Final = 8.0


def board_picture(
    surface_degc: NDArray[Any],
    board: Board,
    placement: Placement,
    readings: Sequence[Reading],
    *,
    caption: Caption,
    scale_degc: tuple[float, float],
    cmap: str = "inferno",
    size: tuple[int, int] = (1920, 1080),
    axes: bool = True,
    underlay: Underlay | None = None,
) -> Picture:
    """Draw a board as seen straight on.

    Parameters
    ----------
    surface_degc : ndarray, shape (rows, columns)
        Of the frame as it was taken.
    board, placement, readings, caption, scale_degc, cmap, size, underlay
        See `irspot.rendering.heat_picture`.
    axes : bool
        Whether millimetres stand along the edges.

    Returns
    -------
    Picture
    """
    view = straight_on(board, placement.side, fitting_px_per_mm(board, [placement]), FOR_AXES if axes else Margins())
    flat = rectified(surface_degc, board, placement, view)
    told = (*((underlay.line,) if underlay else ()), *((AXES_LINE,) if axes else ()), "seen straight on")
    caption = replace(caption, lines=(*told, *caption.lines))
    shown = np.where(inside_outline(board, view), flat, np.float32(0.0))  # what is cut off is not "not measured"
    plan = plan_picture(
        shown, board, view, seen_in(readings, view), caption=caption, scale_degc=scale_degc, cmap=cmap, size=size
    )
    image = blank(plan.page)
    draw_frame(image, plan.page, flat, plan.scale, None if underlay is None else (underlay, view))
    return cut_out(image, plan, board, view, axes=axes)


def cut_out(image: Image, plan: Plan, board: Board, view: Placement, *, axes: bool) -> Picture:
    """Leave of a straight view what lies on the board, and draw everything that lies over it."""
    shape = (view.size_px[1], view.size_px[0])
    _blank_outside(image, plan.page, board, view)
    draw_outlines(image, plan.page, board, view, shape)
    annotate(image, plan)
    numbers = axis_lines(plan.page, board, view) if axes else ()
    if axes:
        _draw_ticks(image, plan.page, board, view)
        for number in numbers:
            _clear_for(image, number)
    return lettered(image, (*plan.lines, *numbers))


def _clear_for(image: Image, number: Line) -> None:
    """Clear the ground for a number that a leader may run through."""
    width = text_width(number.text, number.weight, number.size_px)
    x0 = number.x - (width if number.align == "right" else 0.5 * width)
    edge = 0.15 * number.size_px
    fill(image, (x0 - edge, number.y - 0.8 * number.size_px, x0 + width + edge, number.y + edge), theme.PAGE)


def inside_outline(board: Board, view: Placement) -> NDArray[np.bool_]:
    """Say which pixels of a straight view lie on the board."""
    columns, rows = view.size_px
    x, y = np.meshgrid(np.arange(columns, dtype=np.float64), np.arange(rows, dtype=np.float64))
    places = view.to_mm(np.column_stack([x.ravel(), y.ravel()]))
    return board.outline.contains(places[:, 0], places[:, 1]).reshape(rows, columns)


def _blank_outside(image: Image, page: Page, board: Board, view: Placement) -> None:
    cv2 = load_cv2()
    part = view_of(image, page.image)
    kept = np.zeros(part.shape[:2], np.uint8)
    corners = outline_px(board.outline, 1.0, view, page.image, (view.size_px[1], view.size_px[0]))
    cv2.fillPoly(kept, [np.rint(corners).astype(np.int32)], 1)
    part[kept == 0] = theme.PAGE


def axis_ticks(board: Board) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Round millimetres along the board's width and height."""
    width, height = board.outline.box_mm[2:]
    most = [max(2, round(_MOST_TICKS * length / max(width, height))) for length in (width, height)]
    return round_ticks(0.0, width, most[0]), round_ticks(0.0, height, most[1])


def axis_lines(page: Page, board: Board, view: Placement) -> tuple[Line, ...]:
    """Set the millimetres along the left and the lower edge."""
    size = page.px(theme.SMALL)
    across, up = axis_ticks(board)
    numbers = []
    for x_mm in across:
        x, y = _at(page, view, x_mm, 0.0)
        numbers.append(
            Line(degc_text(x_mm), x, y + page.px(_TICK + 5.0) + size, size, color=theme.MUTED, align="middle")
        )
    left = _left_mm(board, view)
    for y_mm in up:
        x, y = _at(page, view, left, y_mm)
        numbers.append(
            Line(degc_text(y_mm), x - page.px(_TICK + 5.0), y + 0.36 * size, size, color=theme.MUTED, align="right")
        )
    return tuple(numbers)


def _draw_ticks(image: Image, page: Page, board: Board, view: Placement) -> None:
    across, up = axis_ticks(board)
    for x_mm in across:
        x, y = _at(page, view, x_mm, 0.0)
        line(image, (x, y + page.px(2.0)), (x, y + page.px(_TICK)), page.px(1.6), theme.MUTED)
    for y_mm in up:
        x, y = _at(page, view, _left_mm(board, view), y_mm)
        line(image, (x - page.px(2.0), y), (x - page.px(_TICK), y), page.px(1.6), theme.MUTED)


def _left_mm(board: Board, view: Placement) -> float:
    """Which of the board's edges is on the left: of a rear view its right one."""
    return 0.0 if view.side == "front" else board.outline.box_mm[2]


def _at(page: Page, view: Placement, x_mm: float, y_mm: float) -> tuple[float, float]:
    x, y = view.to_px(np.array([[x_mm, y_mm]]))[0]
    place = on_page((float(x), float(y)), page.image, (view.size_px[1], view.size_px[0]))
    assert place is not None
    return place
