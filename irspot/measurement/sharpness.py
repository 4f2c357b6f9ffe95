"""Blur estimated from the sharpest edges of a frame: the board's outline, packages, whatever ends abruptly.

An edge blurred by a Gaussian of standard deviation s rises from a quarter to three quarters of its height over 1.349 s.
Heat spreads as well, so that most edges are wider than the lens makes them: the sharpest ones count.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.measurement.spot_size import PIXEL_VARIANCE_PX2
from irspot.opencv import load_cv2

F32 = NDArray[np.float32]
FloatArray = NDArray[np.floating[Any]]

_REACH_PX: Final = 9.0
_STEP_PX: Final = 0.25
_MOST: Final = 3000
"""Edges looked at, the steepest ones."""
_FEWEST: Final = 60
_STRONG: Final = 25.0
"""Height of an edge in standard deviations of a pixel, at least."""
_AGAIN: Final = 0.08
"""Share of an edge's height by which the temperature may turn round before its end is taken to be reached."""
_SHARPEST: Final = 0.1
"""Quantile of the widths: below it lie the sharp edges, and what noise makes of them."""
_WIDEST_PX: Final = 6.5
"""Edges wider than this are slopes: one that goes on as far as is looked has half of that."""
_QUARTERS: Final = 1.3489795
"""From a quarter to three quarters of a normal distribution, in its standard deviations."""
_INTERPOLATION_PX2: Final = 1.0 / 6.0
"""Variance that linear interpolation between pixels adds."""


@dataclass(frozen=True, slots=True)
class EdgeBlur:
    """What a frame's edges say about blur.

    Parameters
    ----------
    blur_px : float
        Standard deviation of the point spread that the sharpest edges would have; heat that spreads is part of it.
    edges : int
        Places along edges that were used.
    """

    blur_px: float
    edges: int


def edge_blur(degc: F32, noise_k: float) -> EdgeBlur | None:
    """Estimate blur.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        NaN where nothing was measured.
    noise_k : float
        Standard deviation of one pixel.

    Returns
    -------
    EdgeBlur or None
        None where too few edges stand out.
    """
    places, normals = _edge_places(degc, noise_k)
    return _sharpest(_profiles(degc, places, normals), noise_k)


def outline_blur(degc: F32, noise_k: float, border_px: FloatArray) -> EdgeBlur | None:
    """Estimate blur at an edge of known place that is abrupt in truth: a board's outline before the bench.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
    noise_k : float
    border_px : ndarray, shape (n, 2)
        Points along the closed edge, about a pixel apart; it may lie off by a pixel or two.

    Returns
    -------
    EdgeBlur or None
        None where too little of it stands out.
    """
    along = np.roll(border_px, -1, axis=0) - np.roll(border_px, 1, axis=0)
    length = np.hypot(*along.T)
    size = np.array(degc.shape[::-1])
    fits = (length > 0.0) & np.all((border_px > _REACH_PX) & (border_px < size - 1 - _REACH_PX), axis=1)
    normals = np.column_stack([-along[:, 1], along[:, 0]])[fits] / length[fits, None]
    return _sharpest(_uphill(_profiles(degc, border_px[fits], normals)), noise_k)


def _uphill(profile: FloatArray) -> FloatArray:
    """Turn profiles so that they run towards the hotter side."""
    with np.errstate(invalid="ignore"):
        falls = profile[:, -1] < profile[:, 0]
    return np.where(falls[:, None], profile[:, ::-1], profile)


def _sharpest(profile: FloatArray, noise_k: float) -> EdgeBlur | None:
    if len(profile) < _FEWEST:
        return None
    widths = _widths(profile, noise_k)
    widths = widths[np.isfinite(widths)]
    if len(widths) < _FEWEST:
        return None
    variance = (float(np.quantile(widths, _SHARPEST)) / _QUARTERS) ** 2 - _INTERPOLATION_PX2 - PIXEL_VARIANCE_PX2
    return EdgeBlur(float(np.sqrt(max(variance, 0.0))), len(widths))


