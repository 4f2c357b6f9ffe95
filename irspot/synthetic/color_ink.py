"""Ink on a colour-mapped picture: boxes, words, crosshairs and emblems, with a record of where it went."""

from __future__ import annotations

from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Box, Rgb
from irspot.errors import LibraryMissing
from irspot.synthetic.color_style import Color, Crosshair, Logo, Overlay, OverlayText, Shade

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

FloatArray = NDArray[np.float64]


class Paint:
    """A picture being drawn, and where something was drawn on it.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        Drawn on in place.

    Attributes
    ----------
    drawn : ndarray of bool, shape (rows, columns)
    """

    def __init__(self, rgb: Rgb) -> None:
        self.rgb = rgb
        self.drawn: NDArray[np.bool_] = np.zeros(rgb.shape[:2], np.bool_)

    def put(self, box: Box, colors: Rgb) -> None:
        """Put colours into a box that lies within the picture."""
        x0, y0, x1, y1 = box
        self.rgb[y0:y1, x0:x1] = colors
        self.drawn[y0:y1, x0:x1] = True

    def fill(self, box: Box, color: Color) -> None:
        """Fill a box, cut to the picture."""
        self.cover((box[0], box[1]), np.ones((max(0, box[3] - box[1]), max(0, box[2] - box[0]))), color)

    def cover(self, corner: tuple[int, int], coverage: FloatArray, color: Color) -> None:
        """Mix in a colour by coverage (0 to 1, shape (rows, columns)) whose upper left pixel lies at `corner`."""
        x, y = corner
        rows, columns = self.drawn.shape
        left, top = max(0, -x), max(0, -y)
        part = coverage[top : max(top, rows - y), left : max(left, columns - x)]
        where = (slice(y + top, y + top + part.shape[0]), slice(x + left, x + left + part.shape[1]))
        mixed = self.rgb[where] * (1.0 - part[..., None]) + np.array(color, np.float64) * part[..., None]
        self.rgb[where] = np.rint(mixed).astype(np.uint8)
        self.drawn[where] |= part > 0.0


@lru_cache(maxsize=64)
def _font(size_px: int, bold: bool) -> FreeTypeFont:
    from PIL import ImageFont

    spec = find_spec("matplotlib")
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    places = list(spec.submodule_search_locations or ()) if spec else []
    for place in places:
        path = Path(place) / "mpl-data" / "fonts" / "ttf" / name
        if path.is_file():
            return ImageFont.truetype(path, size_px, layout_engine=ImageFont.Layout.BASIC)
    raise LibraryMissing("the DejaVu fonts that matplotlib ships were not found", hint="install matplotlib again")


def _ink_box(text: str, size_px: int, bold: bool) -> Box:
    x0, y0, x1, y1 = _font(size_px, bold).getbbox(text, anchor="la")
    return (int(np.floor(x0)), int(np.floor(y0)), int(np.ceil(x1)), int(np.ceil(y1)))


def text_size(text: str, size_px: int, bold: bool) -> tuple[int, int]:
    """Width and height of a text's ink, px."""
    x0, y0, x1, y1 = _ink_box(text, size_px, bold)
    return x1 - x0, y1 - y0


def draw_text(paint: Paint, text: str, corner: tuple[int, int], size_px: int, bold: bool, color: Color) -> Box:
    """Draw a line of text with the upper left corner of its ink at `corner`; give the box of its ink."""
    from PIL import Image, ImageDraw

    x0, y0, _, _ = _ink_box(text, size_px, bold)
    width, height = text_size(text, size_px, bold)
    canvas = Image.new("L", (width, height), 0)
    ImageDraw.Draw(canvas).text((-x0, -y0), text, fill=255, font=_font(size_px, bold), anchor="la")
    paint.cover(corner, np.asarray(canvas, np.float64) / 255.0, color)
    return (corner[0], corner[1], corner[0] + width, corner[1] + height)


def draw_overlay(paint: Paint, overlay: Overlay) -> None:
    """Draw one overlay."""
    match overlay:
        case OverlayText(text, at_px, size_px, color, bold):
            draw_text(paint, text, at_px, size_px, bold, color)
        case Shade(box, color, alpha):
            x0, y0, x1, y1 = box
            paint.cover((x0, y0), np.full((max(0, y1 - y0), max(0, x1 - x0)), alpha), color)
        case Crosshair():
            _draw_crosshair(paint, overlay)
        case Logo():
            _draw_logo(paint, overlay)


def _draw_crosshair(paint: Paint, cross: Crosshair) -> None:
    x, y = cross.at_px
    before, after = cross.line_px // 2, cross.line_px - cross.line_px // 2
    for inner, outer in ((-cross.arm_px, -cross.open_px), (cross.open_px + 1, cross.arm_px + 1)):
        paint.fill((x + inner, y - before, x + outer, y + after), cross.color)
        paint.fill((x - before, y + inner, x + after, y + outer), cross.color)


def _draw_logo(paint: Paint, logo: Logo) -> None:
    from PIL import Image, ImageDraw

    fine = 4 * logo.size_px
    canvas = Image.new("L", (fine, fine), 0)
    draw = ImageDraw.Draw(canvas)
    draw.ellipse((0, 0, fine - 1, fine - 1), fill=255)
    draw.rectangle((0.2 * fine, 0.62 * fine, 0.8 * fine, 0.74 * fine), fill=0)
    draw.polygon([(0.5 * fine, 0.15 * fine), (0.25 * fine, 0.55 * fine), (0.75 * fine, 0.55 * fine)], fill=0)
    small = canvas.resize((logo.size_px, logo.size_px), Image.Resampling.BOX)
    paint.cover(logo.at_px, np.asarray(small, np.float64) / 255.0, logo.color)
