"""Maximum, its place, and mean of every zone, for many frames under one geometry: two passes over each frame.

Row by row, zones cut a frame into short runs of neighbouring pixels. The runs' maxima and sums are taken over the
frame as it lies in memory, whatever the zones' shapes, and then gathered by zone. Zones may share runs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from irspot.measurement.geometry import Geometry

IndexArray = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """The runs of pixels that zones consist of.

    Parameters
    ----------
    shape : tuple of int
        ``(rows, columns)`` of the frames.
    starts : ndarray of int, shape (runs,)
        Flat index of each run's first pixel, rising from 0: the runs, those outside all zones too, tile the frame.
    lengths : ndarray of int, shape (runs,)
    members : ndarray of int, shape (n,)
        Runs of the first zone that has any, then of the second, ...
    firsts : ndarray of int, shape (zones with pixels,)
        Where each zone's part of `members` begins.
    filled : ndarray of int, shape (zones with pixels,)
        Index of the zones that have pixels.
    count : int
        Zones, those without pixels and `elsewhere` included.
    """

    shape: tuple[int, int]
    starts: IndexArray
    lengths: IndexArray
    members: IndexArray
    firsts: IndexArray
    filled: IndexArray
    count: int


@dataclass(frozen=True, slots=True, eq=False)
class Extremes:
    """What `zone_extremes` finds, one entry per zone, `elsewhere` last; NaN (place -1) for zones without numbers.

    Parameters
    ----------
    maximum, mean : ndarray of float64, shape (zones,)
    row, column : ndarray of int, shape (zones,)
        Pixel of the maximum, the first in reading order among equals.
    """

    maximum: NDArray[np.float64]
    mean: NDArray[np.float64]
    row: IndexArray
    column: IndexArray


def runs_of(geometry: Geometry, sound: NDArray[np.bool_] | None = None) -> Runs:
    """Cut the zones of a geometry into runs.

    Parameters
    ----------
    geometry : Geometry
    sound : ndarray of bool, shape (rows, columns), optional
        Pixels that may count; dead ones belong to no run.
    """
    columns, rows = geometry.size_px
    flats = [_flat_pixels(zone.box, zone.mask, sound, columns) for zone in geometry.all]
    starts = _cuts(flats, rows * columns)
    lengths = np.diff(np.append(starts, rows * columns))
    # A run lies wholly inside a zone or wholly outside, so its first pixel speaks for it.
    members = [np.searchsorted(starts, flat[np.isin(flat, starts, assume_unique=True)]) for flat in flats]
    filled = np.flatnonzero([len(runs) for runs in members])
    sizes = [len(members[zone]) for zone in filled]
    return Runs(
        shape=(rows, columns),
        starts=starts,
        lengths=lengths,
        members=np.concatenate(members).astype(np.intp),
        firsts=np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.intp) if sizes else np.zeros(0, np.intp),
        filled=filled,
        count=len(members),
    )


def zone_extremes(frame: NDArray[np.floating], runs: Runs) -> Extremes:
    """Find maximum, place and mean of every zone in one frame.

    Safe to call from several threads, which then work side by side.

    Parameters
    ----------
    frame : ndarray of float, shape (rows, columns)
        NaN where not measured; such pixels are left out.
    runs : Runs

    Returns
    -------
    Extremes
    """
    if frame.shape != runs.shape:
        raise ValueError(f"the runs are of frames of shape {runs.shape}, not {frame.shape}")
    result = Extremes(*(np.full(runs.count, np.nan) for _ in range(2)), *(np.full(runs.count, -1) for _ in range(2)))
    if not len(runs.filled):
        return result
    flat = np.ascontiguousarray(frame).reshape(-1)
    maxima = np.fmax.reduceat(flat, runs.starts)
    sums, counts = _sums(flat, runs)
    of_zone = maxima[runs.members]
    best = np.fmax.reduceat(of_zone, runs.firsts)
    total = np.add.reduceat(sums[runs.members], runs.firsts)
    number = np.add.reduceat(counts[runs.members], runs.firsts)
    result.maximum[runs.filled] = best
    np.divide(total, number, out=total, where=number > 0)
    result.mean[runs.filled] = np.where(number > 0, total, np.nan)
    places = _places(flat, maxima, of_zone, best, runs)
    known = places >= 0
    result.row[runs.filled] = np.where(known, places // runs.shape[1], -1)
    result.column[runs.filled] = np.where(known, places % runs.shape[1], -1)
    return result


def _flat_pixels(
    box: tuple[int, int, int, int], mask: NDArray[np.bool_], sound: NDArray[np.bool_] | None, columns: int
) -> IndexArray:
    row0, row1, column0, column1 = box
    counted = mask if sound is None else mask & sound[row0:row1, column0:column1]
    rows, places = np.nonzero(counted)
    return (rows + row0) * columns + places + column0


def _cuts(flats: list[IndexArray], size: int) -> IndexArray:
    """First pixels of all runs: where any zone begins or ends."""
    edges = np.zeros(size + 1, dtype=bool)
    edges[0] = True
    for flat in flats:
        inside = np.zeros(size + 2, dtype=np.int8)
        inside[flat + 1] = 1
        edges |= np.diff(inside) != 0
    return np.flatnonzero(edges[:size])


def _sums(flat: NDArray[np.floating], runs: Runs) -> tuple[NDArray[np.float64], IndexArray]:
    """Sums and counts of the runs, NaN left out."""
    sums = np.add.reduceat(flat, runs.starts).astype(np.float64)
    spoiled = np.flatnonzero(np.isnan(sums))
    if not len(spoiled):
        return sums, runs.lengths
    counts = runs.lengths.copy()
    for run in spoiled:
        start = runs.starts[run]
        pixels = flat[start : start + runs.lengths[run]]
        known = ~np.isnan(pixels)
        sums[run], counts[run] = pixels[known].sum(dtype=np.float64), int(np.count_nonzero(known))
    return sums, counts


def _places(
    flat: NDArray[np.floating],
    maxima: NDArray[np.floating],
    of_zone: NDArray[np.floating],
    best: NDArray[np.floating],
    runs: Runs,
) -> IndexArray:
    """Flat index of each zone's maximum, -1 where there is none."""
    sizes = np.diff(np.append(runs.firsts, len(runs.members)))
    hits = np.flatnonzero(of_zone == np.repeat(best, sizes))
    first = np.searchsorted(hits, runs.firsts)
    places = np.full(len(best), -1, dtype=np.intp)
    for zone in np.flatnonzero(~np.isnan(best)):
        run = runs.members[hits[first[zone]]]
        start = runs.starts[run]
        places[zone] = start + int(np.argmax(flat[start : start + runs.lengths[run]] == best[zone]))
    return places
