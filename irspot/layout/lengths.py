"""Lengths as layout programs write them: with a unit in the heading, in the cell, or declared for the whole file."""

from __future__ import annotations

import re
from typing import Final

from irspot.logs.cells import number_of

MM_PER: Final = {"mm": 1.0, "cm": 10.0, "um": 0.001, "mil": 0.0254, "inch": 25.4}
"""Millimetres to a unit. The inch is 25.4 mm exactly (international yard and pound agreement, 1959)."""
_NAMES: Final = {
    **dict.fromkeys(("mm", "millimeter", "millimeters", "millimetre", "millimetres"), "mm"),
    **dict.fromkeys(("cm", "centimeter", "centimeters", "centimetre", "centimetres"), "cm"),
    **dict.fromkeys(("um", "µm", "micron", "microns", "micrometer", "micrometers", "micrometre", "micrometres"), "um"),
    **dict.fromkeys(("mil", "mils", "thou"), "mil"),
    **dict.fromkeys(("in", "inch", "inches", '"', "″", "''"), "inch"),
}
_HEADING: Final = re.compile(
    r"^(?P<name>.*?)\s*(?:\((?P<a>[^()]*)\)|\[(?P<b>[^\[\]]*)\]|[/,\s_-]\s*(?P<c>[^\s/,()\[\]_-]+))\s*$"
)
_CELL: Final = re.compile(r"([-+0-9.,eE]+)\s*([A-Za-zµμ\"″']*)")
_DECLARED: Final = re.compile(r"\bunits?\b(?:\s+used)?\s*[:=,;\t]?\s*([A-Za-zµμ]+)", re.IGNORECASE)


def unit_named(text: str) -> str:
    """Look up a unit of length; empty for what is none.

    Examples
    --------
    >>> unit_named("Mils"), unit_named('"'), unit_named("deg")
    ('mil', 'inch', '')
    """
    return _NAMES.get(text.strip().casefold().replace("μ", "µ"), "")


def parted(heading: str) -> tuple[str, str]:
    """Part a heading into its name and its unit.

    Examples
    --------
    >>> parted("Mid X (mil)"), parted("PosY_mm"), parted("Ref-X"), parted("X")
    (('Mid X', 'mil'), ('PosY', 'mm'), ('Ref-X', ''), ('X', ''))
    """
    heading = heading.strip().strip('"').strip()
    match = _HEADING.match(heading)
    if match and match["name"].strip() and (unit := unit_named(match["a"] or match["b"] or match["c"] or "")):
        return match["name"].strip(), unit
    return heading, ""


def declared_unit(line: str) -> str:
    """Read the unit that a line above the columns declares; empty where it declares none.

    Examples
    --------
    >>> declared_unit("## Unit = mm, Angle = deg."), declared_unit("Units used: mil"), declared_unit("Unit 7")
    ('mm', 'mil', '')
    """
    match = _DECLARED.search(line)
    return unit_named(match[1]) if match else ""


def length_of(cell: str, decimal: str) -> tuple[float, str] | None:
    """Read a length: its number and its unit, empty where the cell has none; None for what is no length.

    Examples
    --------
    >>> length_of("485mil", "."), length_of("12,5", ","), length_of('0.5"', "."), length_of("5 apples", ".")
    ((485.0, 'mil'), (12.5, ''), (0.5, 'inch'), None)
    """
    match = _CELL.fullmatch(cell.strip())
    if match is None or (number := number_of(match[1], decimal)) is None:
        return None
    if not match[2]:
        return number, ""
    unit = unit_named(match[2])
    return (number, unit) if unit else None
