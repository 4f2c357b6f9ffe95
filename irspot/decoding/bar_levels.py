"""Which place along the bar each of its colours stands for, told more finely than to the pixel where steps show."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_MOST_LEVELS = 512
_USUAL_LEVELS = 256
_CHANCE = 12.0
"""Logarithm of how unlikely it has to be that changes anywhere fit by chance."""
_FEWEST_CHANGES = 24
_UNEVEN_PX = 0.75
_LOST_STEPS = 0.4
_MOST_LOST = 2
"""A step counts as lost when more than half of one is missing, with some room for ends found a little too far out."""
_LOOK_PX = 14
_BREAK = 2.0
"""Step of colour at an end against the largest of those just inside it, from which a pixel is mixed with what lies
beyond."""
_SAME_PACE = 0.85
"""Spread of the colour steps, against that without the supposed levels, below which the levels are taken as real."""


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """A bar's colours, each with its place.

    Parameters
    ----------
    places : ndarray, shape (k,)
        Middles of what the colours stand for, rising within 0 to 1.
    colors : ndarray, shape (k, 3)
    widths : ndarray, shape (k,)
        Share of the bar that each colour stands for.
    fixed : bool
        Whether equal steps showed, so that the places do not hang on where exactly the bar was taken to end.
    rounded : float
        Share of the bar by which its ends may be off besides, for whole steps having been counted there.
    """

    places: FloatArray
    colors: FloatArray
    widths: FloatArray
    fixed: bool = False
    rounded: float = 0.0


def exact_levels(path_rgb: FloatArray) -> Levels:
    """Place the colours of a bar that came through no lossy coding.

    Equal colours side by side are one level, in the middle of its pixels. A bar drawn from N equal steps shows more:
    every change of colour lies on one of N - 1 pixel edges, which fixes N and with it all places exactly; a bar
    shorter than its N colours shows N by which of its colour steps are double. End pixels that are mixed with what lies
    beyond, as resizing and drawing leave them, do not count.

    Parameters
    ----------
    path_rgb : ndarray, shape (n, 3)

    Returns
    -------
    Levels
    """
    first, last = _mixed_ends(path_rgb)
    if first or last:
        return _without_ends(path_rgb, first, last)
    length = len(path_rgb)
    starts = _run_starts(path_rgb)
    colors = path_rgb[starts]
    edges = np.concatenate([starts, [length]]) / length
    if len(starts) < 0.95 * length:
        steps = _steps_on_edges(starts[1:], length)
        even = _even_within(path_rgb, 0, 0)
        # Changes that are even by themselves fit more steps by chance, in turns one and two of them wide.
        if steps is not None and (even is None or steps * even.rounded <= 0.5):
            edges[1:-1] = np.floor(starts[1:] * steps / length + 0.5) / steps
            return replace(_between(edges, colors), fixed=True)
        return even or _of_usual_steps(_between(edges, colors))
    steps = _steps_by_pace(path_rgb)
    if steps is None:
        return _of_usual_steps(_between(edges, colors))
    level = np.floor((np.arange(length) + 0.5) * steps / length)[starts]
    return Levels((level + 0.5) / steps, colors, np.full(len(colors), 1.0 / steps), fixed=True)


def _without_ends(path_rgb: FloatArray, first: int, last: int) -> Levels:
    """Place the colours of a bar that lacks pixels at its ends."""
    even = _even_within(path_rgb, first, last)
    if even is not None:
        return even
    length = len(path_rgb)
    inner = path_rgb[first : length - last]
    starts = _run_starts(inner)
    edges = (np.concatenate([starts, [len(inner)]]) + first) / length
    return _of_usual_steps(_between(edges, inner[starts]))


def _even_within(path_rgb: FloatArray, first: int, last: int) -> Levels | None:
    """Place colours that change evenly in a bar that lacks pixels at its ends, and perhaps one more.

    A mixed pixel whose colour keeps the pace is not told by its colour, but changes at a place of its own.
    """
    length = len(path_rgb)
    for low, high in ((first, last), (first, max(last, 1)), (max(first, 1), last)):
        inner = path_rgb[low : length - high]
        starts = _run_starts(inner)
        even = _even_levels(starts[1:] + low, length, inner[starts]) if len(starts) < 0.95 * length else None
        if even is not None:
            return even
    return None


def _run_starts(path_rgb: FloatArray) -> NDArray[np.intp]:
    return np.flatnonzero(np.concatenate([[True], np.any(path_rgb[1:] != path_rgb[:-1], axis=1)]))


def _mixed_ends(path_rgb: FloatArray) -> tuple[int, int]:
    """Count the pixels at either end, two at most, whose colours break the line's pace."""
    if len(path_rgb) < _FEWEST_CHANGES:
        return 0, 0
    found = []
    for line in (path_rgb, path_rgb[::-1]):
        pace = np.linalg.norm(np.diff(line[:_LOOK_PX], axis=0), axis=1)
        breaks = np.flatnonzero(pace[:2] > _BREAK * max(float(pace[3:].max()), 1.0))
        found.append(int(breaks[-1]) + 1 if len(breaks) else 0)
    return found[0], found[1]


