"""Lines, number boxes and keys of a placement's picture."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.rendering import theme
from irspot.rendering.picture import Picture
from irspot.rendering.placement_page import Key, Mark, Plan
from irspot.rendering.sheet import Line, set_text
from irspot.rendering.strokes import Image, dashed, dot, double_lines, fill
from irspot.rendering.text import text_width
from irspot.rendering.theme import Color

FloatArray = NDArray[np.float64]

CHIP: Final = 34.0
"""Side of a number's box."""


def strokes_of(points: NDArray[np.float64], mark: Mark, plan: Plan) -> list[NDArray[np.float64]]:
    """Cut a line as its kind has it."""
    if mark == "dashed":
        return dashed(points, plan.px(22.0), plan.px(14.0))
    return dashed(points, plan.px(5.0), plan.px(12.0)) if mark == "dotted" else [points]


def label_box(view: Image, plan: Plan, text: str, x: float, y: float, color: Color) -> Line:
    """Fill a small box round a place and give the text that goes into it."""
    size = 0.82 * plan.px(CHIP)
    half_w = max(0.5 * plan.px(CHIP), 0.5 * text_width(text, "bold", size) + plan.px(6.0))
    half_h = 0.5 * plan.px(CHIP)
    edge = max(1.0, plan.px(2.0))
    fill(view, (x - half_w - edge, y - half_h - edge, x + half_w + edge, y + half_h + edge), theme.DARK_STROKE)
    fill(view, (x - half_w, y - half_h, x + half_w, y + half_h), color)
    return Line(text, x, y + 0.36 * size, size, "bold", theme.DARK_STROKE, "middle")


def finished(image: Image, plan: Plan) -> Picture:
    """Finish a page: the keys and the words beside its view."""
    for key in plan.keys:
        draw_key(image, plan, key)
    set_text(image, plan.lines)
    return Picture(image)


def draw_key(image: Image, plan: Plan, key: Key) -> None:
    """Draw the sample of a line, or of dots, beside its words."""
    if key.mark == "dots":
        for share in (0.15, 0.35, 0.55, 0.75, 0.95):
            dot(image, key.x + share * key.width, key.y, max(1.2, plan.px(3.0)), key.color)
        return
    line = np.array([[key.x, key.y], [key.x + key.width, key.y]])
    double_lines(image, strokes_of(line, key.mark, plan), plan.px(4.0), key.color)
