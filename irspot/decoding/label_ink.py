"""Printed ink near a colour bar: thin strokes lighter or darker than what lies behind them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Box, Rgb
from irspot.opencv import load_cv2

FloatArray = NDArray[np.float32]

BAR_MARGIN_PX = 2
"""Painted over around the bar: the bar's end otherwise reads as a leading 1."""
_SURROUND_PX = 6
Ink = Literal["white", "black", "light", "dark"]
"""White or black, sought in the primaries; of any other colour, sought in luma (ITU-R BT.601)."""


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """The part of a picture around a bar in which its labels are sought.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        With the bar painted over.
    origin_px : (int, int)
        Of its upper left pixel in the picture.
    bar_px : tuple of int
        The bar's box in the region's own px.
    """

    rgb: Rgb
    origin_px: tuple[int, int]
    bar_px: Box

    def in_picture(self, box: Box) -> Box:
        """Carry a box of the region into the picture."""
        x, y = self.origin_px
        return (box[0] + x, box[1] + y, box[2] + x, box[3] + y)


def region_around(rgb: Rgb, bar_px: Box, reach_px: int) -> Region:
    """Cut out the bar's surroundings and paint the bar over.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
    bar_px : tuple of int
    reach_px : int
        Beyond the bar on every side, as far as the picture goes.
    """
    rows, columns = rgb.shape[:2]
    x0, y0, x1, y1 = _grown_within(bar_px, reach_px, (columns, rows))
    part = np.array(rgb[y0:y1, x0:x1])
    inside = (bar_px[0] - x0, bar_px[1] - y0, bar_px[2] - x0, bar_px[3] - y0)
    _paint_over(part, inside)
    return Region(part, (x0, y0), inside)


def _grown_within(box: Box, by_px: int, size_px: tuple[int, int]) -> Box:
    columns, rows = size_px
    return (
        max(0, box[0] - by_px),
        max(0, box[1] - by_px),
        min(columns, box[2] + by_px),
        min(rows, box[3] + by_px),
    )


def _paint_over(rgb: Rgb, bar_px: Box) -> None:
    """Fill the bar and its margin with the median of what surrounds them, in place."""
    size = (rgb.shape[1], rgb.shape[0])
    inner = _grown_within(bar_px, BAR_MARGIN_PX, size)
    outer = _grown_within(inner, _SURROUND_PX, size)
    around = np.ones((outer[3] - outer[1], outer[2] - outer[0]), np.bool_)
    around[inner[1] - outer[1] : inner[3] - outer[1], inner[0] - outer[0] : inner[2] - outer[0]] = False
    ring = rgb[outer[1] : outer[3], outer[0] : outer[2]][around]
    if ring.size:
        rgb[inner[1] : inner[3], inner[0] : inner[2]] = np.rint(np.median(ring, axis=0)).astype(np.uint8)


def strokes(rgb: Rgb, ink: Ink, widest_px: int) -> FloatArray:
    """Give how much each pixel stands out from anything wider than a stroke.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
    ink : {"white", "black", "light", "dark"}
        Of the strokes, against what lies behind them.
    widest_px : int
        Strokes as wide as this, or wider, vanish.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        The white (or black) top-hat of a plane: the plane less its opening (its closing less the plane), 0 to 255.
    """
    cv2 = load_cv2()
    kernel = np.ones((widest_px, widest_px), np.uint8)
    operation = cv2.MORPH_TOPHAT if ink in ("white", "light") else cv2.MORPH_BLACKHAT
    return np.asarray(cv2.morphologyEx(plane(rgb, ink), operation, kernel), np.float32)


def plane(rgb: Rgb, ink: Ink) -> NDArray[np.uint8]:
    """Give the plane of a picture in which an ink stands out most.

    White is high in all three primaries and a colour map's colours are low in one of them, so the least primary shows
    white ink even where its luma is that of the colour behind; so does the greatest primary black ink.
    """
    cv2 = load_cv2()
    if ink in ("light", "dark"):
        return np.asarray(cv2.cvtColor(np.ascontiguousarray(rgb), cv2.COLOR_RGB2GRAY))
    red, green, blue = cv2.split(np.ascontiguousarray(rgb))
    extreme = cv2.min if ink == "white" else cv2.max
    return np.asarray(extreme(extreme(red, green), blue))
