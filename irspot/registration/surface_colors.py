"""The colour of one surface in a photo, such as the bench's or the solder mask's, in light and in shadow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2
from irspot.photo import Rgb

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

_SMOOTHED_PX: Final = 1.2
_MOST_SAMPLES: Final = 4000
_BIN: Final = 16
"""Width of the bins among which the commonest colour is found; colours run from 0 to 255."""
_START_SPREAD: Final = 20.0
_LEAST_SPREAD: Final = 2.5
_LEAST_SPREAD_DIMMED: Final = 2.0
_STEPS: Final = 8
_WITHIN: Final = 3.0
_SPREAD_OF_CUT: Final = 1.3
"""Spreads estimated from what lies near are made up for the part that was cut off."""
_FEWEST: Final = 0.05
"""Share of the samples that has to be near for a spread to be estimated from it."""
_DARKEST_SHADOW: Final = 0.2
"""Share of the light that the deepest shadow leaves; what is darker, and what is brighter, is another surface."""
_RIDGE: Final = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class SurfaceColor:
    """The commonest colour of a part of a photo, which may brighten evenly from one side to the other.

    Parameters
    ----------
    plane : ndarray, shape (3, 3)
        Constant, change to the right, change downwards (rows) of red, green, blue (columns); places run from -1 to 1.
    spread : ndarray, shape (3,)
        Standard deviation of red, green and blue.
    size_px : tuple of int
        ``(columns, rows)`` of the photo.
    """

    plane: FloatArray
    spread: FloatArray
    size_px: tuple[int, int]

    def apart(self, colors: NDArray[np.floating], x: NDArray[np.floating], y: NDArray[np.floating]) -> F32:
        """How far colours are from the surface's, in its spreads.

        A shadow dims red, green and blue alike: a colour counts by how far it is from the nearest shade. So a neutral
        board does not show on a neutral bench that is brighter.

        Parameters
        ----------
        colors : ndarray, shape (..., 3)
        x, y : ndarray, shape (...)
            Their places, px.
        """
        left, shade = self._left(colors, x, y)
        scale = np.maximum(shade * self.spread.astype(np.float32), np.float32(_LEAST_SPREAD_DIMMED))
        return np.asarray(np.sqrt(np.sum((left / scale) ** 2, axis=-1)), np.float32)

    def apart_everywhere(self, smooth: F32) -> F32:
        """The same of every pixel, shape (rows, columns)."""
        rows, columns = smooth.shape[:2]
        return self.apart(smooth, np.arange(float(columns)), np.arange(float(rows))[:, None])

    def tint_everywhere(self, smooth: F32) -> F32:
        """How much of every pixel's colour is no shade of the surface's, 0 to 255: a blurred border has half of it."""
        rows, columns = smooth.shape[:2]
        left, _ = self._left(smooth, np.arange(float(columns)), np.arange(float(rows))[:, None])
        return np.asarray(np.sqrt(np.sum(left**2, axis=-1)), np.float32)

    def _left(self, colors: NDArray[np.floating], x: NDArray[np.floating], y: NDArray[np.floating]) -> tuple[F32, F32]:
        """What the nearest shade of the surface leaves of colours, and that shade."""
        columns, rows = self.size_px
        right = np.asarray(2.0 * x / max(1, columns - 1) - 1.0, np.float32)[..., None]
        down = np.asarray(2.0 * y / max(1, rows - 1) - 1.0, np.float32)[..., None]
        constant, per_right, per_down = self.plane.astype(np.float32)
        lit = constant + right * per_right + down * per_down
        bright = np.maximum(np.sum(lit * lit, axis=-1, keepdims=True), 1.0)
        shade = np.clip(np.sum(colors * lit, axis=-1, keepdims=True) / bright, _DARKEST_SHADOW, 1.0)
        return np.asarray(colors - shade * lit, np.float32), np.asarray(shade, np.float32)


def smoothed(rgb: Rgb) -> F32:
    """Take noise and fine print out of a photo, shape (rows, columns, 3)."""
    return np.asarray(load_cv2().GaussianBlur(rgb.astype(np.float32), (0, 0), _SMOOTHED_PX))


def color_of_surface(smooth: F32, where: Bool) -> SurfaceColor:
    """Find the commonest colour of a part of a photo; other things that lie there are left out.

    Parameters
    ----------
    smooth : ndarray of float32, shape (rows, columns, 3)
    where : ndarray of bool, shape (rows, columns)
    """
    rows, columns = smooth.shape[:2]
    y, x = np.nonzero(where)
    step = max(1, len(x) // _MOST_SAMPLES)
    y, x = y[::step], x[::step]
    places = np.column_stack([np.ones(len(x)), 2.0 * x / max(1, columns - 1) - 1.0, 2.0 * y / max(1, rows - 1) - 1.0])
    colors = smooth[y, x].astype(np.float64)
    plane = np.zeros((3, 3))
    plane[0] = _commonest(colors)
    spread = np.full(3, _START_SPREAD)
    for _ in range(_STEPS):
        weight = np.exp(-np.sum(((colors - places @ plane) / spread) ** 2, axis=1) / 6.0)
        weighted = (places * weight[:, None]).T
        ridge = np.diag([1e-9, 1.0, 1.0]) * _RIDGE * len(colors)
        plane = np.linalg.solve(weighted @ places + ridge, weighted @ colors)
        left = colors - places @ plane
        near = np.sum((left / spread) ** 2, axis=1) < _WITHIN**2
        if near.mean() < _FEWEST:
            break
        spread = np.maximum(_LEAST_SPREAD, 1.4826 * _SPREAD_OF_CUT * np.median(np.abs(left[near]), axis=0))
    return SurfaceColor(plane, spread, (columns, rows))


def _commonest(colors: FloatArray) -> FloatArray:
    bins = np.clip(colors / _BIN, 0, 255 // _BIN).astype(np.intp)
    key = (bins[:, 0] * _BIN + bins[:, 1]) * _BIN + bins[:, 2]
    return np.asarray(colors[key == np.bincount(key).argmax()].mean(axis=0))
