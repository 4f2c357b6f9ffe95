"""A sheet to draw on: a numpy picture for strokes and fills, with text set by Pillow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

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


def set_text(image: NDArray[np.uint8], lines: list[Line]) -> NDArray[np.uint8]:
    """Set all lines of text on a picture.

    Parameters
    ----------
    image : ndarray of uint8, shape (h, w, 3)
    lines : list of Line

    Returns
    -------
    ndarray of uint8, shape (h, w, 3)
        A new picture.
    """
    from PIL import Image, ImageDraw

    sheet = Image.fromarray(image)
    draw = ImageDraw.Draw(sheet)
    for line in lines:
        if line.text:
            draw.text(
                (round(line.x), round(line.y)),
                line.text,
                fill=line.color,
                font=font(line.weight, line.size_px),
                anchor=_ANCHORS[line.align],
            )
    return np.asarray(sheet)
