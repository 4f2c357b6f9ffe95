"""Callouts on the page: rings, leaders, chips and their text."""

from __future__ import annotations

import math

import numpy as np

from irspot.rendering import theme
from irspot.rendering.callouts import Place
from irspot.rendering.colors import ColorScale
from irspot.rendering.labels import Label
from irspot.rendering.leaders import Leader
from irspot.rendering.page import Page
from irspot.rendering.sheet import Align, Line
from irspot.rendering.strip import Strip, strip_value_width
from irspot.rendering.strokes import Image, dot, double_lines, double_ring, fill
from irspot.rendering.text import shortened, text_width
from irspot.rendering.value import value_parts, value_width

_MOST_RINGS = 80
"""Hot spots up to which those without a callout get a ring too: of a zone a part, rings would hide the frame."""


def draw_markers(image: Image, page: Page) -> None:
    """Draw leaders, rings and dots; leaders first, so that every ring stays open and on top."""
    leaders = [np.array(_leader(label, place, page)) for label, place in page.callouts if place.leader]
    double_lines(image, leaders, page.px(1.6))
    beside = {id(label) for label, _ in page.callouts}
    for label, (x, y) in page.spots:
        if not label.hot_spot:
            dot(image, x, y, page.px(6.0), theme.DARK_STROKE)
            dot(image, x, y, page.px(4.0), theme.WARNING)
        elif id(label) in beside:
            double_ring(image, x, y, page.px(theme.RING), page.px(2.4))
        elif len(page.spots) <= _MOST_RINGS:
            double_ring(image, x, y, page.px(0.5 * theme.RING), page.px(1.6))


def _leader(label: Label, place: Place, page: Page) -> Leader:
    """Give a leader's corners; one to a zone's middle, where there is no ring to stop at, goes all the way."""
    middle = () if label.hot_spot else tuple(point for other, point in page.spots if other is label)
    return middle + (place.leader or ())


def draw_chip(image: Image, page: Page, label: Label, place: Place, scale: ColorScale) -> None:
    """Draw the strip that shows the value's own colour beside its callout."""
    chip = page.px(theme.CHIP)
    box = place.box
    x0 = box.x1 - chip if place.side == "left" else box.x0
    edge = max(1, round(page.px(1.0)))
    fill(image, (x0 - edge, box.y0 - edge, x0 + chip + edge, box.y1 + edge), theme.MUTED)
    color = theme.HATCH[0] if math.isnan(label.degc) else scale.color_of(label.degc)
    fill(image, (x0, box.y0, x0 + chip, box.y1), color)


def callout_lines(page: Page, label: Label, place: Place) -> list[Line]:
    """Set one callout: the zone's name and its value.

    Returns
    -------
    list of Line
        Name, value, what follows the value, and why it is no plain maximum.
    """
    tier, box = page.tier, place.box
    inset = page.px(theme.CHIP + theme.CHIP_GAP)
    color = theme.WARNING if math.isnan(label.degc) else theme.INK
    width = value_width(label.value, tier, page.unit)
    room = box.width - inset
    if tier.lines == 1:
        return _one_line(page, label, place, color, width)
    x0 = box.x1 - inset - width if place.side == "left" else box.x0 + inset
    base = box.y1 - 0.22 * page.px(tier.value)
    name = shortened(label.name, "regular", page.px(tier.name), room)
    gap = page.px(14.0)
    why_x = x0 - gap if place.side == "left" else x0 + width + gap
    name_x = box.x1 - inset if place.side == "left" else box.x0 + inset
    align: Align = "right" if place.side == "left" else "left"
    return [
        Line(name, name_x, box.y0 + 0.92 * page.px(tier.name), page.px(tier.name), color=theme.MUTED, align=align),
        *_value_lines(page, label.value, x0, base, color),
        *_why_line(page, label, place, why_x, base, room - width - gap),
    ]


def _why_line(page: Page, label: Label, place: Place, x: float, base: float, room: float) -> list[Line]:
    """Say beside a value why it is no plain maximum, on the side away from the frame's edge, where there is room."""
    size = page.px(theme.SMALL)
    if not label.why or text_width(label.why, "regular", size) > room:
        return []
    align: Align = "right" if place.side == "left" else "left"
    return [Line(label.why, x, base, size, color=theme.WARNING, align=align)]


def _named(label: Label, size_px: float, room: float) -> str:
    """Write a zone's name, and why its value is no plain maximum where a single line has room for both."""
    both = f"{label.name} ({label.why})"
    if label.why and text_width(both, "regular", size_px) <= room:
        return both
    return shortened(label.name, "regular", size_px, room)


def _one_line(page: Page, label: Label, place: Place, color: theme.Color, width: float) -> list[Line]:
    """Set name and value side by side, the value always next to the chip."""
    tier, box = page.tier, place.box
    inset, gap = page.px(theme.CHIP + theme.CHIP_GAP), page.px(14.0)
    base = box.y1 - 0.4 * page.px(tier.value)
    name = _named(label, page.px(tier.name), box.width - inset - width - gap)
    if place.side == "left":
        x0 = box.x1 - inset - width
        beside = Line(name, x0 - gap, base, page.px(tier.name), color=theme.MUTED, align="right")
    else:
        x0 = box.x0 + inset
        beside = Line(name, x0 + width + gap, base, page.px(tier.name), color=theme.MUTED)
    return [beside, *_value_lines(page, label.value, x0, base, color)]


def _value_lines(page: Page, value: str, x0: float, base: float, color: theme.Color) -> list[Line]:
    head, tail = value_parts(value)
    head_px = page.px(page.tier.value)
    lines = [Line(head, x0, base, head_px, "bold", color)]
    if tail:
        x1 = x0 + text_width(head, "bold", head_px)
        lines.append(Line(tail, x1, base, page.px(page.tier.tail), color=color))
    return lines


def strip_lines(page: Page, strip: Strip) -> list[Line]:
    """Set the strip's small table."""
    size = page.px(theme.STRIP)
    lines = []
    for label, box in strip.cells:
        base = box.y1 - 0.34 * size
        color = theme.WARNING if math.isnan(label.degc) else theme.INK
        room = box.width - strip_value_width(label.value, size) - page.px(12.0)
        lines.append(Line(_named(label, size, room), box.x0, base, size, color=theme.MUTED))
        head, tail = value_parts(label.value)
        lines.append(Line(tail, box.x1, base, size, color=color, align="right"))
        lines.append(Line(head, box.x1 - text_width(tail, "regular", size), base, size, "bold", color, "right"))
    if strip.note:
        text = f"and {strip.unlisted} more in the table"
        note = Line(text, strip.note.x0, strip.note.y1 - 0.34 * size, size, color=theme.WARNING)
        lines.append(note.within(strip.note.width))
    return lines
