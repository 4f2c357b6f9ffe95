"""Bars in few steps: how many, where they lie, and where such a bar ends."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.named_maps import CELLS, named_maps

FloatArray = NDArray[np.float64]

FEWEST, MOST = 5, 16
_END_ROWS = 3
"""Rows at either end that compression or resizing has mixed with what is outside; and between parts of one step."""
_STEP = 9.0
"""Change of a channel over two rows that makes a step; above the noise of compression at quality 70."""
_FEWEST_ROWS = 6
_INNER = 0.35
"""Share of a step, either side of its middle, that its edges do not reach."""
_UNEVEN = 0.75
"""Median against mean change from row to row, above which a profile runs smoothly."""
_STAIR = 0.6
"""Measured on bars at JPEG qualities 70 and 85: at most 0.4 for 8 and 16 steps, 1.2 and more for smooth ones."""
_CLOSE_RMS = 16.0
"""Ends are put where a map's steps fit this closely. Measured on all continuous maps: at most 12.5 at 16 steps and 16.6
at 8 in the worst case of two maps with sharp corners, 1 typically."""


def step_places(profile: FloatArray) -> FloatArray:
    """Find the steps of a profile, its first and last rows left out.

    Parameters
    ----------
    profile : ndarray, shape (n, 3)

    Returns
    -------
    ndarray, shape (steps,)
        Rows, between 0 and n.
    """
    jump = np.max(np.abs(profile[2:] - profile[:-2]), axis=1) > _STEP
    jump[:_END_ROWS] = jump[-_END_ROWS:] = False
    edges = np.flatnonzero(np.diff(np.concatenate([[False], jump, [False]]).astype(np.int8)))
    if not len(edges):
        return np.empty(0)
    starts, stops = edges[::2], edges[1::2]
    apart = starts[1:] - stops[:-1] > _END_ROWS
    starts, stops = starts[np.concatenate([[True], apart])], stops[np.concatenate([apart, [True]])]
    return np.asarray((starts + stops) / 2.0 + 0.5)


def count_steps(profile: FloatArray) -> int:
    """Count the steps of a profile that has few and equal ones; 0 for any other."""
    places = _distinct(step_places(profile), len(profile))
    steps = len(places) + 1
    if FEWEST <= steps <= MOST:
        lengths = np.diff(np.concatenate([[0.0], places, [float(len(profile))]]))
        equal = np.abs(lengths - len(profile) / steps) <= max(2.0, 0.12 * len(profile) / steps)
        if equal.all():
            return steps
    return _staircase(profile)


def _staircase(profile: FloatArray) -> int:
    """Count equal steps by how much better they explain a profile than a line through their middles; 0 for none.

    Compression blurs an edge between two strong colours into several, or drowns a faint one, but leaves what lies
    within the steps.
    """
    pace = np.linalg.norm(np.diff(profile, axis=0), axis=1)
    if not len(pace) or np.median(pace) > _UNEVEN * np.mean(pace):
        return 0
    most = min(MOST, len(profile) // _FEWEST_ROWS)
    ratios = [_step_against_line(profile, steps) for steps in range(FEWEST, most + 1)]
    best = int(np.argmin(ratios)) if ratios else 0
    return FEWEST + best if ratios and ratios[best] < _STAIR else 0


def _step_against_line(profile: FloatArray, steps: int) -> float:
    """Root mean square distance from equal steps of one colour each, against that from a line through their middles."""
    at = (np.arange(len(profile)) + 0.5) * steps / len(profile)
    number = np.minimum(at.astype(np.intp), steps - 1)
    inner = np.abs(at - number - 0.5) < _INNER
    total = np.zeros((steps, 3))
    np.add.at(total, number[inner], profile[inner])
    middles = total / np.bincount(number[inner], minlength=steps)[:, None]
    line = np.stack([np.interp(at - 0.5, np.arange(steps), channel) for channel in middles.T], axis=1)
    step_miss, line_miss = (profile[inner] - fit[inner] for fit in (middles[number], line))
    return float(np.linalg.norm(step_miss) / max(float(np.linalg.norm(line_miss)), 1e-9))


def _distinct(places: FloatArray, rows: int) -> FloatArray:
    """Drop what rings near the ends and near steps: places within a third of a step of an end or of the next."""
    if len(places) < 2:
        return places
    near = 0.34 * float(np.median(np.diff(places)))
    inner = places[(places > near) & (places < rows - near)]
    return inner[np.append(np.diff(inner) > near, True)] if len(inner) else inner


def maps_in_steps(steps: int) -> FloatArray:
    """Give the colours of all maps in so many steps, from low to high, shape (maps, steps, 3)."""
    _, maps = named_maps()
    at = np.clip((np.arange(steps) + 0.5) / steps * CELLS - 0.5, 0.0, CELLS - 1.0)
    low = np.minimum(at.astype(np.intp), CELLS - 2)
    return np.asarray(maps[:, low] + (maps[:, low + 1] - maps[:, low]) * (at - low)[:, None])


def step_colors(profile: FloatArray, steps: int) -> FloatArray:
    """Give the colours in the middle of each of equal steps, shape (steps, 3)."""
    rows = ((np.arange(steps) + 0.5) / steps * len(profile)).astype(np.intp)
    return np.asarray(profile[rows])


def stepped_ends(profile: FloatArray, flat: NDArray[np.bool_], ends: tuple[int, int]) -> tuple[int, int] | None:
    """Find the ends of a bar in few steps: a whole step before its first edge, and one after its last.

    An end may have the colour of what follows, or what follows may look like one more step; so each is tried with and
    without it, and the steps of a known map decide.

    Parameters
    ----------
    profile : ndarray, shape (n, 3)
        Longer than the bar.
    flat : ndarray of bool, shape (n,)
        Rows that are constant across.
    ends : tuple of int
        About where it ends.

    Returns
    -------
    tuple of int or None
        None where it has no regular steps, or none of a known map.
    """
    inside = _distinct(step_places(profile[ends[0] : ends[1]]), ends[1] - ends[0]) + ends[0]
    if len(inside) < FEWEST - 1:
        return None
    chain = _regular(inside, float(np.median(np.diff(inside))))
    if len(chain) < FEWEST - 1:
        return None
    length = float(chain[-1] - chain[0]) / (len(chain) - 1)
    if length < 4.0:
        return None
    best, found = _CLOSE_RMS, None
    for before in (0, 1, 2):
        for after in (0, 1, 2):
            steps = len(chain) - 1 + before + after
            first, last = round(chain[0] - before * length), round(chain[-1] + after * length)
            if first < 0 or last > len(profile) or not FEWEST <= steps <= MOST or flat[first:last].mean() < 0.9:
                continue
            rms = _distance(step_colors(profile[first:last], steps), steps)
            if rms < best:
                best, found = rms, (first, last)
    return found


def _regular(places: FloatArray, length: float) -> FloatArray:
    """Give the longest run of places that lie one length apart."""
    regular = np.abs(np.diff(places) - length) <= max(2.0, 0.12 * length)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], regular, [False]]).astype(np.int8)))
    if not len(edges):
        return places[:0]
    longest = int(np.argmax(edges[1::2] - edges[::2]))
    return places[edges[2 * longest] : edges[2 * longest + 1] + 1]


def _distance(colors: FloatArray, steps: int) -> float:
    maps = maps_in_steps(steps)
    both = np.concatenate([maps, maps[:, ::-1]])
    return float(np.sqrt(np.mean((both - colors) ** 2, axis=(1, 2)).min()))
