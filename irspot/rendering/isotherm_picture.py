"""Where a board is hotter than a limit: the line along which it has just that temperature, and the share above."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.measurement.area_above import AreaAbove
from irspot.registration.placement import Placement
from irspot.rendering import theme
from irspot.rendering.callouts import Box
from irspot.rendering.caption import Caption
from irspot.rendering.colors import line_color
from irspot.rendering.frame_layer import draw_frame, draw_outlines, view_of
from irspot.rendering.heat import Plan, blank, finished, plan_picture
from irspot.rendering.legend import bar_box, bar_x
from irspot.rendering.picture import Picture
from irspot.rendering.strokes import Image, double_lines, line
from irspot.results import Reading

_WIDTH: Final = 2.6


def isotherm_picture(
    surface_degc: NDArray[Any],
    board: Board,
    placement: Placement,
    readings: Sequence[Reading],
    area: AreaAbove,
    *,
    caption: Caption,
    scale_degc: tuple[float, float],
    cmap: str = "inferno",
    size: tuple[int, int] = (1920, 1080),
) -> Picture:
    """Draw a frame with the line at which the board has a limit's temperature.

    Parameters
    ----------
    surface_degc, board, placement, readings, caption, scale_degc, cmap, size
        See `irspot.rendering.heat_picture`.
    area : AreaAbove
        What lies above, measured on the frame.

    Returns
    -------
    Picture
    """
    caption = with_area(caption, area)
    plan = plan_picture(
        surface_degc, board, placement, readings, caption=caption, scale_degc=scale_degc, cmap=cmap, size=size
    )
    image = blank(plan.page)
    draw_frame(image, plan.page, surface_degc, plan.scale)
    draw_outlines(image, plan.page, board, placement, surface_degc.shape)
    lines = [_on_page(c, plan.page.image, surface_degc.shape) for c in contours(surface_degc, board, placement, area)]
    if lines:
        double_lines(view_of(image, plan.page.image), lines, plan.page.px(_WIDTH), line_color(plan.scale))
    _mark_scale(image, plan, area.limit_degc)
    return finished(image, plan)


def with_area(caption: Caption, area: AreaAbove) -> Caption:
    """Say in a caption how much lies above the limit."""
    return replace(caption, facts=((f"line at {area.limit_degc:g} °C", area.text), *caption.facts))


def contours(
    surface_degc: NDArray[Any], board: Board, placement: Placement, area: AreaAbove
) -> list[NDArray[np.float64]]:
    """Follow the limit's temperature over the board, between pixels.

    Parameters
    ----------
    surface_degc : ndarray, shape (rows, columns)
    board : Board
    placement : Placement
    area : AreaAbove
        Of that limit.

    Returns
    -------
    list of ndarray, shape (n, 2)
        px of the frame, x and y; marching squares between the centres of measured pixels on the board.
    """
    columns, rows = placement.size_px
    x, y = np.meshgrid(np.arange(columns, dtype=np.float64), np.arange(rows, dtype=np.float64))
    places = placement.to_mm(np.column_stack([x.ravel(), y.ravel()]))
    inside = board.outline.contains(places[:, 0], places[:, 1]).reshape(rows, columns)
    values = np.where(inside, surface_degc, np.nan)
    return [np.asarray(found[:, ::-1], np.float64) for found in _found(values, area.limit_degc)]


def _found(values: NDArray[Any], level: float) -> list[NDArray[np.float64]]:
    from skimage.measure import find_contours

    found: list[NDArray[np.float64]] = find_contours(values, level)  # type: ignore[no-untyped-call]
    return found


def _on_page(points_px: NDArray[np.float64], image: Box, frame_shape: tuple[int, ...]) -> NDArray[np.float64]:
    factor = np.array([image.width / frame_shape[1], image.height / frame_shape[0]])
    placed: NDArray[np.float64] = (points_px + 0.5) * factor - 0.5
    return placed


def _mark_scale(image: Image, plan: Plan, limit_degc: float) -> None:
    """Mark the limit on the colour scale, in the line's own colour."""
    bar, x = bar_box(plan.page), bar_x(plan.page, plan.scale, limit_degc)
    line(image, (x, bar.y0), (x, bar.y1), plan.page.px(7.0), theme.DARK_STROKE)
    line(image, (x, bar.y0), (x, bar.y1), plan.page.px(3.0), line_color(plan.scale))
