"""A part position list read: every part with its place, or every line that is wrong."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from irspot.board import Side
from irspot.files.findings import Findings, show
from irspot.layout.cells import Cells, decimal_of, read_cells
from irspot.layout.headings import columns_of, is_header
from irspot.layout.lengths import MM_PER, length_of, parted
from irspot.layout.part import Part, PartList, Size
from irspot.logs.cells import Line

_WANTED: Final = "a line with the headings of designator, x and y, such as 'Designator, X (mm), Y (mm), Rotation, Side'"
_FRONT: Final = frozenset(
    [
        *("front", "frontside", "top", "topside", "toplayer", "t", "f", "fcu", "upper", "primary", "primaryside"),
        *("component", "componentside", "comp"),
    ]
)
_REAR: Final = frozenset(
    [
        *("rear", "rearside", "back", "backside", "bottom", "bottomside", "bottomlayer", "bot", "botside", "b", "r"),
        *("bcu", "lower", "secondary", "secondaryside", "solder", "solderside"),
    ]
)
_MIRRORED: Final = {"yes": "rear", "y": "rear", "true": "rear", "1": "rear", "m": "rear"}
_STRAIGHT: Final = {"no": "front", "n": "front", "false": "front", "0": "front", "": "front"}
_NUMBERS: Final = ("x", "y", "rotation", "length", "width", "height")
_MOST_WRONG: Final = 12


def read_part_list(path: Path, unit: str = "", side: Side = "front") -> PartList:
    """Read a part position list.

    Parameters
    ----------
    path : Path
        Separated text with a header; see `irspot.layout.headings.ALIASES`.
    unit : str
        Declared for numbers that state none; empty where nobody declares one.
    side : {"front", "rear"}
        Of all parts where the list has no column for it.

    Returns
    -------
    PartList
        In mm, or without a unit where none is stated anywhere.

    Raises
    ------
    FileInvalid
        With every line that is wrong, the first dozen at most.
    """
    findings = Findings(str(path))
    cells = read_cells(path, is_header, _WANTED, findings)
    columns = columns_of(cells.header.cells)
    if not cells.lines and not findings.has_errors:
        findings.give_up("the list has a header and no parts", place=f"line {cells.header.number}")
    reading = _Reading(cells, columns, unit, side, findings)
    parts = []
    for line in cells.lines:
        if part := reading.part_of(line):
            parts.append(part)
        if len(findings.error_places()) >= _MOST_WRONG:
            break
    findings.refuse_if_broken()
    if not parts:
        findings.give_up("no line has a designator and a place", hint="empty coordinates are skipped")
    return reading.finished(tuple(parts))


@dataclass(slots=True)
class _Reading:
    """Reads lines one by one, and remembers what holds for all of them."""

    cells: Cells
    columns: dict[str, int]
    unit: str
    side: Side
    findings: Findings
    decimal: str = field(init=False)
    column_units: dict[str, str] = field(init=False)
    _units: set[str] = field(default_factory=set)
    _without_place: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        numbers = [self.columns[name] for name in _NUMBERS if name in self.columns]
        self.decimal = decimal_of(self.cells.lines, numbers, self.findings)
        headings = {name: parted(self.cells.header.cells[index])[1] for name, index in self.columns.items()}
        self.column_units = headings
        place = f"line {self.cells.header.number}"
        stated = {headings["x"], headings["y"]} - {""}
        if len(stated) == 2:
            self.findings.give_up("x and y are headed in two units", place=place, found=" and ".join(sorted(stated)))
        known = next(iter(stated), "") or self.cells.declared_unit
        if known and self.unit and known != self.unit:
            where = "its heading" if stated else "the list"
            hint = f"leave out --unit, or give --unit {known}"
            self.findings.give_up(f"{where} says {known}", place=place, found=f"--unit {self.unit}", hint=hint)
        self.unit = known or self.unit

    def part_of(self, line: Line) -> Part | None:
        """Make a part of a line; None for one without a place, and for a wrong one, with the reason noted."""
        ref = self._cell(line, "ref")
        if not self._cell(line, "x") and not self._cell(line, "y"):
            self._without_place.append(ref or f"line {line.number}")
            return None
        if not ref:
            self._wrong(line, "ref", "has no designator")
            return None
        x, y = self._length(line, "x"), self._length(line, "y")
        rotation, side = self._rotation(line), self._side(line)
        size = self._size(line)
        if x is None or y is None or rotation is None or side is None:
            return None
        package, value = self._cell(line, "package"), self._cell(line, "value")
        return Part(ref, x, y, rotation, side, package, value, size, line.number)

    def finished(self, parts: tuple[Part, ...]) -> PartList:
        """Make the list."""
        units = self._units
        if "" in units and len(units) > 1:
            self.findings.give_up("some places have a unit and some have none", hint="give --unit for the others")
        unit = next(iter(units)) if len(units) == 1 else "mm"
        has_sides = "side" in self.columns or "mirror" in self.columns
        names = [self.cells.header.cells[self.columns[axis]] for axis in "xy"]
        notes = [f"{self.cells.separator} between cells, decimal {'comma' if self.decimal == ',' else 'point'}"]
        notes.append(f"places from '{names[0]}' and '{names[1]}'")
        notes += [f"unit {' and '.join(sorted(units))}"] if unit else []
        if not has_sides:
            notes.append(f"no column of sides: all parts on the {self.side}")
        warnings = []
        if self._without_place:
            named = ", ".join(self._without_place[:5])
            warnings.append(f"lines without a place, left out: {len(self._without_place)} ({named})")
        return PartList(self.findings.file, parts, unit, has_sides, tuple(notes), tuple(warnings))

    def _cell(self, line: Line, column: str) -> str:
        index = self.columns.get(column)
        return "" if index is None else line.cells[index]

    def _wrong(self, line: Line, column: str, message: str, wanted: str = "") -> None:
        heading = self.cells.header.cells[self.columns[column]]
        found = show(self._cell(line, column))
        self.findings.error_in_line(line.number, message, column=heading, found=found, wanted=wanted)

    def _length(self, line: Line, column: str) -> float | None:
        """Read a place in mm; where no unit is stated, the number as it is."""
        read = length_of(self._cell(line, column), self.decimal)
        if read is None:
            wanted = "a number, with or without mm, mil, inch"
            self._wrong(line, column, "is no length", wanted)
            return None
        number, own = read
        if own and self.unit and self.column_units[column] and own != self.unit:
            self._wrong(line, column, f"contradicts the unit of its heading, {self.unit}")
            return None
        unit = own or self.unit
        self._units.add(unit)
        return number * MM_PER.get(unit, 1.0)

    def _rotation(self, line: Line) -> float | None:
        cell = self._cell(line, "rotation")
        read = length_of(re.sub(r"\s*(?:°|deg(?:rees)?\.?)$", "", cell, flags=re.IGNORECASE) or "0", self.decimal)
        # Beyond it a number has no digits left for the angle.
        if read is None or read[1] or abs(read[0]) > 1e6:
            self._wrong(line, "rotation", "is no angle", "degrees, counter-clockwise")
            return None
        return read[0]

    def _side(self, line: Line) -> Side | None:
        if "side" in self.columns:
            word = re.sub(r"[^a-z]", "", self._cell(line, "side").casefold())
            if word in _FRONT or word in _REAR:
                return "front" if word in _FRONT else "rear"
            self._wrong(line, "side", "is no side", "top, bottom, front, rear, T or B")
            return None
        if "mirror" not in self.columns:
            return self.side
        word = self._cell(line, "mirror").casefold()
        if word in _MIRRORED or word in _STRAIGHT:
            return "rear" if word in _MIRRORED else "front"
        self._wrong(line, "mirror", "is neither yes nor no", "yes for parts of the rear")
        return None

    def _size(self, line: Line) -> Size | None:
        """Read the size of the body, where the list has columns for it and the line fills them."""
        if not {"length", "width"} <= self.columns.keys() or not self._cell(line, "length"):
            return None
        sides = [self._side_length(line, name) for name in ("length", "width")]
        if None in sides:
            return None
        height = self._side_length(line, "height") if self._cell(line, "height") else None
        return Size(sides[0] or 0.0, sides[1] or 0.0, height)

    def _side_length(self, line: Line, column: str) -> float | None:
        read = length_of(self._cell(line, column), self.decimal)
        if read is None or not read[0] > 0.0:
            self._wrong(line, column, "is no size", "a number above 0")
            return None
        # A size has the unit of its cell, of its heading, or else of the places.
        unit = read[1] or self.column_units[column] or self.unit or next(iter(self._units), "")
        return read[0] * MM_PER.get(unit, 1.0)


def duplicated(parts: Sequence[Part]) -> tuple[tuple[Part, Part], ...]:
    """Find parts whose designator stands earlier in the list, ignoring case: each with the earlier one."""
    first: dict[str, Part] = {}
    return tuple(
        (earlier, part) for part in parts if (earlier := first.setdefault(part.ref.casefold(), part)) is not part
    )
