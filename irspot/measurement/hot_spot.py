"""Where in the frame the maximum lies, finer than a pixel, and whether it goes on outside the zone."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.floating[Any]]
BoolArray = NDArray[np.bool_]

_CERTAIN: Final = 3.0
_LIKELY: Final = 2.0
"""How many standard deviations hotter a single pixel, or a mean of several, must be to count as hotter."""


def sub_pixel(values: FloatArray, usable: BoolArray, row: int, column: int) -> tuple[float, float]:
    """Place of a maximum by a quadratic surface through the 3 × 3 pixels round it.

    The least squares fit of ``a + b x + c y + d x² + e x y + f y²``; its top, if it has one, no further than half a
    pixel from the maximum. Where not all nine are usable, a parabola along each axis whose two neighbours are; else
    the pixel's centre.

    Parameters
    ----------
    values : ndarray, shape (rows, columns)
    usable : ndarray of bool, that shape
    row, column : int
        The hottest usable pixel.

    Returns
    -------
    tuple of float
        ``(x_px, y_px)``.

    Examples
    --------
    >>> y, x = np.mgrid[0:7, 0:9]
    >>> hill = 90.0 - (x - 4.25) ** 2 - 2.0 * (y - 2.9) ** 2
    >>> x_px, y_px = sub_pixel(hill, np.ones(hill.shape, bool), 3, 4)
    >>> round(x_px, 6), round(y_px, 6)
    (4.25, 2.9)
    """
    block, allowed = window(values, usable, row, column, 1)
    if allowed.all():
        dx, dy = _top_of_surface(block)
    else:
        dx = _top_of_parabola(block[1], allowed[1])
        dy = _top_of_parabola(block[:, 1], allowed[:, 1])
    return column + dx, row + dy


def continues_outside(values: FloatArray, sound: BoolArray, inside: BoolArray, noise_k: float) -> bool:
    """Say whether it is hotter still just outside the zone, beyond what noise makes of a level place.

    Either one pixel beside the maximum and outside is hotter by three standard deviations of a difference, or one is
    hotter at all and the mean of the pixels outside (of the 5 × 5 round the maximum) exceeds that inside by two.

    Parameters
    ----------
    values, sound, inside : ndarray, shape (5, 5)
        Round the zone's hottest pixel (`window`): temperatures, which are sound, which belong to the zone.
    noise_k : float
        Standard deviation of one pixel.
    """
    outside = sound & ~inside
    beside = outside[1:4, 1:4]
    if not beside.any():
        return False
    hotter = float(values[1:4, 1:4][beside].max()) - float(values[2, 2])
    if hotter <= 0.0:
        return False
    outer, inner = values[outside], values[sound & inside]
    rise = float(outer.mean() - inner.mean())
    likely = rise > _LIKELY * noise_k * np.sqrt(1.0 / outer.size + 1.0 / inner.size)
    return bool(likely or hotter > _CERTAIN * np.sqrt(2.0) * noise_k)


def window(values: FloatArray, usable: BoolArray, row: int, column: int, reach: int) -> tuple[FloatArray, BoolArray]:
    """Cut a square round a pixel out of an array; what lies beyond the array's edge is NaN and not usable.

    Parameters
    ----------
    values : ndarray, shape (rows, columns)
    usable : ndarray of bool, that shape
    row, column : int
    reach : int
        Pixels to each side.

    Returns
    -------
    tuple of ndarray, each of shape (2 reach + 1, 2 reach + 1)
    """
    size = 2 * reach + 1
    block = np.full((size, size), np.nan)
    allowed = np.zeros((size, size), dtype=bool)
    row0, row1 = max(row - reach, 0), min(row + reach + 1, values.shape[0])
    column0, column1 = max(column - reach, 0), min(column + reach + 1, values.shape[1])
    target = np.s_[row0 - row + reach : row1 - row + reach, column0 - column + reach : column1 - column + reach]
    block[target] = values[row0:row1, column0:column1]
    allowed[target] = usable[row0:row1, column0:column1]
    return block, allowed


def _top_of_surface(block: FloatArray) -> tuple[float, float]:
    columns, rows = block.sum(axis=0), block.sum(axis=1)
    slope_x, slope_y = (columns[2] - columns[0]) / 6.0, (rows[2] - rows[0]) / 6.0
    bend_x = (columns[0] - 2.0 * columns[1] + columns[2]) / 3.0
    bend_y = (rows[0] - 2.0 * rows[1] + rows[2]) / 3.0
    twist = (block[0, 0] + block[2, 2] - block[0, 2] - block[2, 0]) / 4.0
    determinant = bend_x * bend_y - twist * twist
    if not (bend_x < 0.0 and determinant > 0.0):
        return 0.0, 0.0
    dx = (twist * slope_y - bend_y * slope_x) / determinant
    dy = (twist * slope_x - bend_x * slope_y) / determinant
    return _half_a_pixel(dx), _half_a_pixel(dy)


def _top_of_parabola(line: FloatArray, allowed: BoolArray) -> float:
    if not allowed.all():
        return 0.0
    bend = line[0] - 2.0 * line[1] + line[2]
    return _half_a_pixel((line[0] - line[2]) / (2.0 * bend)) if bend < 0.0 else 0.0


def _half_a_pixel(offset: float) -> float:
    return float(min(max(offset, -0.5), 0.5))
