"""Metal beside surfaces that send more: what blur brings in from there is no heat of the metal.

A surface of emissivity 0.2 sends less than the mask beside it even where it is hotter. Of what a pixel at its rim
receives, a part comes from beside it, and read with the metal's emissivity that part counts five times. So the rim is
left out as far as blur and the placement's uncertainty reach, where something brighter lies beyond it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.measurement.geometry import ZonePixels
from irspot.measurement.pixels import Pixels
from irspot.measurement.spot_size import PIXEL_VARIANCE_PX2
from irspot.opencv import load_cv2

BoolArray = NDArray[np.bool_]

_BLURS: Final = 2.5
"""Standard deviations of blur beyond which less than a hundredth comes from across a straight edge."""
_MOVES: Final = 2.0
_BRIGHTER: Final = 0.9
"""Quantile of what lies beside a zone that has to be brighter: a wire or two are not enough."""


def rim_px(blur_px: float, u_place_px: float) -> int:
    """Say how far into a zone reaches what lies beside it.

    Parameters
    ----------
    blur_px : float
        Standard deviation of the point spread.
    u_place_px : float
        Standard uncertainty of the border's place.

    Examples
    --------
    >>> rim_px(0.8, 0.3)
    3
    """
    return int(np.ceil(_BLURS * float(np.hypot(blur_px, np.sqrt(PIXEL_VARIANCE_PX2))) + _MOVES * u_place_px))


def without_rim(where: ZonePixels, pixels: Pixels, rim: int) -> tuple[ZonePixels, str]:
    """Leave out the rim of a zone of metal, if what lies beside it sends more than its inside.

    Parameters
    ----------
    where : ZonePixels
    pixels : Pixels
        Of the frame.
    rim : int
        px.

    Returns
    -------
    ZonePixels
    str
        A flag: ``metal-rim-left-out``, or ``metal-mixed`` for a zone without an inside; empty if nothing is brighter.
    """
    if not where.mask.any():
        return where, ""
    part, mask = _padded(where, pixels.sound.shape, 2 * rim)
    cv2 = load_cv2()
    block = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * rim + 1, 2 * rim + 1))
    inner = cv2.erode(mask.view(np.uint8), block, borderValue=0).view(bool)
    beside = cv2.dilate(mask.view(np.uint8), block).view(bool) & ~mask & pixels.sound[part]
    own = (inner if inner.any() else mask) & pixels.sound[part]
    if not beside.any() or not own.any():
        return where, ""
    radiance = pixels.radiance_degc[part]
    # The darkest is the metal's own, if anything is, where there is no inside to look at.
    darkest = float(radiance[own].max() if inner.any() else radiance[own].min())
    if float(np.quantile(radiance[beside], _BRIGHTER)) <= darkest + pixels.noise_k:
        return where, ""
    if not inner.any():
        return where, "metal-mixed"
    row0, row1, column0, column1 = where.box
    cut = inner[row0 - part[0].start : row1 - part[0].start, column0 - part[1].start : column1 - part[1].start].copy()
    cut.flags.writeable = False
    return replace(where, mask=cut), "metal-rim-left-out"


def _padded(where: ZonePixels, shape: tuple[int, ...], room: int) -> tuple[tuple[slice, slice], BoolArray]:
    """Give a part of the frame around a zone, and the zone's mask in it."""
    row0, row1, column0, column1 = where.box
    top, left = max(0, row0 - room), max(0, column0 - room)
    part = slice(top, min(shape[0], row1 + room)), slice(left, min(shape[1], column1 + room))
    mask = np.zeros((part[0].stop - top, part[1].stop - left), bool)
    mask[row0 - top : row1 - top, column0 - left : column1 - left] = where.mask
    return part, mask
