"""Whether parts fit the board they are said to be on; if not, which other unit, side or origin they would fit by."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.layout.lengths import MM_PER
from irspot.layout.part import PartList
from irspot.layout.placing import CORNERS, REAR_WAYS, Corner, Placing, Rear, corner_plane
from irspot.layout.plane import Plane
from irspot.shapes import Polygon

FloatArray = NDArray[np.float64]

INSIDE: Final = 0.97
"""Share of parts whose centres must lie on a board they fit: connectors hang over edges, marks sit on rails."""
SPREAD: Final = 0.2
"""Share of the board that parts reach across at least, in one direction: all in one corner is another unit."""
_SPREAD_OF_ANOTHER: Final = 0.4
"""The same of a unit that is proposed in place of the one stated."""
_OVER: Final = 1.1
"""Parts may reach over the board by so much: connectors hang over its edges, marks sit on rails."""
_FEW: Final = 5
"""Parts below which nothing is said of how far they reach."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One way of reading a list.

    Parameters
    ----------
    unit : str
    rear : {"as-listed", "mirrored", "negated"}
    origin : str
        A corner; or empty where `plane` was found otherwise.
    plane : Plane or None
    all_rear : bool
        Whether a list without sides is the rear's.
    """

    unit: str
    rear: Rear
    origin: Corner | None
    plane: Plane | None = None
    all_rear: bool = False


@dataclass(frozen=True, slots=True)
class Fit:
    """How parts lie on the board by one reading.

    Parameters
    ----------
    inside : float
        Share of centres inside the outline.
    spread : float
        Share of the board reached across, of the direction in which it is more.
    count : int
    """

    inside: float
    spread: float
    count: int

    @property
    def good(self) -> bool:
        """Whether parts of this board would lie so."""
        return self.inside >= INSIDE and (self.spread >= SPREAD or self.count < _FEW)


def fit_of(parts: PartList, outline: Polygon, by: Reading) -> Fit:
    """Say how the parts of a list lie on a board.

    Parameters
    ----------
    parts : PartList
        In mm by its `unit`.
    outline : Polygon
    by : Reading
        With a unit that may be another.
    """
    factor = MM_PER[by.unit] / MM_PER[parts.unit]
    xy = factor * np.array([(part.x_mm, part.y_mm) for part in parts.parts])
    rear = np.array([part.side == "rear" or by.all_rear for part in parts.parts])
    plane = by.plane if by.origin is None else corner_plane(by.origin, outline)
    assert plane is not None
    places = Placing(plane, by.rear, outline.box_mm[2]).centres(xy[:, 0], xy[:, 1], rear)
    size = np.array(outline.box_mm[2:])
    spread = float(np.max(np.ptp(places, axis=0) / size))
    return Fit(float(np.mean(outline.contains(places[:, 0], places[:, 1]))), spread, len(parts.parts))


def proposals(parts: PartList, outline: Polygon, given: Reading, *, unit_stated: bool) -> tuple[str, ...]:
    """Say by which other reading the parts would lie on the board.

    Parameters
    ----------
    parts : PartList
    outline : Polygon
    given : Reading
        By which they do not.
    unit_stated : bool
        Whether the file itself states its unit.

    Returns
    -------
    tuple of str
        What to change, as people would; of readings with fewest changes; empty where none fits.
    """
    for changed in _changes(parts, outline, given):
        fits = [(fit, by) for by in changed if (fit := fit_of(parts, outline, by)).good]
        if fits:
            return _words(fits, given, unit_stated)
    return ()


def units_of_about(parts: PartList, outline: Polygon, least: float = SPREAD) -> list[str]:
    """Give the units by which the numbers of a list reach about as far as the board, wherever they count from.

    Parameters
    ----------
    parts : PartList
        Its numbers in mm by its `unit`, or as they are.
    outline : Polygon
    least : float
        Share of the board to reach across.
    """
    shares = []
    for side in ("front", "rear"):
        # Each side by itself: sides that count in two directions reach twice as far together.
        places = [(part.x_mm, part.y_mm) for part in parts.parts if part.side == side]
        if places:
            shares.append(np.max(np.ptp(places, axis=0) / np.array(outline.box_mm[2:])))
    reach = float(max(shares)) / MM_PER.get(parts.unit, 1.0)
    possible = {unit: mm * reach for unit, mm in MM_PER.items() if least <= mm * reach <= _OVER}
    # Any unit small enough puts all parts on the board; the one by which they fill it is meant.
    return [unit for unit, share in possible.items() if share > 0.5 * max(possible.values())]


def _changes(parts: PartList, outline: Polygon, given: Reading) -> Iterator[list[Reading]]:
    """Give other readings: those with one change, then those with two."""
    likely = units_of_about(parts, outline, _SPREAD_OF_ANOTHER)
    units = [replace(given, unit=unit) for unit in likely if unit != given.unit]
    has_rear = any(part.side == "rear" for part in parts.parts)
    ways = [replace(given, rear=rear) for rear in REAR_WAYS if has_rear and rear != given.rear]
    if not parts.has_sides and not has_rear:
        ways = [replace(given, rear=rear, all_rear=True) for rear in REAR_WAYS if rear != "as-listed"]
    corners = [] if given.origin is None else [replace(given, origin=c) for c in CORNERS if c != given.origin]
    yield [*units, *ways, *corners]
    pairs = [replace(one, rear=way.rear, all_rear=way.all_rear) for one in (*units, *corners) for way in ways]
    yield [*pairs, *(replace(corner, unit=one.unit) for corner in corners for one in units)]


def _words(fits: Sequence[tuple[Fit, Reading]], given: Reading, unit_stated: bool) -> tuple[str, ...]:
    return tuple(dict.fromkeys(_change(by, given, unit_stated) for _, by in fits))


def _change(by: Reading, given: Reading, unit_stated: bool) -> str:
    words = []
    if by.unit != given.unit:
        in_the_file = f"the unit {by.unit} where the list says {given.unit}: correct it there"
        words.append(in_the_file if unit_stated else f"--unit {by.unit}")
    if by.all_rear:
        words.append("--list-side rear")
    if by.rear != given.rear:
        words.append(f"--bottom {by.rear}")
    if by.origin != given.origin:
        words.append(f"--origin {by.origin}")
    return " and ".join(words)
