"""How wide the hot feature under a maximum is, and how sharply it is curved: what decides how much of it blur hides."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2

F32 = NDArray[np.float32]
FloatArray = NDArray[np.floating[Any]]

REACH_PX: Final = 16.0
"""How far around a maximum is looked; a feature that does not end within is wide enough for anything."""
_STEP_PX: Final = 0.25
_RAYS: Final = 16
_LEAST_DROP: Final = 12.0
"""Standard deviations of a pixel by which a feature stands out at least; a flatter one has no width."""
_RISE: Final = (4.0, 0.15)
"""What ends a feature: a rise by so many standard deviations, and by such a share of the fall before it."""
_SAME_SIGMAS: Final = 4.0
_SAME_SHARE: Final = 0.03
"""How much cooler the middle of an even top may be than its hottest pixel: noise of the hottest of many, a little."""
_NARROWEST_PX: Final = 1.5
_FWHM: Final = 2.0 * float(np.sqrt(2.0 * np.log(2.0)))
"""Full width at half height of a Gaussian, in its standard deviations."""


@dataclass(frozen=True, slots=True)
class Across:
    """A hot feature along one line through its maximum.

    Parameters
    ----------
    width_px : float
        Full width at half of its height; twice `REACH_PX` where it does not end.
    height_k : float
        Of the maximum above what lies around; 0 where it does not end.
    curvature_k : float
        Minus the second derivative at the maximum, K per px²; 0 where that is no summit.
    """

    width_px: float
    height_k: float
    curvature_k: float


@dataclass(frozen=True, slots=True)
class HotWidth:
    """A hot feature in its narrowest direction and at right angles to that."""

    narrow: Across
    other: Across


def hot_width(values: F32, row: int, column: int, noise_k: float) -> HotWidth:
    """Measure the feature around a maximum.

    A feature with an even top may be hottest at its rim by noise: it is measured from its middle where that is as hot.
    Along sixteen rays the temperature falls to the level around the feature; half way down lies its
    edge. Curvatures are those of a second-order surface through the 3 × 3 pixels, made up for what differences over
    whole pixels miss of a Gaussian of that width.

    Parameters
    ----------
    values : ndarray of float32, shape (rows, columns)
        Temperatures; finite around the maximum. Where they are NaN a feature ends.
    row, column : int
        The hottest pixel.
    noise_k : float
        Standard deviation of one pixel.

    Returns
    -------
    HotWidth
    """
    reach_px, drop_k = _edges(values, row, column, noise_k)
    middle = _middle(values, row, column, float(drop_k.max()), noise_k)
    if middle != (row, column):
        row, column = middle
        reach_px, drop_k = _edges(values, row, column, noise_k)
    opposite = _RAYS // 2
    width = reach_px[:opposite] + reach_px[opposite:]
    height = 0.5 * (drop_k[:opposite] + drop_k[opposite:])
    first = int(np.argmin(width))
    second = (first + opposite // 2) % opposite
    bends = _bends(values, row, column, np.pi * first / opposite, (float(width[first]), float(width[second])))
    narrow, other = (
        Across(float(width[k]), float(height[k]), bend) for k, bend in zip((first, second), bends, strict=True)
    )
    return HotWidth(narrow, other)


def _middle(values: F32, row: int, column: int, height: float, noise_k: float) -> tuple[int, int]:
    """Pixel furthest from the rim of what is above half of the feature's height, if it is as hot as the maximum."""
    cv2 = load_cv2()
    reach = int(REACH_PX)
    row0, column0 = max(row - reach, 0), max(column - reach, 0)
    part = values[row0 : row + reach + 1, column0 : column + reach + 1]
    if height <= 0.0:
        return row, column
    with np.errstate(invalid="ignore"):
        high = (part > part[row - row0, column - column0] - 0.5 * height).astype(np.uint8)
    own = cv2.connectedComponents(high, connectivity=4)[1]
    inside = (own == own[row - row0, column - column0]).astype(np.uint8)
    if inside.all():
        return row, column
    # What goes on beyond the part that is looked at does not end at its border.
    depth = cv2.distanceTransform(cv2.copyMakeBorder(inside, 1, 1, 1, 1, cv2.BORDER_REPLICATE), cv2.DIST_L2, 5)
    depth = depth[1:-1, 1:-1]
    deepest = np.argwhere(depth > depth.max() - 0.5)
    near = deepest[np.hypot(*(deepest - deepest.mean(axis=0)).T).argmin()]
    middle = int(near[0]) + row0, int(near[1]) + column0
    lower = float(values[row, column]) - _mean_around(values, *middle)
    return middle if lower <= max(_SAME_SIGMAS * noise_k, _SAME_SHARE * height) else (row, column)


