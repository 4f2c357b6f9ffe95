"""Colour maps, the colours beyond their ends, and contrast."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.errors import UsageError
from irspot.rendering.inferno import INFERNO_RGB_HEX
from irspot.rendering.theme import Color

Rgb = NDArray[np.uint8]

LEVELS = 256
_APART = 0.15
"""Of `color_distance`: colours this far apart are never taken for one another."""
_OVER_CANDIDATES: tuple[Color, ...] = ((64, 224, 255), (255, 96, 232), (140, 255, 120), (255, 255, 255))
_UNDER_CANDIDATES: tuple[Color, ...] = ((44, 84, 150), (0, 96, 84), (104, 40, 44), (70, 74, 80))
_LINE_CANDIDATES: tuple[Color, ...] = ((0, 255, 128), (0, 200, 255), (255, 80, 220), (255, 220, 0))


@dataclass(frozen=True, slots=True, eq=False)
class ColorScale:
    """A colour map stretched between two temperatures, with colours of its own beyond them.

    Parameters
    ----------
    name : str
    low_degc, high_degc : float
    table : ndarray of uint8, shape (256, 3)
    over, under : tuple of int
        For what lies above `high_degc` and below `low_degc`.
    """

    name: str
    low_degc: float
    high_degc: float
    table: Rgb
    over: Color
    under: Color

    def colors(self, degc: NDArray[Any]) -> Rgb:
        """Colour temperatures; NaN gets the `under` colour, to be painted over.

        Parameters
        ----------
        degc : ndarray, any shape

        Returns
        -------
        ndarray of uint8, that shape and 3
            Entry ``floor(256 (T - low) / (high - low))``, the last for `high_degc` itself.
        """
        # Indices 1 to 256 are the table's, 0 and 257 what lies beyond; one clip and one look-up for all.
        span = self.high_degc - self.low_degc
        index = (np.asarray(degc, np.float32) - np.float32(self.low_degc)) * np.float32(LEVELS / span) + np.float32(1)
        index[np.isnan(index)] = 0.0
        index[degc == self.high_degc] = LEVELS
        whole = np.clip(np.floor(index, out=index), 0, LEVELS + 1, out=index).astype(np.uint16)
        extended = np.concatenate([[self.under], self.table, [self.over]]).astype(np.uint8)
        colored: Rgb = extended.take(whole, axis=0)  # three times faster than indexing
        return colored

    def color_of(self, degc: float) -> Color:
        """Colour one temperature."""
        red, green, blue = (int(part) for part in self.colors(np.array([degc]))[0])
        return red, green, blue


def color_scale(name: str, scale_degc: tuple[float, float]) -> ColorScale:
    """Stretch a colour map over a range.

    Parameters
    ----------
    name : str
        Any of matplotlib's.
    scale_degc : tuple of float
        ``(low, high)``.

    Raises
    ------
    UsageError
        For an unknown name or a range that is not one.
    """
    low, high = (float(end) for end in scale_degc)
    if not (np.isfinite(low) and np.isfinite(high) and low < high):
        raise UsageError("a colour scale runs from a low to a high temperature", found=f"{low:g} to {high:g} °C")
    table = color_table(name)
    under = _apart_from(_UNDER_CANDIDATES, table)
    over = _apart_from(_OVER_CANDIDATES, np.vstack([table, np.array([under], np.uint8)]))
    return ColorScale(name, low, high, table, over, under)


def line_color(scale: ColorScale) -> Color:
    """Choose a colour for a line over a frame: far from all that the frame's own colours can be."""
    taken = np.vstack([scale.table, np.array([scale.over, scale.under], np.uint8)])
    return max(_LINE_CANDIDATES, key=lambda candidate: color_distance(candidate, taken))


@lru_cache(maxsize=8)
def color_table(name: str) -> Rgb:
    """Look up a colour map's 256 entries, ``round(255 * value)`` each.

    Raises
    ------
    UsageError
        For an unknown name.
    """
    table = _inferno() if name == "inferno" else _of_matplotlib(name)
    table.flags.writeable = False
    return table


def _inferno() -> Rgb:
    return np.frombuffer(bytes.fromhex(INFERNO_RGB_HEX), np.uint8).reshape(LEVELS, 3)


def _of_matplotlib(name: str) -> Rgb:
    import matplotlib

    if name not in matplotlib.colormaps:
        from difflib import get_close_matches

        near = get_close_matches(name, list(matplotlib.colormaps), n=1, cutoff=0.0)
        raise UsageError("unknown colour map", found=repr(name), hint=f"did you mean {near[0]!r}?" if near else "")
    colormap = matplotlib.colormaps[name]
    # A map of 256 entries is taken entry by entry; others are sampled at the middle of each level.
    places = np.arange(LEVELS) if colormap.N == LEVELS else (np.arange(LEVELS) + 0.5) / LEVELS
    return np.rint(np.asarray(colormap(places))[:, :3] * 255.0).astype(np.uint8)


def _apart_from(candidates: tuple[Color, ...], table: Rgb) -> Color:
    """Choose the first candidate that no colour of the table comes near, or else the one furthest away."""
    distances = [color_distance(candidate, table) for candidate in candidates]
    best = next((i for i, distance in enumerate(distances) if distance >= _APART), int(np.argmax(distances)))
    return candidates[best]


def color_distance(color: Color, table: Rgb) -> float:
    """Distance from a colour to the nearest of a table, 0 to 1.

    Weighted Euclidean in 8-bit sRGB with weights 2, 4, 3 (common practice; enough to tell apart, not to rank).
    """
    difference = (table.astype(np.float64) - np.array(color, np.float64)) / 255.0
    return float(np.sqrt(np.min(difference**2 @ np.array([2.0, 4.0, 3.0])) / 9.0))


def relative_luminance(color: Color) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, definition of relative luminance)."""
    share = np.array(color, np.float64) / 255.0
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return float(linear @ np.array([0.2126, 0.7152, 0.0722]))


def contrast_ratio(a: Color, b: Color) -> float:
    """Contrast of two colours, 1 to 21: (L1 + 0.05) / (L2 + 0.05) (WCAG 2.2, definition of contrast ratio).

    Examples
    --------
    >>> contrast_ratio((255, 255, 255), (0, 0, 0))
    21.0
    """
    low, high = sorted((relative_luminance(a), relative_luminance(b)))
    return (high + 0.05) / (low + 0.05)
