"""The colour scale: a bar across the page, ticks at round temperatures, every zone's maximum pinned on it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from irspot.rendering import theme
from irspot.rendering.callouts import Box
from irspot.rendering.colors import ColorScale
from irspot.rendering.labels import Label
from irspot.rendering.page import Page
from irspot.rendering.scale import degc_text, round_ticks
from irspot.rendering.sheet import Line
from irspot.rendering.strokes import Image, dot, fill, frame_around, line
from irspot.rendering.text import text_width

_CAPTION_GAP = 16.0
_CAP = 58.0
_CAP_GAP = 5.0


def bar_box(page: Page) -> Box:
    """Where the bar itself runs, between its end caps, on whole pixels."""
    box = page.legend
    caption = max(text_width(text, "regular", page.px(theme.SMALL)) for text in page.captions)
    x0 = round(box.x0 + caption + page.px(_CAPTION_GAP + _CAP + _CAP_GAP))
    x1 = round(box.x1 - page.px(_CAP + _CAP_GAP))
    return Box(x0, round(box.y0), x1, round(box.y1))


def cap_boxes(page: Page) -> tuple[Box, Box]:
    """The caps that show the colours below and above the scale."""
    bar, cap, gap = bar_box(page), round(page.px(_CAP)), max(1, round(page.px(_CAP_GAP)))
    under = Box(bar.x0 - gap - cap, bar.y0, bar.x0 - gap, bar.y1)
    over = Box(bar.x1 + gap, bar.y0, bar.x1 + gap + cap, bar.y1)
    return under, over


def bar_x(page: Page, scale: ColorScale, degc: float) -> float:
    """Where a temperature stands along the bar; beyond its ends, the middle of the cap."""
    bar, (under, over) = bar_box(page), cap_boxes(page)
    if degc < scale.low_degc:
        return 0.5 * (under.x0 + under.x1)
    if degc > scale.high_degc:
        return 0.5 * (over.x0 + over.x1)
    return bar.x0 + (degc - scale.low_degc) / (scale.high_degc - scale.low_degc) * (bar.width - 1.0)


def ticks_of(page: Page, scale: ColorScale) -> tuple[float, ...]:
    """Round temperatures along the bar, as many as their labels leave room for."""
    size = page.px(theme.TICK)
    widest = max(text_width(degc_text(end), "regular", size) for end in _widest_ticks(scale))
    most = max(2, min(12, int(bar_box(page).width / (widest + page.px(44.0)))))
    return round_ticks(scale.low_degc, scale.high_degc, most)


def legend_lines(page: Page, scale: ColorScale) -> list[Line]:
    """Text of the scale."""
    under, over = cap_boxes(page)
    size = page.px(theme.TICK)
    below = page.legend.y1 + page.px(theme.TICK + 13.0)
    captions = [
        Line(text, page.legend.x0, base, page.px(theme.SMALL), color=theme.MUTED)
        for text, base in zip(
            page.captions, (page.legend.y0 - page.px(5.0), page.legend.y1 - page.px(6.0)), strict=True
        )
    ]
    ends = [
        Line(f"< {degc_text(scale.low_degc)}", under.x0, below, size, align="left"),
        Line(f"> {degc_text(scale.high_degc)}", over.x1, below, size, align="right"),
    ]
    taken = [
        (under.x0, under.x0 + text_width(ends[0].text, "regular", size)),
        (over.x1 - text_width(ends[1].text, "regular", size), over.x1),
    ]
    ticks = [Line(degc_text(t), bar_x(page, scale, t), below, size, align="middle") for t in ticks_of(page, scale)]
    return captions + ends + [tick for tick in ticks if _clear(tick, taken, page.px(18.0))]


def draw_legend(image: Image, page: Page, scale: ColorScale, labels: Sequence[Label]) -> None:
    """Draw bar, caps, tick strokes and a pin for every zone's maximum."""
    bar, (under, over) = bar_box(page), cap_boxes(page)
    steps = (np.arange(int(bar.width)) + 0.5) / bar.width
    row = scale.colors(scale.low_degc + steps * (scale.high_degc - scale.low_degc))
    image[int(bar.y0) : int(bar.y1), int(bar.x0) : int(bar.x1)] = row
    for box, color in ((under, scale.under), (over, scale.over)):
        fill(image, (box.x0, box.y0, box.x1, box.y1), color)
    for box in (bar, under, over):
        frame_around(image, (box.x0, box.y0, box.x1, box.y1), page.px(1.5), theme.HAIRLINE)
    for tick in ticks_of(page, scale):
        x = bar_x(page, scale, tick)
        line(image, (x, bar.y1), (x, bar.y1 + page.px(7.0)), page.px(2.0), theme.MUTED)
    for label in labels:
        if not math.isnan(label.degc):
            _pin(image, page, bar_x(page, scale, label.degc), scale.color_of(label.degc))


def _pin(image: Image, page: Page, x: float, color: theme.Color) -> None:
    head = page.legend.y0 - page.px(13.0)
    # It ends short of the bar: the bar is the same in all pictures of a study, pixel by pixel.
    foot = bar_box(page).y0 - max(2.0, page.px(3.0))
    line(image, (x, head), (x, foot), page.px(2.0), theme.INK)
    dot(image, x, head, page.px(7.5), theme.INK)
    dot(image, x, head, page.px(5.0), color)


def _widest_ticks(scale: ColorScale) -> tuple[float, float]:
    return math.floor(scale.low_degc), math.ceil(scale.high_degc)


def _clear(tick: Line, taken: list[tuple[float, float]], gap: float) -> bool:
    half = 0.5 * text_width(tick.text, "regular", tick.size_px)
    return all(tick.x + half + gap <= start or tick.x - half - gap >= end for start, end in taken)
