"""Whether a refined stretch is a colour bar: by its form, its colours, and by the picture having the same colours."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Box, Rgb
from irspot.decoding.bar_candidates import Tolerance
from irspot.decoding.bar_extent import Extent
from irspot.decoding.bar_path import (
    LEAST_CONTRAST,
    contrast,
    is_even,
    is_part_of_map,
    is_steady,
    nearest_map,
)
from irspot.decoding.bar_steps import count_steps

FloatArray = NDArray[np.float64]

LEAST_ON_PALETTE = 0.6
"""Share of the picture's colours that have to lie on the path of a bar in a known map. Measured on rendered frames: 0.9
and more in 98 %, 0.7 at least."""
LEAST_ON_UNKNOWN = 0.9
"""The same for a bar in colours of an unknown map: strips of the picture itself reach 0.9 in one of ten cases."""
_KNOWN_RMS = 7.0
_KNOWN_STEPPED_RMS = 16.0
"""A path nearer than this to a map of matplotlib is known. Measured at quality 70: smooth bars with the right ends came
within 7 in 98 % of frames, with an end wrong by 2 % of the length never; strips of the picture never within 27."""
_KNOWN_WORST = 22.0
_KNOWN_WORST_GREY = 14.0
"""And no cell may be further off. Bars came within 20 in 98 % of frames at quality 70; a warm strip, taken for one by
stretching its ends into the scene, was off by 25 and more, by 18 in grey, which has no chroma to blur."""
_GREYS = ("gist_gray", "binary")
_UNKNOWN_LENGTH = 0.25
"""Share of the picture's shorter side that a bar of unknown colours takes at least."""
_KNOWN_WEIGHT = 0.5
"""What being in a known map is worth, in shares of the picture explained."""
_SLENDER = 3.0
_SHORTEST = 0.1
"""Share of the picture's shorter side."""
_SIDE_STEP = 3.0
"""Both sides have to differ from the bar by this many times the profile's noise, on average along it."""
_TORN = 0.5
"""A column outside that is like the bar over this share of its rows is a part of it that something covers."""
_SAMPLES = 32
_PLAIN_COLORS = 2
"""So many colours off the path are taken for panel and ink, not for the picture's."""

Fault = Literal["", "form", "contrast", "path", "sides", "palette", "torn"]


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A refined stretch and what was found wrong with it.

    Parameters
    ----------
    box_px : tuple of int
        In the picture as it is.
    vertical : bool
    profile : ndarray, shape (n, 3)
        From top to bottom, or from left to right.
    fault : str
        Empty for a bar.
    on_palette : float
        Share of the picture's colours on its path; NaN where it failed before.
    sharp : bool
        Whether both ends are clear steps.
    framed : bool
        As in `Extent`.
    known : bool
        Whether its colours are those of a map of matplotlib.
    """

    box_px: Box
    vertical: bool
    profile: FloatArray
    fault: Fault
    sharp: bool = False
    framed: bool = False
    on_palette: float = float("nan")
    known: bool = False

    @property
    def evidence(self) -> float:
        """How much speaks for it, to compare bars."""
        return self.on_palette + (_KNOWN_WEIGHT if self.known else 0.0)

    @property
    def well_formed(self) -> bool:
        """Whether form and colours are a bar's, whatever the rest of the picture says."""
        return self.fault in ("", "palette", "torn")


def form_fault(extent: Extent, shorter_side: int, tolerance: Tolerance) -> Fault:
    """Say what speaks against a stretch by itself.

    Parameters
    ----------
    extent : Extent
    shorter_side : int
        Of the picture, px.
    tolerance : Tolerance
    """
    length, width = extent.y1 - extent.y0, extent.x1 - extent.x0
    if length < max(24, _SHORTEST * shorter_side) or length < _SLENDER * width or width < 3:
        return "form"
    if extent.across > tolerance.across:
        return "form"
    if any(mean < _SIDE_STEP * tolerance.profile for mean, _ in extent.flanks):
        return "sides"
    if contrast(extent.profile) < LEAST_CONTRAST:
        return "contrast"
    if not is_steady(extent.profile):
        return "path"
    if any(same > _TORN for _, same in extent.flanks):
        return "torn"
    return ""


