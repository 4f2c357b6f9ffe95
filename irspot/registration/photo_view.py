"""A photo as boards are sought in it: what is bench, and the largest solid shape that is none."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Optics
from irspot.opencv import load_cv2
from irspot.photo import Photo
from irspot.registration.surface_colors import color_of_surface, smoothed

F32 = NDArray[np.float32]
Bool = NDArray[np.bool_]
U8 = NDArray[np.uint8]

_BORDER_SHARE: Final = 0.05
"""Width of the border along which the bench's colour is taken, against the photo's shorter side."""
APART: Final = 6.0
"""Spreads from which a colour is another one than the bench's."""
_CLOSED_SHARE: Final = 0.012
_OPENED_SHARE: Final = 0.045
"""Widths, against the photo's length, of gaps that are closed and of strips (cables, rails) that are taken off."""
_SOLID: Final = 20.0
BLUR_PX: Final = 1.5
"""Of a photo as smoothed."""


@dataclass(frozen=True, slots=True, eq=False)
class PhotoView:
    """A photo reduced for the search.

    Its colours, how far they are from the bench's in spreads and in levels, what is no bench, the largest solid shape
    of that, and the lens at its size.
    """

    smooth: F32
    apart: F32
    tint: F32
    other: Bool
    solid: Bool
    lens: Optics

    @property
    def size_px(self) -> tuple[int, int]:
        """``(columns, rows)``."""
        return self.smooth.shape[1], self.smooth.shape[0]


def photo_view(photo: Photo, optics: Optics, factor: int) -> PhotoView | None:
    """Reduce a photo and tell the bench in it from what lies there; None where nothing does.

    Parameters
    ----------
    photo : Photo
    optics : Optics
        Of the camera that took it.
    factor : int
        By which each side is reduced.
    """
    smooth = smoothed(_reduced(photo, factor))
    border = np.ones(smooth.shape[:2], bool)
    width = max(2, round(_BORDER_SHARE * min(border.shape)))
    border[width:-width, width:-width] = False
    bench = color_of_surface(smooth, border)
    apart = bench.apart_everywhere(smooth)
    other = apart > APART
    solid = _solid_shape(other)
    if solid is None:
        return None
    return PhotoView(smooth, apart, bench.tint_everywhere(smooth), other, solid, _lens_of(optics, factor))


def _reduced(photo: Photo, factor: int) -> U8:
    cv2 = load_cv2()
    if factor == 1:
        return photo.rgb
    columns, rows = (length // factor for length in photo.size_px)
    whole = photo.rgb[: rows * factor, : columns * factor]
    return np.asarray(cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA))


def _lens_of(optics: Optics, factor: int) -> Optics:
    principal = optics.principal_px
    if principal is not None:
        principal = ((principal[0] + 0.5) / factor - 0.5, (principal[1] + 0.5) / factor - 0.5)
    focal = None if optics.focal_px is None else optics.focal_px / factor
    return replace(optics, size_px=None, focal_px=focal, principal_px=principal, blur_px=BLUR_PX)


def _solid_shape(other: Bool) -> Bool | None:
    """Give the largest solid shape that is no bench: holes filled, thin strips taken off."""
    cv2 = load_cv2()
    length = max(other.shape)
    closed = _with_margin(other.astype(np.uint8), cv2.MORPH_CLOSE, _CLOSED_SHARE * length)
    around = np.pad(closed, 1)
    cv2.floodFill(around, None, (0, 0), 2)
    filled = (around[1:-1, 1:-1] != 2).astype(np.uint8)
    opened = _with_margin(filled, cv2.MORPH_OPEN, _OPENED_SHARE * length)
    count, labels, facts, _ = cv2.connectedComponentsWithStats(opened)
    if count < 2:
        return None
    return np.asarray(labels == 1 + int(np.argmax(facts[1:, cv2.CC_STAT_AREA])))


def _with_margin(shape: U8, how: int, width_px: float) -> U8:
    """Close or open a shape by a disc, as if it went on beyond the photo's edge."""
    cv2 = load_cv2()
    size = 2 * int(width_px / 2.0) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    padded = cv2.copyMakeBorder(shape, size, size, size, size, cv2.BORDER_REPLICATE)
    return np.asarray(cv2.morphologyEx(padded, how, disc)[size:-size, size:-size])


def as_heat(solid: Bool) -> F32:
    """Show a solid shape as a warm one, for the search in thermal frames."""
    return np.asarray(load_cv2().GaussianBlur(solid.astype(np.float32) * np.float32(_SOLID), (0, 0), 1.0))
