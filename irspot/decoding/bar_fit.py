"""Where a bar must end if its colours are those of a known map: for ends that fade into what surrounds them."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.bar_path import cells_of, spans_of
from irspot.decoding.bar_steps import stepped_ends
from irspot.decoding.named_maps import CELLS, named_maps

FloatArray = NDArray[np.float64]

FIT_REACH = 0.3
"""Share of the length by which an uncertain end may move."""
_CLOSE_RMS = 7.0
"""Only a fit this close moves an end. Compression at quality 70 leaves 2 to 4."""
_MISSED_RMS = 4.5
"""Ends between which the colours are this far from every map, and close to one after moving, were not the ends."""

_TOGETHER = 32
"""Pairs of ends held against all maps at once."""


def fitted_ends(
    profile: FloatArray, flat: NDArray[np.bool_], ends: tuple[int, int], soft: tuple[bool, bool]
) -> tuple[int, int]:
    """Move uncertain ends to where the colours between them best agree with one of matplotlib's maps.

    Parameters
    ----------
    profile : ndarray, shape (n, 3)
        Longer than the bar.
    flat : ndarray of bool, shape (n,)
        Rows that are constant across; others cannot be the bar's.
    ends : tuple of int
        First row and row after the last.
    soft : tuple of bool
        Which of the two may move.

    Returns
    -------
    tuple of int
        The given ends where no map fits closely.
    """
    y0, y1 = ends
    before = float(_distances(cells_of(profile[y0:y1], CELLS)[None])[0])
    free = before > _MISSED_RMS
    if not free and not any(soft):
        return ends
    reach = max(4, round(FIT_REACH * (y1 - y0)))
    firsts = _movable(flat, y0, -1, reach) if soft[0] or free else np.array([y0])
    lasts = _movable(flat, y1, 1, reach) if soft[1] or free else np.array([y1])
    stride = max(1, reach // 8)
    coarse, _ = _best(profile, firsts[::stride], lasts[::stride], y1 - y0)
    first_near, last_near = (
        rows[np.abs(rows - end) <= stride] for rows, end in zip((firsts, lasts), coarse, strict=True)
    )
    fine, rms = _best(profile, first_near, last_near, y1 - y0)
    if rms <= _CLOSE_RMS:
        return fine
    return stepped_ends(profile, flat, ends) or ends


def _best(
    profile: FloatArray, firsts: NDArray[np.intp], lasts: NDArray[np.intp], length: int
) -> tuple[tuple[int, int], float]:
    """Give the ends, of all pairs at least half the length apart, between which a map fits best, and how closely."""
    start, stop = (grid.ravel().astype(np.float64) for grid in np.meshgrid(firsts, lasts, indexing="ij"))
    long = stop - start >= 0.5 * length
    start, stop = start[long], stop[long]
    rms = _distances(spans_of(profile, start, stop, CELLS))
    best = int(np.argmin(rms))
    return (int(start[best]), int(stop[best])), float(rms[best])


def _movable(flat: NDArray[np.bool_], end: int, outward: int, reach: int) -> NDArray[np.intp]:
    """Give the rows an end may move to: inward freely, outward over rows that are constant across."""
    inward = np.arange(end, end - outward * (reach + 1), -outward)
    outside: list[int] = []
    row = end
    while 0 < row < len(flat) and len(outside) < reach and flat[row if outward > 0 else row - 1]:
        row += outward
        outside.append(row)
    found = np.concatenate([inward, np.array(outside, np.intp)])
    return found[(found >= 0) & (found <= len(flat))]


def _distances(cells: FloatArray) -> FloatArray:
    """Root mean square distance of many cell rows (k, 17, 3) to the nearest map in either direction."""
    both, norms = _both_ways()
    flat = cells.reshape(len(cells), -1).astype(np.float32)
    # In parts so small that the product stays on one thread: handing it to several costs more than it saves.
    parts = (flat[start : start + _TOGETHER] for start in range(0, len(flat), _TOGETHER))
    nearest = np.concatenate([(norms - 2.0 * part @ both.T).min(axis=1) for part in parts])
    squares = np.maximum(nearest + np.sum(flat**2, axis=1), 0.0)
    return np.asarray(np.sqrt(squares / flat.shape[1]), np.float64)


@lru_cache(maxsize=1)
def _both_ways() -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Give all maps in both directions as rows, and the sums of their squares."""
    _, maps = named_maps()
    both = np.concatenate([maps, maps[:, ::-1]]).reshape(2 * len(maps), -1).astype(np.float32)
    return both, np.asarray(np.sum(both**2, axis=1))
