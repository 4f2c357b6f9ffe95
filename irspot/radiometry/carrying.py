"""Carrying whole float32 frames from temperature to temperature, in blocks that stay in the processor's cache.

Both directions of the measurement model are one and the same thing when all but the emissivity is uniform:
``radiance_out = (radiance_in - offset) ∘ factor + shift`` with ∘ a multiplication or a division.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from irspot.radiometry.band_table import END_OF_PIECES_DEGC, FIRST_PIECE_DEGC, PIECE_SHIFT, BandTable
from irspot.radiometry.gather import Gather, gather, high_half, low_half

Float32Array = NDArray[np.float32]

BLOCK: Final = 65_536
"""Pixels a block: its work arrays fit the caches, and few blocks cost few calls."""


@dataclass(frozen=True, slots=True, eq=False)
class Scratch:
    """Work arrays of one block."""

    index: NDArray[Any]
    u: Float32Array
    v: Float32Array
    w: Float32Array

    def first(self, count: int) -> Scratch:
        """Give the first `count` elements of each."""
        return Scratch(self.index[:count], self.u[:count], self.v[:count], self.w[:count])


def carry(
    degc: Float32Array,
    table: BandTable,
    *,
    offset: float,
    how: Literal["multiply", "divide"],
    factor: float | Float32Array,
    shift: float,
    out: Float32Array,
) -> None:
    """Write the temperatures whose radiance is ``(radiance(degc) - offset) ∘ factor + shift``.

    Parameters
    ----------
    degc : ndarray of float32, shape (n,), contiguous
        [°C]; NaN stays NaN.
    table : BandTable
    offset, shift : float
        [W m⁻² sr⁻¹]
    how : {"multiply", "divide"}
    factor : float or ndarray of float32, shape (n,)
    out : ndarray of float32, shape (n,), contiguous
        NaN where the radiance belongs to no temperature of the table. May be `degc` itself.
    """
    forward, backward = table.forward(offset), table.backward
    combine = np.multiply if how == "multiply" else np.divide
    single_shift = np.float32(shift)
    way = gather()
    degc = _within_pieces(degc)
    with np.errstate(all="ignore"):  # an impossible pixel overflows, and ends as NaN
        for part, scratch in _blocks(len(degc), way.index_dtype):
            radiance = scratch.v
            _radiance(degc[part], forward, way, scratch)
            combine(radiance, factor[part] if isinstance(factor, np.ndarray) else np.float32(factor), out=radiance)
            np.add(radiance, single_shift, out=radiance)
            _temperature(backward, way, scratch, out[part])


def _blocks(count: int, index_dtype: type[np.uint16 | np.intp]) -> Iterator[tuple[slice, Scratch]]:
    size = min(BLOCK, count)
    scratch = Scratch(np.empty(size, index_dtype), *(np.empty(size, np.float32) for _ in range(3)))
    for start in range(0, count, BLOCK):
        stop = min(start + BLOCK, count)
        yield slice(start, stop), scratch.first(stop - start)


def _within_pieces(degc: Float32Array) -> Float32Array:
    """Put NaN where a temperature is so far out that it would find a wrong piece of the table."""
    with np.errstate(invalid="ignore"):
        lowest = np.fmin.reduce(degc, initial=np.inf)
        highest = np.fmax.reduce(degc, initial=-np.inf)
        if lowest >= FIRST_PIECE_DEGC and highest < END_OF_PIECES_DEGC - 1.0:
            return degc
        inside = (degc >= FIRST_PIECE_DEGC) & (degc < END_OF_PIECES_DEGC - 1.0)
    return np.where(inside, degc, np.float32(np.nan))


def _radiance(degc: Float32Array, forward: Float32Array, way: Gather, scratch: Scratch) -> None:
    """Write the radiance less the table's offset to ``scratch.v``; see `irspot.radiometry.band_table`."""
    node = scratch.u
    np.add(degc, PIECE_SHIFT, out=node)
    np.copyto(scratch.index, low_half(node))
    np.subtract(node, PIECE_SHIFT, out=node)
    beyond_node = np.subtract(degc, node, out=node)
    way.read(forward[0], scratch.index, scratch.v)
    way.read(forward[1], scratch.index, scratch.w)
    np.multiply(scratch.w, beyond_node, out=scratch.w)
    np.add(scratch.v, scratch.w, out=scratch.v)


def _temperature(backward: Float32Array, way: Gather, scratch: Scratch, out: NDArray[Any]) -> None:
    """Write the temperature of the radiance in ``scratch.v`` to `out`."""
    np.copyto(scratch.index, high_half(scratch.v))
    way.read(backward[0], scratch.index, scratch.u)
    way.read(backward[1], scratch.index, scratch.w)
    np.multiply(scratch.w, scratch.v, out=scratch.w)
    np.add(scratch.u, scratch.w, out=out)