def _between(edges: FloatArray, colors: FloatArray) -> Levels:
    return Levels((edges[1:] + edges[:-1]) / 2.0, colors, np.diff(edges))


def _of_usual_steps(levels: Levels) -> Levels:
    # Eight bits of red, green and blue are drawn from 256 colours as a rule, even where resizing hides it.
    return Levels(levels.places, levels.colors, np.maximum(levels.widths, 1.0 / _USUAL_LEVELS))


def _steps_on_edges(changes: NDArray[np.intp], length: int) -> int | None:
    """Find the smallest number of equal steps, each over a pixel long, on whose edges every change of colour lies.

    Step m of N begins at the first pixel whose middle lies at or beyond ``m / N``.
    """
    if not len(changes):
        return None
    # With nearly as many steps as pixels, changes anywhere would fit: chance has to be ruled out.
    most = int(length * np.exp(-_CHANCE / len(changes)))
    for steps in range(len(changes) + 1, most + 1):
        pixel = np.ceil(np.arange(1, steps) * length / steps - 0.5 - 1e-9).astype(np.intp)
        if np.isin(changes, pixel).all():
            return steps
    return None


def _even_levels(changes: NDArray[np.intp], length: int, colors: FloatArray) -> Levels | None:
    """Place colours that change evenly in a bar whose ends were missed by a pixel, or are covered.

    How wide a step is follows from all changes; which steps lie at the ends, only to the nearest one.
    """
    if len(changes) < _FEWEST_CHANGES:
        return None
    number = _numbered(changes)
    width, begin = np.polyfit(number, changes, 1)
    if np.abs(changes - begin - width * number).max() > _UNEVEN_PX:
        return None
    seen = int(number[-1]) + 2
    lost = max(0, round(begin / width) - 1)
    steps = max(seen + lost, round(length / width - _LOST_STEPS))
    if steps > seen + lost + _MOST_LOST or lost > _MOST_LOST:
        return None
    edges = (np.concatenate([[0.0], number + 1.0, [seen]]) + lost) / steps
    return replace(_between(edges, colors), rounded=0.5 / steps)


def _numbered(changes: NDArray[np.intp]) -> FloatArray:
    """Number the changes of colour; where a colour takes several steps, as many changes are left out."""
    gaps = np.diff(changes)
    single = gaps <= np.median(gaps) + 1.0
    taken = np.where(single, 1.0, np.rint(gaps / gaps[single].mean()))
    return np.concatenate([[0.0], np.cumsum(taken)])


def _steps_by_pace(path_rgb: FloatArray) -> int | None:
    """Find how many equal steps a bar shorter than them was drawn from, by its double steps of colour."""
    length = len(path_rgb)
    pace = np.linalg.norm(np.diff(path_rgb, axis=0), axis=1)
    plain = _unevenness(pace)
    if plain < 0.05:
        return None
    found, least = None, _SAME_PACE * plain
    for steps in range(length + 1, min(_MOST_LEVELS, 3 * length) + 1):
        moved = np.diff(np.floor((np.arange(length) + 0.5) * steps / length))
        spread = _unevenness(pace / moved)
        if spread < least:
            found, least = steps, spread
    return found


def _unevenness(pace: FloatArray) -> float:
    """Root mean square change from one colour step to the next, relative to the steps."""
    return float(np.sqrt(np.mean(np.diff(pace) ** 2)) / max(float(np.mean(pace)), 1e-9))
