"""A bar's colours as one dense line through colour space, with the place of every sample."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Bar
from irspot.constants import RECTANGULAR
from irspot.decoding.bar_levels import Levels, exact_levels
from irspot.decoding.lossy_bar import lossy_levels
from irspot.decoding.picture import ColorPicture

FloatArray = NDArray[np.float64]

SAMPLES: Final = 1024
COARSE: Final = 4
"""Every so many samples one serves for the first search."""

_FOUND_PX: Final = 1.5
_GIVEN_PX: Final = 0.5
"""Bounds on where a bar ends: one that was found (a border may hide a pixel and a half, or be taken for the bar's), one
that was pointed out."""

YCC_OF_RGB: Final = np.array(
    [[0.299, 0.587, 0.114], [-0.168735892, -0.331264108, 0.5], [0.5, -0.418687589, -0.081312411]]
)
"""JFIF 1.02 (1992): luma and the two chroma components, without the offset of 128 of chroma."""


@dataclass(frozen=True, slots=True, eq=False)
class ColorPath:
    """A bar's colours as a polyline, sampled evenly in place.

    Parameters
    ----------
    first, last : float
        Places of the first and last sample: the middles of the bar's end colours.
    colors : ndarray of float32, shape (SAMPLES, 3)
        Red, green, blue of exact pictures; luma and two chroma of lossy ones. 0 to 255.
    slopes : ndarray of float32, shape (SAMPLES, 3)
        Change of colour from one sample to the next.
    widths : ndarray of float32, shape (SAMPLES,)
        Share of the bar that one of its colours stands for.
    lossy : bool
        Whether the colours are luma and chroma.
    noise : float
        Standard deviation of a pixel of the bar, per channel.
    u_end : float
        Standard uncertainty of where either end of the bar is, in place.
    """

    first: float
    last: float
    colors: NDArray[np.float32]
    slopes: NDArray[np.float32]
    widths: NDArray[np.float32]
    lossy: bool
    noise: float
    u_end: float

    @property
    def spacing(self) -> float:
        """Place from one sample to the next."""
        return (self.last - self.first) / (SAMPLES - 1)

    @property
    def luma(self) -> NDArray[np.float32]:
        """Luma of the samples."""
        return self.colors[:, 0] if self.lossy else np.asarray(self.colors @ YCC_OF_RGB[0].astype(np.float32))

    def place(self, at: NDArray[np.float32]) -> NDArray[np.float32]:
        """Turn positions counted in samples into places along the bar."""
        return np.asarray(at * np.float32(self.spacing) + np.float32(self.first))


def exact_path(picture: ColorPicture, bar: Bar) -> ColorPath:
    """Lay the line through the colours of a bar that came through no lossy coding."""
    levels = exact_levels(np.median(_across(picture.rgb, bar), axis=1))
    return _sampled(levels, bar, lossy=False, noise=0.0)


def lossy_path(picture: ColorPicture, bar: Bar) -> ColorPath:
    """Lay the line through luma and chroma of a bar that came through a lossy coding."""
    assert picture.ycc is not None
    colors: FloatArray = _across(picture.ycc, bar).mean(axis=1)
    levels, noise = lossy_levels(colors, chroma_shared=picture.chroma != "444")
    return _sampled(levels, bar, lossy=True, noise=noise)


def _across(colors: NDArray[np.uint8], bar: Bar) -> FloatArray:
    """Give a bar's inner half, shape (along, across, 3), from low to high: its sides carry ticks, or shine in."""
    x0, y0, x1, y1 = bar.box_px
    part = colors[y0:y1, x0:x1].astype(np.float64)
    across = part if bar.vertical else part.transpose(1, 0, 2)
    side = across.shape[1] // 4
    inner = across[:, side : across.shape[1] - side]
    return inner if bar.low_end in ("top", "left") else inner[::-1]


def _sampled(levels: Levels, bar: Bar, *, lossy: bool, noise: float) -> ColorPath:
    x0, y0, x1, y1 = bar.box_px
    bound_px = _FOUND_PX if bar.origin == "found" else _GIVEN_PX
    bound = bound_px / (y1 - y0 if bar.vertical else x1 - x0) + levels.rounded
    at = np.linspace(levels.places[0], levels.places[-1], SAMPLES)
    colors = np.stack([np.interp(at, levels.places, channel) for channel in levels.colors.T], axis=1)
    nearest = np.clip(np.searchsorted((levels.places[1:] + levels.places[:-1]) / 2.0, at), 0, len(levels.places) - 1)
    return ColorPath(
        float(levels.places[0]),
        float(levels.places[-1]),
        colors.astype(np.float32),
        np.gradient(colors, axis=0).astype(np.float32),
        levels.widths[nearest].astype(np.float32),
        lossy,
        noise,
        0.0 if levels.fixed else bound / RECTANGULAR,
    )
