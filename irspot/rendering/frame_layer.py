"""The frame on the page: coloured pixels, and the outlines of board and zones."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.registration.heights import at_height
from irspot.registration.placement import Placement
from irspot.rendering import theme
from irspot.rendering.callouts import Box
from irspot.rendering.colors import ColorScale
from irspot.rendering.page import Page
from irspot.rendering.resample import resample
from irspot.rendering.strokes import Image, closed, double_lines, frame_around
from irspot.rendering.underlay import Underlay, blend
from irspot.shapes import Shape

_OUTLINE_STEPS = 240
"""Pieces along the board's longer side that outlines are cut into, so that a bent lens bends them smoothly."""
_MANY_ZONES = 80
"""Zones above which their outlines are drawn finely: of a zone a part they would hide the frame."""


def draw_frame(
    image: Image,
    page: Page,
    surface_degc: NDArray[Any],
    scale: ColorScale,
    beneath: tuple[Underlay, Placement] | None = None,
) -> None:
    """Colour the frame, a photo beneath it where there is one; what was not measured is hatched."""
    view = view_of(image, page.image)
    shown = resample(surface_degc, view.shape[1], view.shape[0])
    view[:] = scale.colors(shown)
    missing = np.isnan(shown)
    if beneath is not None:
        blend(view, missing, *beneath, (surface_degc.shape[0], surface_degc.shape[1]))
    if missing.any():
        view[missing] = hatch(view.shape[:2], max(3, round(page.px(9.0))))[missing]
    box = page.image
    frame_around(image, (box.x0, box.y0, box.x1, box.y1), page.px(1.5), theme.HAIRLINE)


def hatch(shape: tuple[int, ...], period: int) -> Image:
    """Make the stripes that stand where nothing was measured."""
    rows, columns = np.ogrid[: shape[0], : shape[1]]
    stripes: Image = np.array(theme.HATCH, np.uint8)[(rows + columns) // period % 2]
    return stripes


def view_of(image: Image, box: Box) -> Image:
    """Give the part of a picture that a box of whole px holds."""
    return image[int(box.y0) : int(box.y1), int(box.x0) : int(box.x1)]


def draw_outlines(image: Image, page: Page, board: Board, placement: Placement, frame_shape: tuple[int, ...]) -> None:
    """Draw the outlines of the board, of its zones of the side seen, and of what they exclude, at their heights."""
    zones = [(zone, at_height(placement, zone.height_mm)) for zone in board.zones_of(placement.side)]
    step_mm = max(board.outline.box_mm[2:]) / _OUTLINE_STEPS
    groups: list[tuple[list[tuple[Shape, Placement]], float]] = [
        ([(board.outline, placement)], 2.4),
        ([(zone.shape, where) for zone, where in zones], 1.9 if len(zones) <= _MANY_ZONES else 1.0),
        ([(part, where) for zone, where in zones for part in zone.exclude], 1.0),
    ]
    view = view_of(image, page.image)
    for shapes, width in groups:
        outlines = [outline_px(shape, step_mm, where, page.image, frame_shape) for shape, where in shapes]
        if outlines:
            double_lines(view, outlines, page.px(width))


def outline_px(
    shape: Shape, step_mm: float, placement: Placement, image: Box, frame_shape: tuple[int, ...]
) -> NDArray[np.float64]:
    """Say where the border of a shape runs in the frame's part of the page, shape (n, 2)."""
    points = placement.to_px(closed(shape.border_points(step_mm)))
    factor = np.array([image.width / frame_shape[1], image.height / frame_shape[0]])
    on_image: NDArray[np.float64] = (points + 0.5) * factor - 0.5
    return on_image