def sample_colors(rgb: Rgb) -> tuple[FloatArray, NDArray[np.intp]]:
    """Pick colours on a grid over the picture.

    Returns
    -------
    colors : ndarray, shape (n, 3)
    at : ndarray, shape (n, 2)
        Their places, ``(x, y)``.
    """
    rows, columns = rgb.shape[:2]
    y = np.linspace(0, rows - 1, min(rows, _SAMPLES)).astype(np.intp)
    x = np.linspace(0, columns - 1, min(columns, _SAMPLES)).astype(np.intp)
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    return rgb[grid[:, 1], grid[:, 0]].astype(np.float32), grid


def on_palette(profile: FloatArray, box: Box, colors: FloatArray, at: NDArray[np.intp], tolerance: Tolerance) -> float:
    """Give the share of sampled colours on a bar's path, the bar itself and plain panels left out.

    Parameters
    ----------
    profile : ndarray, shape (n, 3)
    box : tuple of int
    colors : ndarray, shape (k, 3)
    at : ndarray, shape (k, 2)
    tolerance : Tolerance
    """
    x, y = at.T
    outside = (x < box[0] - 4) | (x >= box[2] + 4) | (y < box[1] - 4) | (y >= box[3] + 4)
    colors = colors[outside]
    path = profile[:: max(1, len(profile) // 64)].astype(np.float32)
    squares = np.sum(colors**2, axis=1)[:, None] + np.sum(path**2, axis=1) - 2.0 * colors @ path.T
    near = squares.min(axis=1) <= (8.0 + 3.0 * tolerance.profile) ** 2
    off = colors[~near]
    if not len(off):
        return 1.0
    coarse = (off / 16.0).astype(np.intp) @ np.array([256, 16, 1])
    counts = np.sort(np.bincount(coarse))[::-1]
    plain = int(counts[:_PLAIN_COLORS].sum())
    on = len(colors) - len(off)
    return on / max(1, on + len(off) - plain)


def judged(
    candidate: Candidate, rgb: Rgb, sampled: tuple[FloatArray, NDArray[np.intp]], tolerance: Tolerance
) -> Candidate:
    """Hold a well-formed candidate against the picture's colours.

    Parameters
    ----------
    candidate : Candidate
    rgb : ndarray of uint8, shape (rows, columns, 3)
    sampled : tuple
        From `sample_colors`.
    tolerance : Tolerance
    """
    if not candidate.well_formed:
        return candidate
    share = on_palette(candidate.profile, candidate.box_px, *sampled, tolerance)
    known = _is_known(candidate.profile)
    fault = candidate.fault
    if known:
        fault = fault or ("" if share >= LEAST_ON_PALETTE else "palette")
    elif share >= LEAST_ON_PALETTE and is_part_of_map(candidate.profile):
        fault = "torn"
    else:
        fault = fault or ("" if _convinces_unknown(candidate, share, min(rgb.shape[:2])) else "palette")
    return replace(candidate, on_palette=share, known=known, fault=fault)


def _is_known(profile: FloatArray) -> bool:
    """Say whether a profile has the colours of a known map from end to end."""
    match = nearest_map(profile)
    if count_steps(profile):
        return match.rms <= _KNOWN_STEPPED_RMS
    worst = _KNOWN_WORST_GREY if match.name in _GREYS else _KNOWN_WORST
    return match.rms <= _KNOWN_RMS and match.worst <= worst


def _convinces_unknown(candidate: Candidate, share: float, shorter_side: int) -> bool:
    """Say whether a bar of no known map is one all the same: drawn clearly, and its colours the picture's."""
    long = len(candidate.profile) >= _UNKNOWN_LENGTH * shorter_side
    return share >= LEAST_ON_UNKNOWN and candidate.framed and candidate.sharp and long and is_even(candidate.profile)


def has_colors_of(strip: FloatArray, profile: FloatArray, tolerance: Tolerance) -> float:
    """Give the share of a strip's colours that lie on a profile's path."""
    path = profile[:: max(1, len(profile) // 256)]
    part = strip[:: max(1, len(strip) // 128)]
    squares = np.sum(part**2, axis=1)[:, None] + np.sum(path**2, axis=1) - 2.0 * part @ path.T
    return float(np.mean(squares.min(axis=1) <= (8.0 + 3.0 * tolerance.profile) ** 2))


def is_drawn_with(strip: FloatArray, profile: FloatArray, tolerance: Tolerance) -> bool:
    """Say whether a strip shows a part of a bar's colours only, so that it belongs to the picture."""
    return has_colors_of(strip, profile, tolerance) > 0.9 and has_colors_of(profile, strip, tolerance) < 0.85