def _edge_places(degc: F32, noise_k: float) -> tuple[FloatArray, FloatArray]:
    """Pixels at which the slope is largest across an edge, and the directions across."""
    cv2 = load_cv2()
    slope_x, slope_y = (cv2.Sobel(degc, cv2.CV_32F, *order, ksize=3, scale=0.125) for order in ((1, 0), (0, 1)))
    steep = cv2.magnitude(slope_x, slope_y)
    steep[~np.isfinite(steep)] = 0.0
    margin = int(_REACH_PX) + 1
    inner = steep[margin:-margin, margin:-margin]
    strong = inner > max(_STRONG * noise_k / _REACH_PX, 0.0)
    if np.count_nonzero(strong) > 8 * _MOST:
        strong &= inner >= np.partition(inner[strong], -8 * _MOST)[-8 * _MOST]
    row, column = (places + margin for places in np.divmod(np.flatnonzero(strong), max(inner.shape[1], 1)))
    size = steep[row, column]
    normal = np.stack([slope_x[row, column], slope_y[row, column]], axis=1) / size[:, None]
    step = np.rint(normal).astype(np.intp)
    top = (size >= steep[row + step[:, 1], column + step[:, 0]]) & (size > steep[row - step[:, 1], column - step[:, 0]])
    order = np.argsort(-size[top], kind="stable")[:_MOST]
    places = np.stack([column[top], row[top]], axis=1)[order]
    return places.astype(np.float64), normal[top][order].astype(np.float64)


def _profiles(degc: F32, places: FloatArray, normals: FloatArray) -> FloatArray:
    """Temperatures along each normal, from cold to hot, shape (edges, steps)."""
    along = np.arange(-_REACH_PX, _REACH_PX + _STEP_PX / 2.0, _STEP_PX)
    if not len(places):
        return np.empty((0, len(along)))
    x, y = ((places[:, [axis]] + along * normals[:, [axis]]).astype(np.float32) for axis in (0, 1))
    cv2 = load_cv2()
    return np.asarray(cv2.remap(degc, x, y, cv2.INTER_LINEAR), np.float64)


def _widths(profile: FloatArray, noise_k: float) -> FloatArray:
    """Distance from a quarter to three quarters of each edge's height; NaN where it does not stand out."""
    middle = profile.shape[1] // 2
    high = _end(profile[:, middle:])
    low = -_end(-profile[:, middle::-1])
    height = high - low
    quarter, three = (_crossing(profile, low + share * height, middle) for share in (0.25, 0.75))
    width = (three - quarter) * _STEP_PX
    return np.where((height > _STRONG * noise_k) & (width < _WIDEST_PX), width, np.nan)


def _end(rising: FloatArray) -> FloatArray:
    """Highest value of each row before it turns round."""
    peak = np.maximum.accumulate(rising, axis=1)
    height = peak[:, -1:] - rising[:, :1]
    with np.errstate(invalid="ignore"):
        turned = peak - rising > _AGAIN * height
    last = np.where(turned.any(axis=1), turned.argmax(axis=1), rising.shape[1]) - 1
    return np.asarray(peak[np.arange(len(peak)), np.maximum(last, 0)])


def _crossing(profile: FloatArray, level: FloatArray, middle: int) -> FloatArray:
    """Place, in steps, at which each row crosses a level next to its middle; NaN where it does not."""
    above = profile > level[:, None]
    steps = np.arange(profile.shape[1] - 1)
    crosses = above[:, 1:] & ~above[:, :-1]
    distance = np.where(crosses, np.abs(steps - middle), profile.shape[1])
    at = distance.argmin(axis=1)
    row = np.arange(len(profile))
    low, high = profile[row, at], profile[row, at + 1]
    with np.errstate(invalid="ignore", divide="ignore"):
        place = at + (level - low) / (high - low)
    return np.where(crosses.any(axis=1), place, np.nan)
