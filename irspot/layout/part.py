"""Parts as a list has them, and the list."""

from __future__ import annotations

from dataclasses import dataclass

from irspot.board import Side


@dataclass(frozen=True, slots=True)
class Size:
    """A part's body seen from above, at rotation 0.

    Parameters
    ----------
    length_mm, width_mm : float
        Along x and y.
    height_mm : float or None
        Of its top above the board; None where nobody says.
    """

    length_mm: float
    width_mm: float
    height_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """One line of a part position list.

    Parameters
    ----------
    ref : str
        Its reference designator.
    x_mm, y_mm : float
        Its centre, in the list's own system.
    rotation_deg : float
        Counter-clockwise.
    side : {"front", "rear"}
    package, value : str
    size : Size or None
        Where the list states it.
    line : int
        Of the file.
    """

    ref: str
    x_mm: float
    y_mm: float
    rotation_deg: float = 0.0
    side: Side = "front"
    package: str = ""
    value: str = ""
    size: Size | None = None
    line: int = 0


@dataclass(frozen=True, slots=True)
class PartList:
    """A part position list.

    Parameters
    ----------
    file : str
    parts : tuple of Part
        Where `unit` is empty, places and sizes are numbers of a unit nobody has stated yet.
    unit : str
        That the places were written in, ``mm`` where in several.
    has_sides : bool
        Whether the list says on which side parts are.
    notes : tuple of str
        How it was read, for people.
    warnings : tuple of str
    """

    file: str
    parts: tuple[Part, ...]
    unit: str = ""
    has_sides: bool = True
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