def _mean_around(values: F32, row: int, column: int) -> float:
    block = values[max(row - 1, 0) : row + 2, max(column - 1, 0) : column + 2]
    return float(np.nanmean(block)) if np.isfinite(block).any() else float("-inf")


def _edges(values: F32, row: int, column: int, noise_k: float) -> tuple[FloatArray, FloatArray]:
    """Distance of the half height along each ray, and how far the temperature falls along it."""
    along = _profiles(values, row, column)
    unknown = np.isnan(along)
    along = np.where(unknown, along[:, :1], along)
    lowest = np.minimum.accumulate(along, axis=1)
    fall = along[:, :1] - lowest
    again = unknown | (along - lowest > np.maximum(_RISE[0] * noise_k, _RISE[1] * fall))
    ends = np.where(again.any(axis=1), np.maximum(again.argmax(axis=1), 1), along.shape[1])
    drop = fall[np.arange(_RAYS), ends - 1]
    half = along[:, :1] - 0.5 * drop[:, None]
    at = (along < half).argmax(axis=1)
    ray = np.arange(_RAYS)
    above, below = along[ray, at - 1], along[ray, at]
    share = (above - half[:, 0]) / np.maximum(above - below, 1e-9)
    flat = drop < max(_LEAST_DROP * noise_k, 1e-3)
    distance = np.where(flat, REACH_PX, (at - 1 + share) * _STEP_PX)
    return distance, np.where(flat, 0.0, drop)


@lru_cache(maxsize=1)
def _offsets() -> tuple[F32, F32]:
    distance = np.arange(0.0, REACH_PX + _STEP_PX / 2.0, _STEP_PX)
    angle = 2.0 * np.pi * np.arange(_RAYS)[:, None] / _RAYS
    return (distance * np.cos(angle)).astype(np.float32), (distance * np.sin(angle)).astype(np.float32)


def _profiles(values: F32, row: int, column: int) -> FloatArray:
    """Temperatures along the rays, lightly smoothed; the innermost half pixel counts as the maximum."""
    cv2 = load_cv2()
    reach = int(REACH_PX) + 2
    row0, column0 = max(row - reach, 0), max(column - reach, 0)
    part = np.ascontiguousarray(values[row0 : row + reach + 1, column0 : column + reach + 1])
    kernel = np.array([[-1.0, 2.0, -1.0], [2.0, 5.0, 2.0], [-1.0, 2.0, -1.0]], np.float32) / np.float32(9.0)
    smooth = cv2.filter2D(part, -1, kernel, borderType=cv2.BORDER_REPLICATE)
    dx, dy = _offsets()
    x, y = dx + np.float32(column - column0), dy + np.float32(row - row0)
    along = cv2.remap(smooth, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    inner = int(1.0 / _STEP_PX)
    along[:, :inner] = np.maximum(along[:, :inner], along[:, : inner + 1].max())
    return np.asarray(along, np.float64)


def _bends(values: F32, row: int, column: int, angle: float, width_px: tuple[float, float]) -> tuple[float, float]:
    """Curvatures along a direction and at right angles to it; 0 at the frame's border and where there is no summit."""
    block = values[row - 1 : row + 2, column - 1 : column + 2].astype(np.float64) if row and column else np.empty(0)
    if block.shape != (3, 3) or not np.isfinite(block).all():
        return 0.0, 0.0
    columns, rows = block.sum(axis=0), block.sum(axis=1)
    bend_x, bend_y = (float(sums[0] - 2.0 * sums[1] + sums[2]) / 3.0 for sums in (columns, rows))
    twist = float(block[0, 0] + block[2, 2] - block[0, 2] - block[2, 0]) / 4.0
    cos, sin = float(np.cos(angle)), float(np.sin(angle))
    along = bend_x * cos * cos + bend_y * sin * sin + 2.0 * twist * cos * sin
    across = bend_x + bend_y - along
    one, other = (max(px, _NARROWEST_PX) / _FWHM for px in width_px)
    return max(-along, 0.0) * _missed(one, other), max(-across, 0.0) * _missed(other, one)


def _missed(sigma: float, across_sigma: float) -> float:
    """What the curvature of a Gaussian is, against what 3 × 3 pixels show of it."""
    shown = 2.0 * (1.0 - np.exp(-0.5 / sigma**2)) * (1.0 + 2.0 * np.exp(-0.5 / across_sigma**2)) / 3.0
    return float(1.0 / (sigma**2 * shown))
