"""The edge of a board among the lines of a drawing: ends joined to loops, of which the largest counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.files.grammar import MAX_LENGTH_MM
from irspot.shapes import in_polygon, signed_area

FloatArray = NDArray[np.float64]

FLAT_MM: Final = 0.02
"""How far a chord may stand off its arc: a fifth of what placing a board is certain to."""
JOIN_MM: Final = 0.02
"""Ends closer than this are one corner: drawings in inches are rounded to a thousandth of one, or finer."""
MAX_DRAWING_BYTES: Final = 50_000_000
"""Of a profile layer or drawing, which may hold the whole board."""
MAX_LINES: Final = 100_000
_MOST_ENDS: Final = 2000
"""Loose ends up to which the nearest two are looked for."""
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
    ends = _Ends([line for line in lines if not _closes(line)])
    loose: list[FloatArray] = []
    while (chain := ends.any_line()) is not None:
        # Forwards as far as it goes, then from its other end.
        for _ in range(2):
            while not _closes(chain) and (follower := ends.take_near(chain[-1])) is not None:
                chain = np.concatenate([chain, follower[1:]])
            chain = chain[::-1]
        (closed if _closes(chain) else loose).append(chain)
    return closed, loose


class _Ends:
    """Lines by where their ends are, in cells of the size that ends are joined over."""

    def __init__(self, lines: Sequence[FloatArray]) -> None:
        self._left = dict(enumerate(lines))
        self._cells: dict[tuple[int, int], list[tuple[int, int]]] = {}
        for number, line in self._left.items():
            for end in (0, -1):
                self._cells.setdefault(_cell(line[end]), []).append((number, end))

    def any_line(self) -> FloatArray | None:
        """Take any line that is left; None where none is."""
        return self._left.pop(next(iter(self._left))) if self._left else None

    def take_near(self, place: FloatArray) -> FloatArray | None:
        """Take the line with the nearest end, turned so that it begins there; None where no end is near."""
        x, y = _cell(place)
        found = [
            (float(np.hypot(*(self._left[number][end] - place))), number, end)
            for dx in (-1, 0, 1)
            for dy in (-1, 0, 1)
            for number, end in self._cells.get((x + dx, y + dy), ())
            if number in self._left
        ]
        away, number, end = min(found, default=(np.inf, 0, 0))
        if away > JOIN_MM:
            return None
        line = self._left.pop(number)
        return line if end == 0 else line[::-1]


def _cell(place: FloatArray) -> tuple[int, int]:
    return int(np.floor(place[0] / JOIN_MM)), int(np.floor(place[1] / JOIN_MM))


def _closes(line: FloatArray) -> bool:
    return len(line) > 3 and bool(np.hypot(*(line[0] - line[-1])) <= JOIN_MM)


def _smallest_gap(loose: Sequence[FloatArray]) -> float:
    ends = np.array([end for line in loose for end in (line[0], line[-1])])
    if not 2 <= len(ends) <= _MOST_ENDS:
        return float("nan")
    gaps = np.hypot(*(ends[:, None] - ends[None]).transpose(2, 0, 1))
    np.fill_diagonal(gaps, np.inf)
    return float(gaps.min())


def refuse_far(places_mm: FloatArray) -> None:
    """Refuse places that are on no board: nothing may depend on how many chords an arc of a mile has.

    Raises
    ------
    ValueError
    """
    if not bool(np.all(np.abs(places_mm) <= MAX_LENGTH_MM)):
        raise ValueError(f"places lie further off than {MAX_LENGTH_MM / 1000.0:g} m")


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
