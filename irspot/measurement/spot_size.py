"""How much of a small hot feature's height blur hides, from its width and curvature in the frame.

A feature that blur has widened is taken, along each of two directions, for an edge-to-edge width L smeared by a
Gaussian of standard deviation s: between a package with sharp edges (s is the blur) and heat without an edge (L is
nothing). Its full width at half height and its curvature give both; undoing the blur leaves a sharper one, whose summit
is higher by the ratio of the two summits, erf(L / (2 √2 s)).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.constants import FEW_PIXELS_ACROSS, GOOD_PIXELS_ACROSS
from irspot.measurement.hot_width import Across, HotWidth
from irspot.measurement.normal import normal_cdf

FloatArray = NDArray[np.float64]

PIXEL_VARIANCE_PX2: Final = 1.0 / 12.0
"""Of the mean over a pixel's own width."""
GOOD_BLURS: Final = 6.0
"""A feature so wide, and `GOOD_PIXELS_ACROSS`, reads rightly."""
LEAST_BLURS: Final = 4.0
"""One that is narrower, or than `FEW_PIXELS_ACROSS`, gives a lower bound only."""
U_SHARE: Final = 0.3
"""Standard uncertainty of a correction, as a share of it: features have other shapes than those assumed."""
_NEWTON_STEPS: Final = 3
"""From the first guess, after which widths are within 1e-11."""
_SQRT_2: Final = math.sqrt(2.0)


@dataclass(frozen=True, slots=True)
class SpotSize:
    """What blur hides of a maximum.

    Parameters
    ----------
    width_px : float
        Of the feature, in its narrowest direction.
    blurs : float
        The same in standard deviations of blur and pixel together.
    hidden_k : float
        By how much the maximum reads too low, as radiance temperature; infinite where the feature is no wider than the
        blur itself.
    """

    width_px: float
    blurs: float
    hidden_k: float

    @property
    def good(self) -> bool:
        """Whether the feature is wide enough to be read as it is."""
        return self.width_px >= GOOD_PIXELS_ACROSS and self.blurs >= GOOD_BLURS

    @property
    def enough(self) -> bool:
        """Whether it is wide enough to be corrected."""
        return self.width_px >= FEW_PIXELS_ACROSS and self.blurs >= LEAST_BLURS and bool(np.isfinite(self.hidden_k))


def spot_size(found: HotWidth, blur_px: float) -> SpotSize:
    """Say how much of a feature blur hides.

    Parameters
    ----------
    found : HotWidth
    blur_px : float
        Standard deviation of the point spread.

    Returns
    -------
    SpotSize
    """
    sigma = float(np.hypot(blur_px, np.sqrt(PIXEL_VARIANCE_PX2)))
    hidden = _hidden_k(found.narrow, sigma) + _hidden_k(found.other, sigma)
    return SpotSize(found.narrow.width_px, found.narrow.width_px / sigma, hidden)


def _hidden_k(across: Across, sigma_px: float) -> float:
    if across.height_k <= 0.0:
        return 0.0
    curved = across.curvature_k / across.height_k * across.width_px**2
    return across.height_k * (summit_ratio(across.width_px / sigma_px, curved) - 1.0)


def summit_ratio(width_blurs: float, curved: float) -> float:
    """Height of a feature without blur against its height with it, along one direction.

    Parameters
    ----------
    width_blurs : float
        Full width at half height, in standard deviations of the blur.
    curved : float
        Curvature at the summit, times the width squared, over the height: 0 for an even top, 8 ln 2 for a Gaussian.

    Returns
    -------
    float
        At least 1; infinite where blur alone would make it as wide.

    Examples
    --------
    >>> round(summit_ratio(4.0, 8.0 * np.log(2.0)), 3)  # a Gaussian of 4 blurs: 1 / √(1 - 8 ln 2 / 16)
    1.237
    """
    table = _table()
    # Curvature falls as the edge-to-edge width grows.
    edge = float(np.interp(curved, table.curved[::-1], table.edge[::-1]))
    smear = width_blurs / float(np.interp(edge, table.edge, table.width))
    width = edge * smear
    left = smear * smear - 1.0
    if left <= 0.0:
        if width_blurs <= table.width[0] * (1.0 + 1e-3):
            return float("inf")
        # As sharp as blur allows: edges that were sharp.
        return 1.0 / float(np.interp(np.interp(width_blurs, table.width, table.edge), table.edge, table.summit))
    return _summit(width / float(np.sqrt(left))) / float(np.interp(edge, table.edge, table.summit))


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """Of edge-to-edge widths smeared by 1: full widths, summits, and curvature times width squared over summit."""

    edge: FloatArray
    width: FloatArray
    summit: FloatArray
    curved: FloatArray


@lru_cache(maxsize=1)
def _table() -> _Table:
    edge = np.linspace(1e-3, 14.0, 1400)
    summit = np.array([_summit(each) for each in edge])
    half_width = np.sqrt(2.0 * np.log(2.0) + edge * edge / 4.0)  # right for no edges and for distant ones
    for _ in range(_NEWTON_STEPS):
        right, left = half_width + edge / 2.0, half_width - edge / 2.0
        above = normal_cdf(right) - normal_cdf(left) - 0.5 * summit
        slope = (np.exp(-right * right / 2.0) - np.exp(-left * left / 2.0)) / np.sqrt(2.0 * np.pi)
        half_width = half_width - above / slope
    width = 2.0 * half_width
    curvature = edge * np.exp(-edge * edge / 8.0) / np.sqrt(2.0 * np.pi) / summit
    return _Table(edge, width, summit, curvature * width * width)


def _summit(edge: float) -> float:
    return math.erf(edge / (2.0 * _SQRT_2))
