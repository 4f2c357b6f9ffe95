"""The annotated heat image of one frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.constants import MAX_PIXELS
from irspot.errors import UsageError
from irspot.registration.placement import Placement
from irspot.rendering import theme
from irspot.rendering.callout_layer import callout_lines, draw_chip, draw_markers, strip_lines
from irspot.rendering.caption import Caption, footer_lines, header_lines, header_px, set_footer
from irspot.rendering.colors import ColorScale, color_scale
from irspot.rendering.frame_layer import draw_frame, draw_outlines
from irspot.rendering.labels import Label, labels_of
from irspot.rendering.legend import draw_legend, legend_lines
from irspot.rendering.page import Page, plan_page
from irspot.rendering.picture import Picture
from irspot.rendering.sheet import Line, set_text
from irspot.rendering.strokes import Image
from irspot.rendering.underlay import Underlay
from irspot.results import Reading

LEAST_SIZE = (640, 360)


def heat_picture(
    surface_degc: NDArray[Any],
    board: Board,
    placement: Placement | None,
    readings: Sequence[Reading],
    *,
    caption: Caption,
    scale_degc: tuple[float, float],
    cmap: str = "inferno",
    size: tuple[int, int] = (1920, 1080),
    underlay: Underlay | None = None,
) -> Picture:
    """Draw a frame with its zones, hot spots and readings.

    Parameters
    ----------
    surface_degc : ndarray, shape (rows, columns)
        Surface temperatures; NaN where not measured.
    board : Board
    placement : Placement or None
        Where the board is; None draws no outlines.
    readings : sequence of Reading
        Of this frame. Nothing is measured here: every number drawn is one of theirs.
    caption : Caption
    scale_degc : tuple of float
        Ends of the colour scale.
    cmap : str
        A colour map of matplotlib.
    size : tuple of int
        Width and height, px.
    underlay : Underlay, optional
        A photo beneath the colours; left out where the board is not placed.

    Returns
    -------
    Picture
        Of exactly that size.

    Raises
    ------
    UsageError
        For an unknown colour map, an empty scale, or a size too small to read or too large to hold.
    """
    beneath = None if underlay is None or placement is None else (underlay, placement)
    if beneath is not None:
        caption = replace(caption, lines=(beneath[0].line, *caption.lines))
    plan = plan_picture(
        surface_degc, board, placement, readings, caption=caption, scale_degc=scale_degc, cmap=cmap, size=size
    )
    image = blank(plan.page)
    draw_frame(image, plan.page, surface_degc, plan.scale, beneath)
    if placement is not None:
        draw_outlines(image, plan.page, board, placement, surface_degc.shape)
    return finished(image, plan)


@dataclass(frozen=True, slots=True)
class Plan:
    """A picture before it is drawn.

    Parameters
    ----------
    page : Page
    scale : ColorScale
    labels : tuple of Label
        All of them, hottest first.
    lines : tuple of Line
        Every piece of text.
    """

    page: Page
    scale: ColorScale
    labels: tuple[Label, ...]
    lines: tuple[Line, ...]


def plan_picture(
    surface_degc: NDArray[Any],
    board: Board,
    placement: Placement | None,
    readings: Sequence[Reading],
    *,
    caption: Caption,
    scale_degc: tuple[float, float],
    cmap: str,
    size: tuple[int, int],
) -> Plan:
    """Decide what goes where; the parameters are those of `heat_picture`."""
    frame_shape = (surface_degc.shape[0], surface_degc.shape[1])
    labels = labels_of(readings, board, placement, frame_shape)
    footer = footer_lines(
        caption,
        cmap,
        bound_shown=any(label.lower_bound for label in labels),
        nan_shown=not bool(np.isfinite(surface_degc).all()),
        size=size,
    )
    return plan_labels(labels, frame_shape, caption, color_scale(cmap, scale_degc), footer, size)


def plan_labels(
    labels: tuple[Label, ...],
    frame_shape: tuple[int, int],
    caption: Caption,
    scale: ColorScale,
    footer: list[str],
    size: tuple[int, int],
    captions: tuple[str, str] = ("zone maxima", "scale, °C"),
) -> Plan:
    """Decide what goes where, whatever the labels are of.

    Parameters
    ----------
    labels : tuple of Label
        The most important first.
    frame_shape : tuple of int
        ``(rows, columns)``.
    caption : Caption
    scale : ColorScale
    footer : list of str
        Lines of small print.
    size : tuple of int
    captions : tuple of str
        What the legend calls its pins and its scale.
    """
    size = checked_size(size)
    page = replace(plan_page(size, frame_shape, labels, header_px(caption, size), len(footer)), captions=captions)
    lines = header_lines(caption, page) + legend_lines(page, scale) + set_footer(footer, page)
    return Plan(page, scale, labels, (*lines, *label_lines(page)))


def label_lines(page: Page) -> tuple[Line, ...]:
    """Text of the callouts, and of the strip below."""
    lines = [line for label, place in page.callouts for line in callout_lines(page, label, place)]
    return (*lines, *(strip_lines(page, page.strip) if page.strip else ()))


def blank(page: Page) -> Image:
    """Make an empty page."""
    image = np.empty((page.size[1], page.size[0], 3), np.uint8)
    image[:] = np.full((page.size[0], 3), theme.PAGE, np.uint8)  # whole rows: pixel by pixel costs 10 ms
    return image


def finished(image: Image, plan: Plan) -> Picture:
    """Draw what lies over the frame and around it: rings, leaders, legend, callouts, text."""
    annotate(image, plan)
    return lettered(image, plan.lines)


def annotate(image: Image, plan: Plan) -> None:
    """Draw rings, leaders, legend and chips."""
    draw_markers(image, plan.page)
    draw_legend(image, plan.page, plan.scale, plan.labels)
    for label, place in plan.page.callouts:
        draw_chip(image, plan.page, label, place, plan.scale)


def lettered(image: Image, lines: tuple[Line, ...]) -> Picture:
    """Set a picture's text, and remember what was set."""
    set_text(image, lines)
    return Picture(image, tuple(line.text for line in lines if line.text))


def checked_size(size: tuple[int, int]) -> tuple[int, int]:
    """Check a picture's size.

    Raises
    ------
    UsageError
        If it is too small to read or too large to hold.
    """
    width, height = (int(length) for length in size)
    if width < LEAST_SIZE[0] or height < LEAST_SIZE[1]:
        least = "{} x {}".format(*LEAST_SIZE)
        raise UsageError(
            "the picture would be too small to read", found=f"{width} x {height}", wanted=f"{least} or more"
        )
    if width * height > MAX_PIXELS:
        raise UsageError(
            "the picture would be too large", found=f"{width} x {height}", wanted=f"at most {MAX_PIXELS} pixels"
        )
    return width, height
