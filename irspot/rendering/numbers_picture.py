"""A board's zones with their numbers and without any colours of temperature, for print and for plain reading."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from irspot.board import Board
from irspot.registration.placement import Placement
from irspot.rendering import theme
from irspot.rendering.callout_layer import draw_markers
from irspot.rendering.caption import PLUS_MINUS, Caption, header_lines, header_px, set_footer, small_print
from irspot.rendering.frame_layer import draw_outlines, view_of
from irspot.rendering.heat import blank, checked_size, label_lines, lettered
from irspot.rendering.labels import labels_of
from irspot.rendering.page import plan_page
from irspot.rendering.picture import Picture
from irspot.rendering.strokes import frame_around
from irspot.results import Reading

_FIELD: Final[theme.Color] = (36, 42, 52)


def numbers_picture(
    board: Board,
    placement: Placement,
    readings: Sequence[Reading],
    *,
    caption: Caption,
    size: tuple[int, int] = (1920, 1080),
) -> Picture:
    """Draw outlines, hot spots and numbers of a frame, and nothing of its colours.

    Parameters
    ----------
    board, placement, readings, caption, size
        See `irspot.rendering.heat_picture`.

    Returns
    -------
    Picture
    """
    size = checked_size(size)
    frame_shape = (placement.size_px[1], placement.size_px[0])
    labels = labels_of(readings, board, placement, frame_shape)
    bound = any(label.lower_bound for label in labels)
    parts = ["zone maxima, surface temperature", PLUS_MINUS, "≥ the true value may be higher" if bound else ""]
    footer = small_print(caption, parts, size)
    page = plan_page(size, frame_shape, labels, header_px(caption, size), len(footer), legend=False)
    image = blank(page)
    view_of(image, page.image)[:] = _FIELD
    box = page.image
    frame_around(image, (box.x0, box.y0, box.x1, box.y1), page.px(1.5), theme.HAIRLINE)
    draw_outlines(image, page, board, placement, frame_shape)
    draw_markers(image, page)
    return lettered(image, (*header_lines(caption, page), *set_footer(footer, page), *label_lines(page)))
