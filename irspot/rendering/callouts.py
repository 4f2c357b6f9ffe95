"""Where callouts go: beside the frame, near their spots, never over one another, leaders uncrossed.

Pure geometry in px of the picture, y down. All callouts of one picture have the same height, so two of them can change
places without overlapping; that is what keeps the uncrossing simple.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from irspot.rendering.leaders import Leader, Point, bent_clear, turns

FloatArray = NDArray[np.float64]
GutterSide = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle ``(x0, y0)`` to ``(x1, y1)`` in px, the far ends exclusive."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def width(self) -> float:
        """From left to right."""
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        """From top to bottom."""
        return self.y1 - self.y0

    def overlaps(self, other: Box) -> bool:
        """Whether the two share an area."""
        return self.x0 < other.x1 and other.x0 < self.x1 and self.y0 < other.y1 and other.y0 < self.y1

    def holds(self, other: Box) -> bool:
        """Whether the other lies wholly inside."""
        return self.x0 <= other.x0 and self.y0 <= other.y0 and other.x1 <= self.x1 and other.y1 <= self.y1


@dataclass(frozen=True, slots=True)
class Gutter:
    """Room for callouts on one side of the frame.

    Parameters
    ----------
    side : {"left", "right"}
    box : Box
    """

    side: GutterSide
    box: Box

    def capacity(self, height: float, gap: float) -> int:
        """How many callouts of a height fit, at least `gap` apart."""
        whole = math.floor(self.box.y1) - math.ceil(self.box.y0)
        return max(0, int((whole + gap) // (height + gap)))

    @property
    def port_x(self) -> float:
        """Where leaders arrive: the edge that faces the frame."""
        return self.box.x1 if self.side == "left" else self.box.x0


@dataclass(frozen=True, slots=True)
class Place:
    """Where one callout goes.

    Parameters
    ----------
    side : {"left", "right"}
    box : Box
    leader : tuple of two or three points, or None
        From the edge of the spot's ring to the callout; None without a spot.
    """

    side: GutterSide
    box: Box
    leader: Leader | None

    @property
    def port(self) -> Point:
        """Where its leader arrives: the middle of the edge that faces the frame."""
        return self.box.x1 if self.side == "left" else self.box.x0, 0.5 * (self.box.y0 + self.box.y1)


def place_callouts(
    spots: Sequence[Point | None], gutters: Sequence[Gutter], height: int, gap: int, ring: float
) -> tuple[Place, ...]:
    """Give every spot a callout in one of the gutters.

    Parameters
    ----------
    spots : sequence of (x, y) or None
        What each callout points at; None for one that points at nothing.
    gutters : sequence of Gutter
        One, or the left and the right one.
    height, gap : int
        Of every callout, and the least distance between two, px.
    ring : float
        Radius around a spot that leaders keep out of where they can, px.

    Returns
    -------
    tuple of Place
        In the order of `spots`.

    Raises
    ------
    ValueError
        If the gutters have not room for all.

    Notes
    -----
    In each gutter the callouts first stand in the order of their spots' heights, each as near its spot's height as the
    others allow. Wherever two leaders cross, their callouts change places: the two uncrossed leaders are shorter
    together than the crossed ones (triangle inequality), so this comes to an end, and then none cross. Leaders of
    different gutters cannot cross, because the gutters share out the spots by x. Last, leaders that still run through
    another spot's ring are bent around it where that crosses nothing.
    """
    places: dict[int, Place] = {}
    rings = _points(spots)
    for gutter, members in _shared_out(spots, gutters, height, gap):
        pointing = sorted((i for i in members if spots[i] is not None), key=lambda i: _at(spots[i])[::-1])
        ordered = pointing + [i for i in members if spots[i] is None]
        wanted = [_at(spots[i])[1] for i in pointing] + [gutter.box.y1] * (len(ordered) - len(pointing))
        tops = spread(wanted, gutter.box.y0, gutter.box.y1, height, gap)
        ports = [(gutter.port_x, top + 0.5 * height) for top in tops]
        slots = uncrossed(_points([spots[i] for i in pointing]), _points(ports), rings, ring)
        for i, slot in zip(ordered, [*slots, *range(len(slots), len(ordered))], strict=True):
            box = Box(gutter.box.x0, tops[slot], gutter.box.x1, tops[slot] + height)
            places[i] = Place(gutter.side, box, straight_leader(spots[i], ports[slot], ring))
    straight = [places[i].leader for i in range(len(spots))]
    leaders = bent_clear(straight, spots, ring, _between(gutters, rings))
    return tuple(replace(places[i], leader=leader) for i, leader in enumerate(leaders))


def _between(gutters: Sequence[Gutter], rings: FloatArray) -> tuple[float, float, float, float]:
    """Where leaders may run: between the gutters, or between the one gutter and the furthest spot."""
    xs = [gutter.port_x for gutter in gutters] + rings[:, 0].tolist()
    return min(xs), gutters[0].box.y0, max(xs), gutters[0].box.y1


def _points(spots: Sequence[Point | None]) -> FloatArray:
    return np.array([spot for spot in spots if spot is not None], np.float64).reshape(-1, 2)


def _at(spot: Point | None) -> Point:
    return spot or (0.0, 0.0)


def spread(wanted: Sequence[float], top: float, bottom: float, height: int, gap: int) -> list[int]:
    """Stack boxes of one height as near as they can be to where they want their middles, in the order given.

    Parameters
    ----------
    wanted : sequence of float
        Rising.
    top, bottom : float
        Limits of the stack.
    height, gap : int

    Returns
    -------
    list of int
        Upper edges, at least ``height + gap`` apart: least squares by pooling neighbours that would overlap
        (isotonic regression), then held within the limits.
    """
    pitch = height + gap
    pools: list[list[float]] = []  # sum and count of the offsets pooled
    for i, middle in enumerate(wanted):
        pools.append([middle - 0.5 * height - i * pitch, 1.0])
        while len(pools) > 1 and pools[-2][0] / pools[-2][1] >= pools[-1][0] / pools[-1][1]:
            total, count = pools.pop()
            pools[-1][0] += total
            pools[-1][1] += count
    offsets = [total / count for total, count in pools for _ in range(int(count))]
    highest, lowest = math.ceil(top), math.floor(bottom) - height - (len(wanted) - 1) * pitch
    return [min(max(round(offset), highest), max(lowest, highest)) + i * pitch for i, offset in enumerate(offsets)]


def uncrossed(spots: FloatArray, ports: FloatArray, rings: FloatArray, ring: float) -> list[int]:
    """Match spots with ports so that no two leaders cross, and few pass another spot's ring.

    Parameters
    ----------
    spots : ndarray, shape (n, 2)
    ports : ndarray, shape (m, 2)
        At least as many; the first n are used.
    rings : ndarray, shape (k, 2)
        Places to keep clear of.
    ring : float
        Their radius, px.

    Returns
    -------
    list of int
        The port of each spot.
    """
    count = len(spots)
    if count == 0:
        return []
    ports = ports[:count]
    crossing = _crossings(spots, ports)
    passing = _passings(spots, ports, rings, ring)
    slots = list(range(count))
    pairs = [(i, j) for i in range(count) for j in range(i + 1, count)]
    _swap_while(slots, pairs, lambda i, j: bool(crossing[i, slots[i], j, slots[j]]))

    def clearer(i: int, j: int) -> bool:
        a, b = slots[i], slots[j]
        if passing[i, b] + passing[j, a] >= passing[i, a] + passing[j, b]:
            return False
        slots[i], slots[j] = b, a
        crosses = any(
            crossing[k, slots[k], other, slots[other]] for k in (i, j) for other in range(count) if other != k
        )
        slots[i], slots[j] = a, b
        return not crosses

    _swap_while(slots, pairs, clearer)
    return slots


def _swap_while(slots: list[int], pairs: list[tuple[int, int]], wanted: Callable[[int, int], bool]) -> None:
    """Swap the slots of pairs as long as one of them is wanted swapped."""
    # Every swap shortens the leaders or clears a ring, so it ends by itself; the bound is for rounding.
    for _ in range(len(pairs) + 1):
        swapped = False
        for i, j in pairs:
            if wanted(i, j):
                slots[i], slots[j] = slots[j], slots[i]
                swapped = True
        if not swapped:
            return


def _crossings(spots: FloatArray, ports: FloatArray) -> NDArray[np.bool_]:
    """Say which leaders cross: ``[i, a, j, b]`` for spot i to port a and spot j to port b."""
    a, b = spots[:, None, None, None], ports[None, :, None, None]
    c, d = spots[None, None, :, None], ports[None, None, None, :]
    return (turns(a, b, c) * turns(a, b, d) < 0) & (turns(c, d, a) * turns(c, d, b) < 0)


def _passings(spots: FloatArray, ports: FloatArray, rings: FloatArray, ring: float) -> NDArray[np.int64]:
    """Count, for spot i and port a, the other rings that the leader between them passes through."""
    start, along = spots[:, None, None], (ports[None, :] - spots[:, None])[:, :, None]
    to_ring = rings[None, None] - start
    length_squared = np.maximum(np.sum(along * along, axis=-1), 1e-12)
    share = np.clip(np.sum(to_ring * along, axis=-1) / length_squared, 0.0, 1.0)
    distance = np.hypot(*np.moveaxis(to_ring - share[..., None] * along, -1, 0))
    own = np.all(to_ring == 0.0, axis=-1)
    return np.asarray(np.sum((distance < ring) & ~own, axis=-1), np.int64)


def straight_leader(spot: Point | None, port: Point, ring: float) -> Leader | None:
    """Lead straight from the ring around a spot to where a callout receives it; None without a spot."""
    if spot is None:
        return None
    dx, dy = port[0] - spot[0], port[1] - spot[1]
    share = min(1.0, ring / max(float(np.hypot(dx, dy)), 1e-9))
    return (spot[0] + share * dx, spot[1] + share * dy), port


def _shared_out(
    spots: Sequence[Point | None], gutters: Sequence[Gutter], height: int, gap: int
) -> list[tuple[Gutter, list[int]]]:
    """Share the spots out among the gutters: the leftmost to the left, as evenly as the middle line allows."""
    rooms = [gutter.capacity(height, gap) for gutter in gutters]
    if sum(rooms) < len(spots):
        raise ValueError(f"room for {sum(rooms)} callouts, not for {len(spots)}")
    if len(gutters) == 1:
        return [(gutters[0], list(range(len(spots))))]
    pointing = sorted((i for i, spot in enumerate(spots) if spot is not None), key=lambda i: _at(spots[i]))
    split = _split([_at(spots[i])[0] for i in pointing], gutters, rooms)
    left, right = pointing[:split], pointing[split:]
    for i in (i for i, spot in enumerate(spots) if spot is None):
        to_left = len(right) >= rooms[1] or (len(left) < rooms[0] and len(left) < len(right))
        (left if to_left else right).append(i)
    return [(gutters[0], left), (gutters[1], right)]


def _split(rising_x: list[float], gutters: Sequence[Gutter], rooms: list[int]) -> int:
    """How many of the spots go left: those left of the middle, but neither side gets more than two thirds."""
    count = len(rising_x)
    middle = 0.5 * (gutters[0].box.x1 + gutters[1].box.x0)
    most = max(1, -(-2 * count // 3))
    fair = min(max(sum(x < middle for x in rising_x), count - most), most)
    return min(max(fair, count - rooms[1]), rooms[0], count)
