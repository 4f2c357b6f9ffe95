"""Dead pixels: those the camera file declares, and those that betray themselves.

A lens spreads every point of heat over several pixels, so a *single* pixel that stands out alone is the sensor's doing.
How alone is too alone follows from the point spread: a Gaussian of standard deviation s px, centred on a pixel, puts
``r = exp(-1 / (2 s²))`` of the pixel's excess A on its four neighbours and r² on the diagonal ones. Of the means of
the four opposite pairs of neighbours, the highest then is at least r A and the lowest r² A, so real heat keeps to ::

    centre - highest pair = A (1 - r)  <=  (highest pair - lowest pair) / r = A (1 - r)

Heat off the centre lifts the pair it lies between (by cosh of its distance over s²), lines, edges and corners lift a
pair to half or all of the centre: they stay on the safe side; slopes cancel in every pair. A dead pixel has pairs that
differ by noise alone. Two or more dead pixels side by side are not found, nor those out by less than a kelvin and some
noise. Cold pixels mirror hot ones.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2

BoolArray = NDArray[np.bool_]
Float32Array = NDArray[np.float32]

SHARPEST_PX: Final = 0.5
"""No lens is taken to spread a point by less than this standard deviation, whatever its file says."""
_DECLARED_SHARE: Final = 0.8
"""A declared point spread is trusted to this share: focus may be better than it was when measured."""
_MARGIN: Final = 1.3
"""On top of the ratio above, for noise in the neighbours."""
_LEAST_K: Final = 1.0
"""A pixel must stand out from every neighbour by this (less does no harm worth the risk, and coarsely stepped frames
would look full of them) ..."""
_NOISE: Final = 8.0
"""... and this many times the noise of a pixel."""
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
    least = np.float32(_LEAST_K + _NOISE * noise_k)
    with np.errstate(invalid="ignore", over="ignore"):
        standing_out = (radiance_degc - highest > least) | (lowest - radiance_degc > least)
    dead = np.zeros(sound.shape, dtype=bool)
    # Hardly ever is there one, and a flat search for none is ten times as quick.
    rows, columns = np.divmod(np.flatnonzero(standing_out & sound), sound.shape[1])
    if len(rows):
        blocks = _blocks(np.where(sound, radiance_degc, np.float32(np.nan)), rows, columns)
        dead[rows, columns] = _too_alone(blocks, float(least), _allowed_ratio(blur_px))
    return dead


def _allowed_ratio(blur_px: float | None) -> float:
    spread = max(SHARPEST_PX, _DECLARED_SHARE * (blur_px or 0.0))
    return _MARGIN / float(np.exp(-1.0 / (2.0 * spread * spread)))


def _neighbours(radiance_degc: Float32Array, sound: BoolArray) -> tuple[Float32Array, Float32Array]:
    """Lowest and highest of the eight neighbours that are sound."""
    cv2 = load_cv2()

    ring = np.array([[1, 1, 1], [1, 0, 1], [1, 1, 1]], dtype=np.uint8)
    low_filled = high_filled = radiance_degc
    if not sound.all():
        low_filled = np.where(sound, radiance_degc, np.float32(np.inf))
        high_filled = np.where(sound, radiance_degc, np.float32(-np.inf))
    # OpenCV's default border takes no part in either.
    return _float32(cv2.erode(low_filled, ring)), _float32(cv2.dilate(high_filled, ring))


def _float32(array: Any) -> Float32Array:
    return np.asarray(array, dtype=np.float32)


def _blocks(degc: Float32Array, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> NDArray[np.float64]:
    """The 3 × 3 pixels round each of n places as nine columns, NaN where not sound or beyond the frame."""
    padded = np.pad(degc.astype(np.float64), 1, constant_values=np.nan)
    down, right = np.divmod(np.arange(9), 3)
    return np.asarray(padded[rows[:, None] + down, columns[:, None] + right])


def _too_alone(blocks: NDArray[np.float64], least_k: float, ratio: float) -> BoolArray:
    """Apply the rule of this module to blocks of nine pixels, shape (n, 9)."""
    first, second = blocks[:, :4], blocks[:, :4:-1]
    whole = np.isfinite(first) & np.isfinite(second)
    # Where one of a pair is missing the other stands for it.
    pairs = np.where(whole, (first + second) / 2.0, np.fmax(first, second))
    # Of the pairs beside and above-below, at least one must be whole: only they are bound to r.
    judged = (whole[:, 1] | whole[:, 3]) & (np.isfinite(blocks).sum(axis=1) > _LEAST_NEIGHBOURS)
    highest, lowest = np.fmax.reduce(pairs, axis=1), np.fmin.reduce(pairs, axis=1)
    allowed = least_k + ratio * (highest - lowest)
    centre = blocks[:, 4]
    return np.asarray(judged & ((centre - highest > allowed) | (lowest - centre > allowed)))
