"""Tables over everything an integer pixel can store: a conversion of any cost, paid once for all frames."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.radiometry.gather import gather

Float32Array = NDArray[np.float32]
Conversion = Callable[..., NDArray[np.floating[Any]]]


def tabulates(dtype: np.dtype[Any]) -> bool:
    """Say whether all numbers of a type fit a table: integers of 8 or 16 bits, signed or not."""
    return dtype.kind in "iu" and dtype.itemsize <= 2


def tabulated(conversion: Conversion, arguments: tuple[Hashable, ...], dtype: np.dtype[Any]) -> Float32Array:
    """Give ``conversion(numbers, *arguments)`` of all numbers of a type, in the order of their bits; built once.

    Parameters
    ----------
    conversion : callable
        Elementwise, of float64 numbers.
    arguments : tuple
        What else it takes, hashable.
    dtype : numpy.dtype
        One that `tabulates`.

    Returns
    -------
    ndarray of float32, shape (256,) or (65536,), read-only
    """
    return _table(conversion, arguments, dtype.newbyteorder("="))


@lru_cache(maxsize=64)
def _table(conversion: Conversion, arguments: tuple[Hashable, ...], dtype: np.dtype[Any]) -> Float32Array:
    bits = np.arange(256**dtype.itemsize, dtype=f"u{dtype.itemsize}")
    table = np.asarray(conversion(bits.view(dtype).astype(np.float64), *arguments)).astype(np.float32)
    table.flags.writeable = False
    return table


def look_up(table: Float32Array, stored: NDArray[Any], out: Float32Array | None = None) -> Float32Array:
    """Give the table's entry of every stored number.

    Parameters
    ----------
    table : ndarray of float32
        From `tabulated`, for this type.
    stored : ndarray of integers, any shape
    out : ndarray of float32, optional
        Where to write, of that shape and contiguous.

    Returns
    -------
    ndarray of float32, that shape
    """
    native = np.ascontiguousarray(stored, dtype=stored.dtype.newbyteorder("="))
    index = native.view(f"u{native.dtype.itemsize}").reshape(-1)
    target = np.empty(stored.shape, dtype=np.float32) if out is None else out
    if target.shape != stored.shape or target.dtype != np.float32 or not target.flags.c_contiguous:
        raise ValueError(f"out must be contiguous float32 of shape {stored.shape}, not {target.dtype} {target.shape}")
    if index.dtype == np.uint16:
        gather().read(table, index, target.reshape(-1))
    else:
        np.take(table, index, mode="wrap", out=target.reshape(-1))
    return target
