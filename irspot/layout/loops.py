"""The edge of a board among the lines of a drawing: ends joined to loops, of which the largest counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.shapes import in_polygon, signed_area

FloatArray = NDArray[np.float64]

FLAT_MM: Final = 0.02
"""How far a chord may stand off its arc: a fifth of what placing a board is certain to."""
JOIN_MM: Final = 0.02
"""Ends closer than this are one corner: drawings in inches are rounded to a thousandth of one, or finer."""
_STRAIGHT_MM: Final = 1e-6
_LEAST_MM2: Final = 1.0


@dataclass(frozen=True, slots=True)
class Loops:
    """What lines make.

    Parameters
    ----------
    largest : ndarray, shape (n, 2) or None
        Corners of the largest loop, counter-clockwise; None where no lines close.
    inside, beside : int
        Other loops within it, and elsewhere.
    open_ends : int
        Lines that belong to no loop.
    gap_mm : float
        The smallest gap between two loose ends; NaN where there are none.
    """

    largest: FloatArray | None
    inside: int
    beside: int
    open_ends: int
    gap_mm: float


def loops_of(lines: Sequence[FloatArray]) -> Loops:
    """Join lines at their ends and find the largest loop.

    Parameters
    ----------
    lines : sequence of ndarray, shape (n, 2)
        mm; curves already cut into chords.
    """
    closed, loose = _joined([line for line in lines if len(line) > 1])
    rings = [ring for line in closed if len(ring := tidy(line)) > 2 and abs(signed_area(ring)) > _LEAST_MM2]
    rings.sort(key=lambda ring: -abs(signed_area(ring)))
    gap = _smallest_gap(loose)
    if not rings:
        return Loops(None, 0, 0, len(loose), gap)
    largest = rings[0] if signed_area(rings[0]) > 0.0 else rings[0][::-1]
    within = sum(bool(in_polygon(largest, ring[:1, 0], ring[:1, 1])[0]) for ring in rings[1:])
    return Loops(largest, within, len(rings) - 1 - within, len(loose), gap)


def tidy(line: FloatArray) -> FloatArray:
    """Take from a closed line its repeated end, corners that stand twice and those on a straight line."""
    ring = np.round(line, 6)
    if np.hypot(*(ring[0] - ring[-1])) <= JOIN_MM:
        ring = ring[:-1]
    ring = ring[np.any(ring != np.roll(ring, 1, axis=0), axis=1)]
    if len(ring) < 3:
        return ring
    before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
    along = after - before
    length = np.maximum(np.hypot(*along.T), 1e-12)
    off = np.abs(along[:, 0] * (ring - before)[:, 1] - along[:, 1] * (ring - before)[:, 0]) / length
    kept: FloatArray = ring[off > _STRAIGHT_MM]
    return kept


def _joined(lines: Sequence[FloatArray]) -> tuple[list[FloatArray], list[FloatArray]]:
    """Join lines end to end; give closed ones and loose ones."""
    closed = [line for line in lines if _closes(line)]
    left = [line for line in lines if not _closes(line)]
    loose: list[FloatArray] = []
    while left:
        chain = left.pop()
        while not _closes(chain) and left:
            ends = np.array([(line[0], line[-1]) for line in left])
            away = np.hypot(*(ends - chain[-1]).transpose(2, 0, 1))
            nearest = int(np.argmin(away))
            if away.flat[nearest] > JOIN_MM:
                if not _reaches(chain[0], ends):
                    break
                chain = chain[::-1]
                continue
            line = left.pop(nearest // 2)
            chain = np.concatenate([chain, line[1:] if nearest % 2 == 0 else line[-2::-1]])
        (closed if _closes(chain) else loose).append(chain)
    return closed, loose


def _reaches(end: FloatArray, ends: FloatArray) -> bool:
    return bool(np.hypot(*(ends - end).transpose(2, 0, 1)).min() <= JOIN_MM)


def _closes(line: FloatArray) -> bool:
    return len(line) > 3 and bool(np.hypot(*(line[0] - line[-1])) <= JOIN_MM)


def _smallest_gap(loose: Sequence[FloatArray]) -> float:
    ends = np.array([end for line in loose for end in (line[0], line[-1])])
    if len(ends) < 2:
        return float("nan")
    gaps = np.hypot(*(ends[:, None] - ends[None]).transpose(2, 0, 1))
    np.fill_diagonal(gaps, np.inf)
    return float(gaps.min())


def arc_points(
    start: tuple[float, float],
    end: tuple[float, float],
    centre: tuple[float, float],
    *,
    clockwise: bool,
    flat: float = FLAT_MM,
) -> FloatArray:
    """Cut an arc into chords, each within `flat` of it; equal ends mean a whole turn.

    Parameters
    ----------
    start, end, centre : tuple of float
        Of one unit, as is `flat`.
    clockwise : bool
    flat : float

    Returns
    -------
    ndarray, shape (n, 2)
        A chord over an angle t of radius r stands off its arc by ``r (1 - cos(t / 2))``.
    """
    a = np.array(start) - np.array(centre)
    b = np.array(end) - np.array(centre)
    radius = float(np.hypot(*a))
    first, last = (float(np.arctan2(v[1], v[0])) for v in (a, b))
    sweep = (first - last if clockwise else last - first) % (2.0 * np.pi)
    if np.hypot(*(a - b)) < 1e-9:
        sweep = 2.0 * np.pi
    step = 2.0 * float(np.arccos(max(-1.0, 1.0 - flat / max(radius, flat))))
    count = max(1, int(np.ceil(sweep / step)))
    angles = first + (-sweep if clockwise else sweep) * np.linspace(0.0, 1.0, count + 1)
    # Radii of the two ends differ by the rounding of the file; in between they go over into one another.
    radii = np.linspace(radius, float(np.hypot(*b)), count + 1)
    points: FloatArray = np.array(centre) + radii[:, None] * np.column_stack([np.cos(angles), np.sin(angles)])
    points[0], points[-1] = start, end
    return points
