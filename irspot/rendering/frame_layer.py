"""The frame on the page: coloured pixels, and the outlines of board and zones."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.registration.placement import Placement
from irspot.rendering import theme
from irspot.rendering.callouts import Box
from irspot.rendering.colors import ColorScale
from irspot.rendering.page import Page
from irspot.rendering.resample import resample
from irspot.rendering.strokes import Image, closed, double_lines, frame_around
from irspot.shapes import Shape

_OUTLINE_STEPS = 240
"""Pieces along the board's longer side that outlines are cut into, so that a bent lens bends them smoothly."""


def draw_frame(image: Image, page: Page, surface_degc: NDArray[Any], scale: ColorScale) -> None:
    """Colour the frame; what was not measured is hatched."""
    view = _view(image, page.image)
    shown = resample(surface_degc, view.shape[1], view.shape[0])
    view[:] = scale.colors(shown)
    missing = np.isnan(shown)
    if missing.any():
        view[missing] = _hatch(view.shape[:2], max(3, round(page.px(9.0))))[missing]
    box = page.image
    frame_around(image, (box.x0, box.y0, box.x1, box.y1), page.px(1.5), theme.HAIRLINE)


def _hatch(shape: tuple[int, ...], period: int) -> Image:
    rows, columns = np.ogrid[: shape[0], : shape[1]]
    stripes: Image = np.array(theme.HATCH, np.uint8)[(rows + columns) // period % 2]
    return stripes


def _view(image: Image, box: Box) -> Image:
    return image[int(box.y0) : int(box.y1), int(box.x0) : int(box.x1)]


def draw_outlines(image: Image, page: Page, board: Board, placement: Placement, frame_shape: tuple[int, ...]) -> None:
    """Draw the outlines of the board, of its zones of the side seen, and of what they exclude."""
    zones = board.zones_of(placement.side)
    step_mm = max(board.outline.box_mm[2:]) / _OUTLINE_STEPS
    excluded = [shape for zone in zones for shape in zone.exclude]
    groups: list[tuple[list[Shape], float]] = [
        ([board.outline], 2.4),
        ([zone.shape for zone in zones], 1.9),
        (excluded, 1.0),
    ]
    view = _view(image, page.image)
    for shapes, width in groups:
        outlines = [_outline_px(shape, step_mm, placement, page.image, frame_shape) for shape in shapes]
        if outlines:
            double_lines(view, outlines, page.px(width))


def _outline_px(
    shape: Shape, step_mm: float, placement: Placement, image: Box, frame_shape: tuple[int, ...]
) -> NDArray[np.float64]:
    points = placement.to_px(closed(shape.border_points(step_mm)))
    factor = np.array([image.width / frame_shape[1], image.height / frame_shape[0]])
    on_image: NDArray[np.float64] = (points + 0.5) * factor - 0.5
    return on_image
