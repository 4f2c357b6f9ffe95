"""A frame's temperatures packed for a page: in tenths of a kelvin, so small that a page may hold a whole study.

Tenths are what the page displays; nothing finer is kept. Each is foretold from its neighbours (the median of left,
above, and left plus above less the corner between them: the predictor of ISO/IEC 14495-1, A.4.2), and only what the
foretelling misses is stored, by Huffman codes alone: noise holds no repeats worth looking for.
"""

from __future__ import annotations

import base64
import zlib
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Tenths = NDArray[np.int32]

LOWEST_DEGC: Final = -273.2
"""Stored as 1; 0 stands for what was not measured."""
_ESCAPE: Final = 255
_MOST: Final = 0xFFFF


@dataclass(frozen=True, slots=True)
class PackedGrid:
    """A packed part of a frame.

    Parameters
    ----------
    columns, rows : int
    misses : str
        Base64 of a zlib stream, one byte a pixel, row by row: what was foretold wrongly, zigzag (0, -1, 1, -2, ...);
        255 where that is 255 or more, and the value itself stands in `more`.
    more : str
        Base64 of a zlib stream of 16-bit words, little-endian: which zone every pixel belongs to, then the escaped
        values.
    """

    columns: int
    rows: int
    misses: str
    more: str


def tenths_of(degc: NDArray[Any]) -> Tenths:
    """Turn temperatures into tenths of a kelvin above `LOWEST_DEGC`, rounded half up; 0 where there is none.

    Examples
    --------
    >>> tenths_of(np.array([-273.2, 25.04, 25.05, np.nan])).tolist()
    [1, 2983, 2984, 0]
    """
    with np.errstate(invalid="ignore"):
        # The float32 nearest to 25.05 lies a hair below it; people round the number they read.
        steps = np.floor(np.round(np.asarray(degc, np.float64) * 10.0, 4) + 0.5) - round(LOWEST_DEGC * 10.0) + 1.0
    return np.where(np.isfinite(steps), np.clip(steps, 1, _MOST), 0).astype(np.int32)


def packed(tenths: Tenths, zones: NDArray[np.uint16]) -> PackedGrid:
    """Pack tenths, and which zone every pixel belongs to.

    Parameters
    ----------
    tenths : ndarray of int32, shape (rows, columns)
        0 to 65535.
    zones : ndarray of uint16, that shape
    """
    missed = tenths - foretold(tenths)
    zigzag = np.where(missed >= 0, 2 * missed, -2 * missed - 1)
    escaped = zigzag >= _ESCAPE
    misses = np.where(escaped, _ESCAPE, zigzag).astype(np.uint8).tobytes()
    more = zones.astype("<u2").tobytes() + tenths[escaped].astype("<u2").tobytes()
    rows, columns = tenths.shape
    return PackedGrid(columns, rows, _squeezed(misses, zlib.Z_HUFFMAN_ONLY), _squeezed(more, zlib.Z_DEFAULT_STRATEGY))


def foretold(tenths: Tenths) -> Tenths:
    """Foretell every value from those before it; above the first row and left of the first column lies 0."""
    left, above, corner = np.zeros_like(tenths), np.zeros_like(tenths), np.zeros_like(tenths)
    left[:, 1:], above[1:], corner[1:, 1:] = tenths[:, :-1], tenths[:-1], tenths[:-1, :-1]
    # The first row goes by what is left of it alone, the first column by what is above it.
    above[0] = corner[0] = left[0]
    left[1:, 0] = corner[1:, 0] = above[1:, 0]
    low, high = np.minimum(left, above), np.maximum(left, above)
    middle: Tenths = np.where(corner >= high, low, np.where(corner <= low, high, left + above - corner))
    return middle


def _squeezed(data: bytes, strategy: int) -> str:
    # Level and memory are stated, so that the bytes do not follow a library's defaults.
    packer = zlib.compressobj(6, zlib.DEFLATED, 15, 9, strategy)
    return base64.b64encode(packer.compress(data) + packer.flush()).decode("ascii")
