"""Reading many entries of a table by 16-bit number, and the numbers that float32 values carry in their own bits."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Float32Array = NDArray[np.float32]
IndexArray = NDArray[np.uint16]
Gather = Callable[[Float32Array, IndexArray, Float32Array], Any]

ENTRIES: Final = 65_536
"""Of every table here: one for each number an index can hold, so that no index can miss it."""
_LOW: Final = 0 if sys.byteorder == "little" else 1


def low_half(values: Float32Array) -> IndexArray:
    """View the lower 16 bits of contiguous float32 values."""
    return values.view(np.uint16)[_LOW::2]


def high_half(values: Float32Array) -> IndexArray:
    """View the upper 16 bits of contiguous float32 values: sign, exponent and the first 7 bits after the point."""
    return values.view(np.uint16)[1 - _LOW :: 2]


def gather() -> Gather:
    """Give the quickest ``gather(table, index, out)`` at hand: ``out[i] = table[index[i]]`` of one-dimensional arrays.

    OpenCV 5 looks up 16-bit numbers three times as fast as numpy. It is used where something has loaded OpenCV
    already; loading it for this alone would cost more than it saves. What is read is the same, bit for bit.
    """
    return _by_opencv() if "cv2" in sys.modules else _by_numpy


def _by_numpy(table: Float32Array, index: IndexArray, out: Float32Array) -> None:
    # No index can lie outside 65,536 entries; "wrap" only spares numpy the copy that "raise" would make.
    np.take(table, index, mode="wrap", out=out)


@lru_cache(maxsize=1)
def _by_opencv() -> Gather:
    import cv2

    table, index = np.arange(ENTRIES, dtype=np.float32), np.array([0, 40_000, 65_535], dtype=np.uint16)
    out = np.zeros(3, dtype=np.float32)
    try:
        cv2.LUT(index, table, out)
    except cv2.error:  # OpenCV 4 looks up 8-bit numbers only
        return _by_numpy
    if not np.array_equal(out, [0.0, 40_000.0, 65_535.0]):
        return _by_numpy

    def by_opencv(table: Float32Array, index: IndexArray, out: Float32Array) -> None:
        cv2.LUT(index, table, out)

    return by_opencv
