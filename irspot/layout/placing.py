"""Parts carried from their list's system to the board's: millimetres seen from the front, and what is wrong if not."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from irspot.layout.lengths import MM_PER
from irspot.layout.part import Part, Size
from irspot.layout.plane import Plane, misses, shifted, similarity
from irspot.shapes import Polygon, Shape, rectangle

FloatArray = NDArray[np.float64]
Rear = Literal["as-listed", "mirrored", "negated"]
REAR_WAYS: Final[tuple[Rear, ...]] = get_args(Rear)
"""How a list gives parts of the rear: seen from the front like all others; seen from behind, from the board's other
corner; or with the sign of x turned round."""
Corner = Literal["lower-left", "lower-right", "upper-left", "upper-right"]
CORNERS: Final[tuple[Corner, ...]] = get_args(Corner)
SCALE_OFF: Final = 0.01
"""Two points may be off by a mm in a hundred before their distance contradicts the unit."""
POINTS_OFF_MM: Final = 1.0
"""Points read from a drawing agree far better; beyond it one is another part, or the list is seen from behind."""


@dataclass(frozen=True, slots=True)
class Placing:
    """How places of a list become places of the board.

    Parameters
    ----------
    plane : Plane
        Turn and move; of the rear too, once its mirroring is undone.
    rear : {"as-listed", "mirrored", "negated"}
    width_mm : float
        Of the outline, about whose middle ``mirrored`` parts turn over.
    """

    plane: Plane
    rear: Rear
    width_mm: float

    def centres(self, x: FloatArray, y: FloatArray, on_rear: NDArray[np.bool_]) -> FloatArray:
        """Carry places, each shape (n,), to the board, shape (n, 2)."""
        flip = on_rear & (self.rear == "negated")
        placed = self.plane.carry(np.column_stack([np.where(flip, -x, x), y]))
        over = on_rear & (self.rear == "mirrored")
        placed[over, 0] = self.width_mm - placed[over, 0]
        return placed

    def shape(self, part: Part, size: Size) -> Shape:
        """Give the part's body as a region of the board."""
        x, y = self.centres(np.array([part.x_mm]), np.array([part.y_mm]), np.array([part.side == "rear"]))[0].tolist()
        turn = part.rotation_deg
        if part.side == "rear" and self.rear == "negated":
            turn = self.plane.turn_deg - turn
        elif part.side == "rear" and self.rear == "mirrored":
            turn = -(self.plane.turn_deg + turn)
        else:
            turn += self.plane.turn_deg
        return body(x, y, turn, size)


def body(x_mm: float, y_mm: float, turn_deg: float, size: Size) -> Polygon:
    """Give the outline of a body turned counter-clockwise about its centre, in nanometres and no finer.

    Examples
    --------
    >>> body(10.0, 20.0, 90.0, Size(4.0, 2.0)).box_mm
    (9.0, 18.0, 11.0, 22.0)
    """
    quarters = turn_deg / 90.0
    if abs(quarters - round(quarters)) < 1e-9:
        length, width = (size.length_mm, size.width_mm) if round(quarters) % 2 == 0 else (size.width_mm, size.length_mm)
        low_x, low_y = _tidy(x_mm - 0.5 * length), _tidy(y_mm - 0.5 * width)
        return rectangle(low_x, low_y, _tidy(length), _tidy(width))
    turn = math.radians(turn_deg)
    corners = []
    for right, up in ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)):
        dx, dy = right * size.length_mm, up * size.width_mm
        x = x_mm + math.cos(turn) * dx - math.sin(turn) * dy
        y = y_mm + math.sin(turn) * dx + math.cos(turn) * dy
        corners.append((_tidy(x), _tidy(y)))
    return Polygon(tuple(corners))


def _tidy(value: float) -> float:
    """Leave out what is rounding only: 12.700000000000001 is 12.7."""
    return round(value, 9)


def corner_plane(corner: Corner, outline: Polygon) -> Plane:
    """Give the mapping of a list that counts from a corner of the outline's box."""
    _, _, width, height = outline.box_mm
    return shifted(width if corner.endswith("right") else 0.0, height if corner.startswith("upper") else 0.0)


def plane_by_points(
    source: FloatArray, target: FloatArray, names: Sequence[str], unit: str
) -> tuple[Plane, str] | tuple[None, str]:
    """Fit turn and move to named points.

    Parameters
    ----------
    source, target : ndarray, shape (n, 2)
        Two or more places in the list and on the board, mm.
    names : sequence of str
        Of the points.
    unit : str
        The list's.

    Returns
    -------
    Plane or None, str
        What was found, for people; or None, and why the points make no mapping and what to try.
    """
    apart = float(np.max(np.hypot(*(source - source.mean(axis=0)).T)))
    if apart < 1.0:
        return None, "the points lie in one place of the list; give parts far from one another"
    free = similarity(source, target)
    if abs(free.scale - 1.0) > SCALE_OFF and misses(free, source, target).max() <= POINTS_OFF_MM:
        return None, _scale_words(free.scale, unit)
    plane = similarity(source, target, scale=1.0)
    missed = misses(plane, source, target)
    worst = int(np.argmax(missed))
    if missed[worst] > POINTS_OFF_MM:
        mirrored = misses(similarity(source, target, scale=1.0, mirror=True), source, target)
        if mirrored.max() <= POINTS_OFF_MM:
            return None, "the points fit only if the list is turned over: it is seen from behind"
        return None, f"'{names[worst]}' is missed by {missed[worst]:.2f} mm; check its place"
    turn = (plane.turn_deg + 0.0) % 360.0
    moved = f"moved by {plane.c:.2f}, {plane.f:.2f} mm"
    return _straight(plane), f"turned by {turn:.2f}°, {moved}, points missed by up to {missed[worst]:.2f} mm"


def _scale_words(scale: float, unit: str) -> str:
    """Say what a scale that is not 1 means: a unit, where there is one of that ratio."""
    found = f"the points lie {scale:.4g} times as far apart on the board as in the list, read in {unit}"
    known = [name for name, mm in MM_PER.items() if abs(scale * MM_PER[unit] / mm - 1.0) <= SCALE_OFF]
    if known:
        return f"{found}: the list is in {known[0]}, --unit {known[0]}"
    return f"{found}: check their places, and that both are there"


def _straight(plane: Plane) -> Plane:
    """Take a turn that is a quarter but for rounding as one, so that bodies stay rectangles along the board."""
    quarter = round(plane.turn_deg / 90.0)
    if abs(plane.turn_deg - 90.0 * quarter) > 1e-7:
        return plane
    a, d = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[quarter % 4]
    return Plane(a, -d, plane.c, d, a, plane.f)
