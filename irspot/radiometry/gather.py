"""Reading many entries of a table by 16-bit number, and the numbers that float32 values carry in their own bits."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Float32Array = NDArray[np.float32]
HalfArray = NDArray[np.uint16]

ENTRIES: Final = 65_536
"""Of every table here: one for each number an index can hold, so that no index can miss it."""
_LOW: Final = 0 if sys.byteorder == "little" else 1


def low_half(values: Float32Array) -> HalfArray:
    """View the lower 16 bits of contiguous float32 values."""
    return values.view(np.uint16)[_LOW::2]


def high_half(values: Float32Array) -> HalfArray:
    """View the upper 16 bits of contiguous float32 values: sign, exponent and the first 7 bits after the point."""
    return values.view(np.uint16)[1 - _LOW :: 2]


@dataclass(frozen=True, slots=True)
class Gather:
    """A way to read a table at many places.

    Parameters
    ----------
    read : callable
        ``read(table, index, out)`` does ``out[i] = table[index[i]]`` for one-dimensional arrays.
    index_dtype : type
        Of the index it reads without converting it first.
    """

    read: Callable[[Float32Array, NDArray[Any], Float32Array], Any]
    index_dtype: type[np.uint16 | np.intp]


def gather() -> Gather:
    """Give the quickest way at hand to read a table of 65,536 entries.

    OpenCV 5 looks up 16-bit numbers up to three times as fast as numpy. It is used where something has loaded OpenCV
    already; loading it for this alone would cost more than it saves. What is read is the same, bit for bit.
    """
    return _by_opencv() if "cv2" in sys.modules else _BY_NUMPY


def _take(table: Float32Array, index: NDArray[Any], out: Float32Array) -> None:
    # No 16-bit number can lie outside the table; "wrap" only spares numpy the copy that "raise" would make.
    np.take(table, index, mode="wrap", out=out)


_BY_NUMPY: Final = Gather(_take, np.intp)


@lru_cache(maxsize=1)
def _by_opencv() -> Gather:
    import cv2

    def look_up(table: Float32Array, index: NDArray[Any], out: Float32Array) -> None:
        cv2.LUT(index, table, out)

    table, index = np.arange(ENTRIES, dtype=np.float32), np.array([0, 40_000, 65_535], dtype=np.uint16)
    out = np.zeros(3, dtype=np.float32)
    try:
        look_up(table, index, out)
    except cv2.error:  # OpenCV 4 looks up 8-bit numbers only
        return _BY_NUMPY
    return Gather(look_up, np.uint16) if np.array_equal(out, [0.0, 40_000.0, 65_535.0]) else _BY_NUMPY
