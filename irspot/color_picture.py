"""Colour-mapped pictures as values: the colour bar, the numbers on it, and what decoding made of the pixels."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from irspot.color_wish import BarScale, Box, End

Rgb = NDArray[np.uint8]
"""A picture, shape (rows, columns, 3), red first."""


@dataclass(frozen=True, slots=True, eq=False)
class Bar:
    """A colour bar: where it lies, which way it runs, and its colours.

    Parameters
    ----------
    box_px : tuple of int
        Its colours without border, ticks and gap.
    low_end : {"top", "bottom", "left", "right"}
        Where the lowest temperature is.
    path_rgb : ndarray of float64, shape (n, 3)
        Its colours from the low to the high end, one for each pixel along it (the median across it), 0 to 255.
    origin : {"given", "camera file", "found"}
    """

    box_px: Box
    low_end: End
    path_rgb: NDArray[np.float64]
    origin: Literal["given", "camera file", "found"] = "found"

    @property
    def vertical(self) -> bool:
        """Whether it runs up or down."""
        return self.low_end in ("top", "bottom")


class Excluded(IntEnum):
    """Why a pixel was not decoded; 0 for one that was."""

    DECODED = 0
    BAR = 1
    """The bar itself, its border, ticks and labels."""
    IGNORED = 2
    """Declared in the camera file or by the user."""
    OFF_PALETTE = 3
    """Its colour is not on the bar's path: text, a crosshair, a logo, a half-transparent box."""
    DRAWN_ON = 4
    """Its colour is on the path, but its shape says that something was drawn there."""
    AMBIGUOUS = 5
    """Its colour is at two places of the path and the surroundings do not decide."""


@dataclass(frozen=True, slots=True, eq=False)
class Decoded:
    """What decoding made of a picture.

    Parameters
    ----------
    temperature_degc : ndarray of float32, shape (rows, columns)
        Of the picture's own size; NaN where not decoded.
    u_decode_k : ndarray of float32, that shape
        Standard uncertainty of decoding; NaN where not decoded.
    excluded : ndarray of uint8, that shape
        Values of `Excluded`.
    clipped_high, clipped_low : ndarray of bool, that shape
        At the bar's ends.
    bar : Bar
    scale : BarScale
    taken : str
        When the picture was taken, in ISO 8601, as its file says; empty where it does not.
    """

    temperature_degc: NDArray[np.float32]
    u_decode_k: NDArray[np.float32]
    excluded: NDArray[np.uint8]
    clipped_high: NDArray[np.bool_]
    clipped_low: NDArray[np.bool_]
    bar: Bar
    scale: BarScale
    taken: str = ""

    @property
    def share_excluded(self) -> float:
        """Share of the picture's pixels, outside bar and ignored boxes, that were not decoded."""
        asked = ~np.isin(self.excluded, (Excluded.BAR, Excluded.IGNORED))
        return float(np.mean(self.excluded[asked] != Excluded.DECODED)) if asked.any() else 1.0

    @property
    def share_clipped(self) -> float:
        """Share of decoded pixels at either end of the bar."""
        decoded = self.excluded == Excluded.DECODED
        clipped = self.clipped_high | self.clipped_low
        return float(np.mean(clipped[decoded])) if decoded.any() else 0.0

    @property
    def typical_u_k(self) -> float:
        """Median of the decoding uncertainty over decoded pixels."""
        known = self.u_decode_k[np.isfinite(self.u_decode_k)]
        return float(np.median(known)) if known.size else float("nan")


__all__ = ["Bar", "BarScale", "Box", "Decoded", "End", "Excluded", "Rgb"]
