"""Whether a line of colours is one that a bar could have, and which of its ends is the low one."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.bar_steps import count_steps, maps_in_steps, step_colors
from irspot.decoding.named_maps import CELLS, named_maps

FloatArray = NDArray[np.float64]

LEAST_CONTRAST = 48.0
"""Range that some channel of a bar has to cover, of 255; below it a step of 8-bit colour is over 2 % of the scale."""
_STEADY_CELLS = 8
_NAMED_RMS = 30.0
"""A path nearer than this to a map (root mean square over cells and channels) may be that map. Measured on all
continuous maps: 1 at 64 steps and more, 10 at most at 16 steps, 7 typically and 28 at most at 8 steps."""
_PART_RMS = 7.0
_STRAIGHT_SHARE = 0.7
_CLEAR = 2.0
"""The other direction has to be this many times further away; grey apart, 52 or more was measured."""


def cells_of(profile: FloatArray, count: int) -> FloatArray:
    """Cut a profile into equal cells and average each.

    Parameters
    ----------
    profile : ndarray, shape (n, 3)
    count : int

    Returns
    -------
    ndarray, shape (count, 3)
    """
    return np.asarray(spans_of(profile, np.array([0.0]), np.array([float(len(profile))]), count)[0])


def spans_of(profile: FloatArray, starts: FloatArray, stops: FloatArray, count: int) -> FloatArray:
    """Cut many spans of a profile into equal cells and average each.

    Parameters
    ----------
    profile : ndarray, shape (n, 3)
    starts, stops : ndarray, shape (k,)
        In rows, within 0 to n.
    count : int

    Returns
    -------
    ndarray, shape (k, count, 3)
    """
    total = np.concatenate([np.zeros((1, 3)), np.cumsum(profile, axis=0)])
    edges = starts[:, None] + (stops - starts)[:, None] * np.linspace(0.0, 1.0, count + 1)
    whole = np.minimum(edges.astype(np.intp), len(profile) - 1)
    at_edges = total[whole] + (edges - whole)[..., None] * profile[whole]
    return np.asarray(np.diff(at_edges, axis=1) / ((stops - starts) / count)[:, None, None])


def contrast(profile: FloatArray) -> float:
    """Largest range of a channel."""
    return float(np.ptp(profile, axis=0).max())


def is_steady(profile: FloatArray) -> bool:
    """Say whether colours change steadily: all along, at a similar pace, mostly going on in their direction.

    The bounds leave room for every continuous map of matplotlib in 8 steps or more.
    """
    moves = np.diff(cells_of(profile, _STEADY_CELLS), axis=0)
    paces = np.linalg.norm(moves, axis=1)
    middle = float(np.median(paces))
    if paces.min() < max(3.0, 0.1 * middle) or paces.max() > 6.0 * middle:
        return False
    units = moves / paces[:, None]
    onward = np.sum(units[1:] * units[:-1], axis=1)
    return bool(np.sum(onward < 0.0) <= 2)


def is_even(profile: FloatArray) -> bool:
    """Say whether colours change at nearly one pace all along, as those of maps made for measuring do."""
    paces = np.linalg.norm(np.diff(cells_of(profile, _STEADY_CELLS), axis=0), axis=1)
    middle = float(np.median(paces))
    return bool(paces.min() > 0.35 * middle and paces.max() < 2.5 * middle and middle > 8.0)


@dataclass(frozen=True, slots=True)
class Match:
    """The nearest of matplotlib's maps: its name, how far away on average and at worst, and in which direction."""

    name: str
    rms: float
    worst: float
    forward: bool
    rms_other_way: float

    @property
    def certain(self) -> bool:
        """Whether the map is met closely, and in one direction only."""
        return self.rms <= _NAMED_RMS and self.rms_other_way > _CLEAR * max(self.rms, 8.0)


def nearest_map(profile: FloatArray) -> Match:
    """Find the map of matplotlib whose colours a profile has, in either direction."""
    names, maps = named_maps()
    steps = count_steps(profile)
    if steps:
        # Few steps: their own colours say more than cells that cut across them.
        maps, cells = maps_in_steps(steps), step_colors(profile, steps)
    else:
        cells = cells_of(profile, CELLS)
    forward = np.sqrt(np.mean((maps - cells) ** 2, axis=(1, 2)))
    backward = np.sqrt(np.mean((maps - cells[::-1]) ** 2, axis=(1, 2)))
    best = [float(forward.min()), float(backward.min())]
    is_forward = best[0] <= best[1]
    number = int(np.argmin(forward if is_forward else backward))
    worst = float(np.abs(maps[number] - (cells if is_forward else cells[::-1])).max())
    return Match(names[number], min(best), worst, is_forward, max(best))


@lru_cache(maxsize=1)
def _parts_of_maps() -> tuple[FloatArray, FloatArray]:
    """Give the cells of parts of all maps, both directions, and which share of its map each part is."""
    _, maps = named_maps()
    found, shares = [], []
    centres = (np.arange(CELLS) + 0.5) / CELLS
    for first in range(CELLS - 5):
        for last in range(first + 6, CELLS + 1):
            if last - first > CELLS - 2:
                continue
            at = np.clip(first + centres * (last - first) - 0.5, 0.0, CELLS - 1.0)
            low = np.minimum(at.astype(np.intp), CELLS - 2)
            found.append(maps[:, low] + (maps[:, low + 1] - maps[:, low]) * (at - low)[:, None])
            shares.append(np.full(len(maps), (last - first) / CELLS))
    parts = np.concatenate(found)
    both = np.concatenate([parts, parts[:, ::-1]])
    return both.reshape(len(both), -1), np.tile(np.concatenate(shares), 2)


def is_part_of_map(profile: FloatArray) -> bool:
    """Say whether a profile has the colours of a part of one of matplotlib's maps, as a bar that something covers has.

    A part that is a straight line in colour does not count from seven tenths on: grey bars often leave out black or
    white.
    """
    parts, shares = _parts_of_maps()
    cells = cells_of(profile, CELLS).ravel()
    rms = np.sqrt(np.mean((parts - cells) ** 2, axis=1))
    moves = np.diff(cells.reshape(CELLS, 3), axis=0)
    straight = float(np.linalg.norm(moves.sum(axis=0))) > 0.98 * float(np.linalg.norm(moves, axis=1).sum())
    counts = shares < _STRAIGHT_SHARE if straight else np.ones(len(shares), np.bool_)
    return bool((rms[counts] <= _PART_RMS).any())


def runs_from_low(profile: FloatArray) -> bool | None:
    """Say whether a profile's first colour is the low end.

    A map of matplotlib met closely decides. Otherwise lightness that only rises or only falls decides: dark is low,
    which is common practice and not certain (a grey bar belongs here: `gray` and `binary` are each other's reverse).

    Parameters
    ----------
    profile : ndarray, shape (n, 3)

    Returns
    -------
    bool or None
        None where neither decides.
    """
    match = nearest_map(profile)
    if match.certain:
        return match.forward
    rises = np.diff(cells_of(profile, _STEADY_CELLS) @ np.array([0.299, 0.587, 0.114]))
    if (rises > -2.0).all() and rises.sum() > LEAST_CONTRAST:
        return True
    if (rises < 2.0).all() and rises.sum() < -LEAST_CONTRAST:
        return False
    return None
