"""Dead pixels: those the camera file declares, and those that betray themselves.

A lens spreads every point of heat over several pixels, so a *single* pixel that stands out alone is the sensor's doing.
How alone is too alone follows from the point spread: a Gaussian of standard deviation s px, centred on a pixel, puts
``r = exp(-1 / (2 s²))`` of the pixel's excess on its four neighbours and r² on the diagonal ones. So for real heat the
pixel exceeds its hottest neighbour by at most ``A (1 - r)`` while the neighbours spread over ``A (r - r²)`` or more::

    centre - hottest neighbour  <=  (hottest neighbour - coldest neighbour) / r

Heat off the centre, lines, edges and slopes all raise a neighbour and stay further on the safe side. Pixels of two or
more dead ones together are not found, nor those that stand out by less than a kelvin. Cold pixels mirror hot ones.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

BoolArray = NDArray[np.bool_]
Float32Array = NDArray[np.float32]

SHARPEST_PX: Final = 0.5
"""No lens is taken to spread a point by less than this standard deviation, whatever its file says."""
_DECLARED_SHARE: Final = 0.8
"""A declared point spread is trusted to this share: focus may be better than it was when measured."""
_MARGIN: Final = 1.3
"""On top of the ratio above, for noise in the neighbours."""
_NOISE: Final = 8.0
"""And this many times the noise of a pixel."""
_LEAST_K: Final = 1.0
"""A pixel out by less does no harm worth the risk (coarsely stepped frames would look full of them)."""
_LEAST_NEIGHBOURS: Final = 5


def declared_dead(dead_px: tuple[tuple[int, int], ...], shape: tuple[int, int]) -> BoolArray:
    """Mark the declared dead pixels of a frame.

    Parameters
    ----------
    dead_px : tuple of (int, int)
        ``(x, y)``; those outside the frame are of no account.
    shape : tuple of int
        ``(rows, columns)``.
    """
    dead = np.zeros(shape, dtype=bool)
    for x, y in dead_px:
        if 0 <= y < shape[0] and 0 <= x < shape[1]:
            dead[y, x] = True
    return dead


def found_dead(
    radiance_degc: Float32Array, sound: BoolArray, *, noise_k: float, blur_px: float | None = None
) -> BoolArray:
    """Find single pixels far from what their neighbours and the optics allow.

    Parameters
    ----------
    radiance_degc : ndarray of float32, shape (rows, columns)
    sound : ndarray of bool, that shape
        False for pixels known to hold no temperature; they neither count as found nor as neighbours.
    noise_k : float
        Standard deviation of one pixel.
    blur_px : float, optional
        Standard deviation of the point spread; at least half a pixel is assumed.

    Returns
    -------
    ndarray of bool, that shape
    """
    lowest, highest = _neighbours(radiance_degc, sound)
    with np.errstate(invalid="ignore", over="ignore"):
        least = max(_LEAST_K, _NOISE * noise_k) + (highest - lowest) * np.float32(_allowed_ratio(blur_px))
        alone = (radiance_degc - highest > least) | (lowest - radiance_degc > least)
    alone &= sound
    _drop_with_few_neighbours(alone, sound)
    return alone


def _allowed_ratio(blur_px: float | None) -> float:
    spread = max(SHARPEST_PX, _DECLARED_SHARE * (blur_px or 0.0))
    return _MARGIN / float(np.exp(-1.0 / (2.0 * spread * spread)))


def _neighbours(radiance_degc: Float32Array, sound: BoolArray) -> tuple[Float32Array, Float32Array]:
    """Lowest and highest of the eight neighbours that are sound."""
    import cv2

    ring = np.array([[1, 1, 1], [1, 0, 1], [1, 1, 1]], dtype=np.uint8)
    low_filled = high_filled = radiance_degc
    if not sound.all():
        low_filled = np.where(sound, radiance_degc, np.float32(np.inf))
        high_filled = np.where(sound, radiance_degc, np.float32(-np.inf))
    # OpenCV's default border takes no part in either.
    return _float32(cv2.erode(low_filled, ring)), _float32(cv2.dilate(high_filled, ring))


def _float32(array: Any) -> Float32Array:
    return np.asarray(array, dtype=np.float32)


def _drop_with_few_neighbours(alone: BoolArray, sound: BoolArray) -> None:
    """Say nothing about pixels in a corner or among many that are not sound: too little to go by."""
    for row, column in np.argwhere(alone):
        around = sound[max(row - 1, 0) : row + 2, max(column - 1, 0) : column + 2]
        if int(around.sum()) - 1 < _LEAST_NEIGHBOURS:
            alone[row, column] = False
