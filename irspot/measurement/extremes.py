"""Maximum, its place, and mean of every zone, for many frames under one geometry: two passes over each frame.

Row by row, zones cut a frame into short runs of neighbouring pixels. The runs' maxima and sums are taken over the
frame as it lies in memory, whatever the zones' shapes, and then gathered by zone. Zones may share runs.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.measurement.geometry import Geometry

IndexArray = NDArray[np.intp]
FloatArray = NDArray[np.floating[Any]]

_FRAMES_AT_ONCE: Final = 16
"""Frames whose runs are gathered together: what is small per frame then costs little per frame."""


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """The runs of pixels that zones consist of.

    Parameters
    ----------
    shape : tuple of int
        ``(rows, columns)`` of the frames.
    span : slice
        Part of a frame, as a flat array, from the first pixel of any zone to the last.
    starts : ndarray of int, shape (runs,)
        Each run's first pixel within `span`, rising from 0: the runs, those outside all zones too, tile the span.
    lengths : ndarray of int, shape (runs,)
    members : ndarray of int, shape (n,)
        Runs of the first zone that has any, then of the second, ...
    owner : ndarray of int, shape (n,)
        Whose each member is: an index of `filled`.
    firsts : ndarray of int, shape (zones with pixels,)
        Where each zone's part of `members` begins.
    filled : ndarray of int, shape (zones with pixels,)
        Index of the zones that have pixels.
    count : int
        Zones, those without pixels and `elsewhere` included.
    """

    shape: tuple[int, int]
    span: slice
    starts: IndexArray
    lengths: IndexArray
    members: IndexArray
    owner: IndexArray
    firsts: IndexArray
    filled: IndexArray
    count: int


@dataclass(frozen=True, slots=True, eq=False)
class Extremes:
    """Figures of zones in frames, `elsewhere` last; NaN (place -1) for zones without numbers.

    Parameters
    ----------
    maximum, mean : ndarray of float64, shape (frames, zones)
    row, column : ndarray of int, shape (frames, zones)
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
        Pixels that may count; dead ones belong to no zone's runs.
    """
    columns, rows = geometry.size_px
    flats = [_flat_pixels(zone.box, zone.mask, sound, columns) for zone in geometry.all]
    span = _span(flats)
    flats = [flat - span.start for flat in flats]
    starts = _cuts(flats, span.stop - span.start)
    # A run lies wholly inside a zone or wholly outside, so its first pixel speaks for it.
    members = [np.searchsorted(starts, flat[np.isin(flat, starts, assume_unique=True)]) for flat in flats]
    sizes = np.array([len(runs) for runs in members])
    filled = np.flatnonzero(sizes)
    return Runs(
        shape=(rows, columns),
        span=span,
        starts=starts,
        lengths=np.diff(starts, append=span.stop - span.start),
        members=np.concatenate(members).astype(np.intp),
        owner=np.repeat(np.arange(len(filled)), sizes[filled]),
        firsts=np.cumsum(sizes[filled]) - sizes[filled],
        filled=filled,
        count=len(members),
    )


def zone_extremes(frames: FloatArray, runs: Runs, threads: int = 1) -> Extremes:
    """Find maximum, place and mean of every zone in each of many frames.

    Parameters
    ----------
    frames : ndarray of float, shape (frames, rows, columns)
        NaN where not measured; such pixels are left out.
    runs : Runs
    threads : int

    Returns
    -------
    Extremes

    Raises
    ------
    ValueError
        If the frames are not of the runs' shape.
    """
    if frames.ndim != 3 or frames.shape[1:] != runs.shape:
        raise ValueError(f"wanted frames of shape {runs.shape}, not an array of {frames.shape}")
    shape = (len(frames), runs.count)
    result = Extremes(np.full(shape, np.nan), np.full(shape, np.nan), np.full(shape, -1), np.full(shape, -1))
    if not len(runs.filled) or not len(frames):
        return result
    parts = [slice(first, first + _FRAMES_AT_ONCE) for first in range(0, len(frames), _FRAMES_AT_ONCE)]
    if threads == 1:
        for part in parts:
            _fill(result, frames, part, runs)
    else:
        with ThreadPoolExecutor(threads) as pool:
            list(pool.map(lambda part: _fill(result, frames, part, runs), parts))
    return result


def _flat_pixels(
    box: tuple[int, int, int, int], mask: NDArray[np.bool_], sound: NDArray[np.bool_] | None, columns: int
) -> IndexArray:
    row0, row1, column0, column1 = box
    counted = mask if sound is None else mask & sound[row0:row1, column0:column1]
    rows, places = np.nonzero(counted)
    return np.asarray((rows + row0) * columns + places + column0, dtype=np.intp)


def _span(flats: list[IndexArray]) -> slice:
    filled = [flat for flat in flats if len(flat)]
    if not filled:
        return slice(0, 0)
    return slice(int(min(flat[0] for flat in filled)), int(max(flat[-1] for flat in filled)) + 1)


def _cuts(flats: list[IndexArray], size: int) -> IndexArray:
    """First pixels of all runs: where any zone begins or ends."""
    edges = np.zeros(size + 1, dtype=bool)
    edges[0] = True
    for flat in flats:
        inside = np.zeros(size + 2, dtype=np.int8)
        inside[flat + 1] = 1
        edges |= np.diff(inside) != 0
    return np.flatnonzero(edges[:size])


def _fill(result: Extremes, frames: FloatArray, part: slice, runs: Runs) -> None:
    """Do a few frames: runs frame by frame, while each is in the processor's cache, then zones for all of them."""
    few = np.ascontiguousarray(frames[part]).reshape(len(frames[part]), -1)[:, runs.span]
    maxima = np.empty((len(few), len(runs.starts)), dtype=few.dtype)
    sums = np.empty_like(maxima)
    for number_of, frame in enumerate(few):
        # Copied, not written by `out`: with that numpy keeps the interpreter's lock and threads wait for one another.
        maxima[number_of] = np.maximum.reduceat(frame, runs.starts)
        sums[number_of] = np.add.reduceat(frame, runs.starts)
    counts = _without_nan(few, maxima, sums, runs)
    of_zone = np.take(maxima, runs.members, axis=1)
    best = np.fmax.reduceat(of_zone, runs.firsts, axis=1)
    total = np.add.reduceat(np.take(sums, runs.members, axis=1), runs.firsts, axis=1)
    number = np.add.reduceat(counts[:, runs.members], runs.firsts, axis=1)
    average = np.full(total.shape, np.nan)
    # numpy adds pairwise, so sums in single precision keep a mean to some 1e-5 K.
    np.divide(total, number, out=average, where=number > 0)
    row, column = np.divmod(_places(few, of_zone, best, runs), runs.shape[1])
    into = np.ix_(np.arange(len(frames))[part], runs.filled)
    result.maximum[into], result.mean[into] = best, average
    # A place of -1 divides into the last column of row -1.
    result.row[into], result.column[into] = row, np.where(row < 0, -1, column)


