"""The colours along a bar that went through a lossy coding: its blocks' errors smoothed away, its corners kept."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.bar_levels import Levels

FloatArray = NDArray[np.float64]

_PENALTY = 20.0
"""Of a change of slope, for noise of one unit. Measured on 11 maps at JPEG qualities 70 to 95: half or twice this
raises the error of the path by a tenth, more for maps with corners."""
_CORNER = 0.03
"""Changes of slope far below this, in units a pixel, are left to smoothness."""
_ROUNDS = 12
_LUMA_TRUST = (0.3, 0.6)
_CHROMA_TRUST = (0.0, 1.0)
_SHARED_TRUST = (0.0, 0.5)
"""How much the outermost colours at either end count: beyond lies a border or something else that shines in. On bars
of 9 maps with white, black and no border, chroma at the ends then is off by 1.7 at quality 85 and 2.5 at quality 70."""
_STIFF_PX = 12.0
_FEWEST_COLORS = 8
_FEWEST_PX = 6
"""Pixels a step of the bar has to be wide to be told from noise."""
_UNEVEN = 0.75
"""Median against mean change from pixel to pixel, above which a bar runs smoothly: wide steps mostly stand still."""
_FLAT = 0.4
"""Slope left within the supposed steps, against the bar's mean slope, below which they are taken as real."""


def lossy_levels(colors: FloatArray, *, chroma_shared: bool) -> tuple[Levels, float]:
    """Place the colours of a bar that went through a lossy coding.

    Parameters
    ----------
    colors : ndarray, shape (n, 3)
        Luma and chroma, one for each pixel along the bar, from low to high.
    chroma_shared : bool
        Whether neighbouring pixels share their chroma, so that it is mixed with what lies beyond the ends.

    Returns
    -------
    levels : Levels
    noise : float
        Standard deviation of a pixel's colour along the bar, per channel.
    """
    steps = _steps_seen(colors)
    if steps:
        return _stepped(colors, steps)
    noise = _noise(colors, smoothed(colors, _LUMA_TRUST, _PENALTY))
    penalty = _PENALTY * max(noise, 0.25)
    smooth = smoothed(colors, _LUMA_TRUST, penalty)
    trust = _SHARED_TRUST if chroma_shared else _CHROMA_TRUST
    smooth[:, 1:] = smoothed(colors, trust, penalty, stiffer=3.0 if chroma_shared else 1.0)[:, 1:]
    count = len(colors)
    # Eight bits of red, green and blue are drawn from 256 colours as a rule.
    widths = np.full(count, 1.0 / min(count, 256))
    return Levels((np.arange(count) + 0.5) / count, smooth, widths), _noise(colors, smooth)


def _noise(colors: FloatArray, smooth: FloatArray) -> float:
    return float(np.median(np.linalg.norm(colors - smooth, axis=1)) / 1.54)  # median of a chi of three


def smoothed(colors: FloatArray, end_trust: tuple[float, ...], penalty: float, *, stiffer: float = 1.0) -> FloatArray:
    """Fit a line of colours that is straight but for few corners (trend filtering, all channels bending together).

    Minimises ``sum trust |x - c|^2 + penalty * sum |second difference of x|`` by iteratively reweighted least squares,
    after Kim, Koh, Boyd and Gorinevsky (2009), l1 trend filtering, SIAM Review 51(2), 339-360.

    Parameters
    ----------
    colors : ndarray, shape (n, 3)
    end_trust : tuple of float
        Weights of the outermost colours at either end; those of all others are 1.
    penalty : float
    stiffer : float
        Factor on the penalty at the very ends, where bends are more likely the coding's than the bar's.

    Returns
    -------
    ndarray, shape (n, 3)
    """
    from scipy.linalg.lapack import dpbsv

    count = len(colors)
    if count < _FEWEST_COLORS:
        return colors.copy()
    trust = np.ones(count)
    trust[: len(end_trust)], trust[count - len(end_trust) :] = end_trust, end_trust[::-1]
    from_end = np.minimum(np.arange(count - 2), np.arange(count - 2)[::-1])
    stiff = penalty * (1.0 + (stiffer - 1.0) * np.clip(1.0 - from_end / _STIFF_PX, 0.0, 1.0))
    bends = np.ones(count - 2)
    smooth = colors
    for _ in range(_ROUNDS):
        weight = stiff * bends
        # Each second difference has the kernel (1, -2, 1); what is summed are its products with itself.
        bands = np.zeros((3, count))
        bands[0] = trust + 1e-9
        bands[0, :-2] += weight
        bands[0, 1:-1] += 4.0 * weight
        bands[0, 2:] += weight
        bands[1, :-2] -= 2.0 * weight
        bands[1, 1:-1] -= 2.0 * weight
        bands[2, :-2] = weight
        smooth = np.asarray(dpbsv(bands, trust[:, None] * colors, lower=1)[1])
        second = smooth[2:] - 2.0 * smooth[1:-1] + smooth[:-2]
        bends = 1.0 / np.sqrt(np.sum(second**2, axis=1) + _CORNER**2)
    return smooth


def _steps_seen(colors: FloatArray) -> int:
    """Find how many equal steps a bar shows; 0 where it runs smoothly, or in steps too fine to be told."""
    length = len(colors)
    pace = np.linalg.norm(np.diff(colors, axis=0), axis=1)
    if np.median(pace) > _UNEVEN * np.mean(pace):
        return 0
    found, least = 0, _FLAT
    for steps in range(3, length // _FEWEST_PX + 1):
        left = _slope_left(colors, steps)
        if left < least:
            found, least = steps, left
    return found


def _slope_left(colors: FloatArray, steps: int) -> float:
    """Change of colour across the inner halves of the supposed steps, against what an even slope would give."""
    edges = np.arange(steps) * len(colors) / steps
    width = len(colors) / steps
    first, second = (_means(colors, edges + a * width, 0.25 * width) for a in (0.25, 0.5))
    middle = (first + second) / 2.0
    step = np.linalg.norm(np.diff(middle, axis=0), axis=1)
    left = np.linalg.norm(second - first, axis=1)
    return float(np.mean(left) / max(0.25 * float(np.mean(step)), 0.5))


def _means(colors: FloatArray, starts: FloatArray, width: float) -> FloatArray:
    first = np.rint(starts).astype(np.intp)
    last = np.maximum(np.rint(starts + width).astype(np.intp), first + 1)
    total = np.concatenate([np.zeros((1, 3)), np.cumsum(colors, axis=0)])
    return np.asarray((total[last] - total[first]) / (last - first)[:, None])


def _stepped(colors: FloatArray, steps: int) -> tuple[Levels, float]:
    width = len(colors) / steps
    middles = _means(colors, (np.arange(steps, dtype=np.float64) + 0.25) * width, 0.5 * width)
    index = np.minimum((np.arange(len(colors)) + 0.5) / width, steps - 1).astype(np.intp)
    noise = _noise(colors, middles[index])
    return Levels((np.arange(steps) + 0.5) / steps, middles, np.full(steps, 1.0 / steps)), noise
