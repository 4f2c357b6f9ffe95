"""A sheet to draw on: a numpy picture for strokes and fills, with text set by Pillow."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from irspot.rendering.strokes import Image
from irspot.rendering.text import Weight, font, shortened
from irspot.rendering.theme import INK, Color

Align = Literal["left", "right", "middle"]
_ANCHORS: dict[Align, str] = {"left": "ls", "right": "rs", "middle": "ms"}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of text with its place.

    Parameters
    ----------
    text : str
        Cleaned.
    x, y : float
        Where the baseline starts, ends or has its middle.
    size_px : float
    weight : {"regular", "bold"}
    color : tuple of int
    align : {"left", "right", "middle"}
    """

    text: str
    x: float
    y: float
    size_px: float
    weight: Weight = "regular"
    color: Color = INK
    align: Align = "left"

    def within(self, width_px: float) -> Line:
        """Give the line shortened to a width."""
        text = shortened(self.text, self.weight, self.size_px, width_px)
        return Line(text, self.x, self.y, self.size_px, self.weight, self.color, self.align)


def set_text(image: Image, lines: Iterable[Line]) -> None:
    """Set lines of text on a picture.

    Parameters
    ----------
    image : ndarray of uint8, shape (h, w, 3)
        Drawn on.
    lines : iterable of Line
        What reaches beyond the picture is cut off.
    """
    for line in lines:
        if line.text:
            _set_line(image, line)


def _set_line(image: Image, line: Line) -> None:
    """Set one line by way of a patch of its own size: Pillow would copy the whole picture in and out."""
    from PIL import Image as PillowImage
    from PIL import ImageDraw

    face, anchor, place = font(line.weight, line.size_px), _ANCHORS[line.align], (round(line.x), round(line.y))
    left, top, right, bottom = face.getbbox(line.text, anchor=anchor)
    x0, y0 = max(0, math.floor(place[0] + left) - 1), max(0, math.floor(place[1] + top) - 1)
    x1, y1 = math.ceil(place[0] + right) + 1, math.ceil(place[1] + bottom) + 1
    view = image[y0 : max(y0, y1), x0 : max(x0, x1)]
    if not view.size:
        return
    patch = PillowImage.fromarray(np.ascontiguousarray(view))
    ImageDraw.Draw(patch).text((place[0] - x0, place[1] - y0), line.text, fill=line.color, font=face, anchor=anchor)
    view[:] = np.asarray(patch)