def _without_nan(few: FloatArray, maxima: FloatArray, sums: FloatArray, runs: Runs) -> IndexArray:
    """Redo the runs that hold NaN, in place, and give the pixels counted in each run of each frame."""
    if not np.isnan(sums.sum()):
        return runs.lengths[None]
    spoiled = np.argwhere(np.isnan(sums))
    counts = np.repeat(runs.lengths[None], len(few), axis=0)
    for frame, run in spoiled:
        start = runs.starts[run]
        pixels = few[frame, start : start + runs.lengths[run]]
        known = pixels[~np.isnan(pixels)]
        counts[frame, run], sums[frame, run] = known.size, known.sum()
        maxima[frame, run] = known.max() if known.size else np.nan
    return counts


def _places(few: FloatArray, of_zone: FloatArray, best: FloatArray, runs: Runs) -> IndexArray:
    """Flat index of each zone's maximum in each frame, -1 where there is none, shape (frames, zones with pixels)."""
    frame, zone = np.nonzero(~np.isnan(best))
    hits = np.flatnonzero(of_zone == np.take(best, runs.owner, axis=1))
    first = np.searchsorted(hits, frame * len(runs.members) + runs.firsts[zone])
    run = runs.members[hits[first] % len(runs.members)]
    # The runs that hold the maxima, one after the other.
    length = runs.lengths[run]
    offset = np.cumsum(length) - length
    pixel = np.repeat(runs.starts[run] - offset, length) + np.arange(int(length.sum()))
    values = few[np.repeat(frame, length), pixel]
    equal = np.flatnonzero(values == np.repeat(best[frame, zone], length))
    places = np.full(best.shape, -1, dtype=np.intp)
    places[frame, zone] = pixel[equal[np.searchsorted(equal, offset)]] + runs.span.start
    return places
