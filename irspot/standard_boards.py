"""Sizes of standard mainboards, as people type them into a board file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class StandardBoard:
    """A standard size.

    Parameters
    ----------
    name : str
    long_mm, short_mm : float
        Nominal sides; the long one runs along the row of rear connectors of an ATX board.
    source : str
    """

    name: str
    long_mm: float
    short_mm: float
    source: str


STANDARD_BOARDS: Final = (
    StandardBoard("ATX", 305.0, 244.0, "ATX Specification 2.2"),
    StandardBoard("microATX", 244.0, 244.0, "microATX Motherboard Interface Specification 1.2"),
    StandardBoard("Mini-ITX", 170.0, 170.0, "Mini-ITX Addendum 1.1 to the microATX specification"),
)
"""Nominal sizes in whole mm; full-size boards of a form factor may be narrower."""


def standard_board(name: str) -> StandardBoard:
    """Look up a standard size by its name.

    Raises
    ------
    KeyError
        If there is none of that name.

    Examples
    --------
    >>> standard_board("ATX").long_mm
    305.0
    """
    return {board.name: board for board in STANDARD_BOARDS}[name]
