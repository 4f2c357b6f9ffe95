"""How large parts are: from the list, a table of packages, the package's name, or a size for the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Final

from irspot.files.findings import Findings, show
from irspot.layout.cells import decimal_of, read_cells
from irspot.layout.chip_codes import IMPERIAL, METRIC, Ambiguous, Codes, size_by_name
from irspot.layout.headings import columns_of
from irspot.layout.lengths import MM_PER, length_of, parted
from irspot.layout.part import Part, Size

LARGEST_MM: Final = 500.0
"""A side above it is no part's: the unit is another."""
_SIDES: Final = ("length", "width", "height")
_NAMED: Final = 6


@dataclass(frozen=True, slots=True)
class PackageRow:
    """One line of a table of packages: a pattern, and the size of what matches it."""

    pattern: str
    size: Size


@dataclass(frozen=True, slots=True)
class SizeRules:
    """Where sizes come from, the list's own columns before all.

    Parameters
    ----------
    table : tuple of PackageRow
        The first that matches counts.
    codes : {"imperial", "metric"} or None
        What bare chip codes are.
    default : Size or None
        Of parts that nothing else tells the size of.
    """

    table: tuple[PackageRow, ...] = ()
    codes: Codes | None = None
    default: Size | None = None

    def size_of(self, part: Part) -> Size | Ambiguous | None:
        """Give a part's size; None where nothing tells it."""
        listed = self._listed(part.package)
        if part.size is not None:
            height = None if listed is None else listed.height_mm
            return part.size if part.size.height_mm is not None else replace(part.size, height_mm=height)
        return listed or size_by_name(part.package, self.codes) or self.default

    def _listed(self, package: str) -> Size | None:
        name = package.casefold()
        return next((row.size for row in self.table if fnmatchcase(name, row.pattern.casefold())), None)


def read_packages(path: Path) -> tuple[PackageRow, ...]:
    """Read a table of packages: ``package, length_mm, width_mm, height_mm``, the last one optional.

    Raises
    ------
    FileInvalid
        With every line that is wrong.
    """
    findings = Findings(str(path))
    headings = "a line with the headings package, length_mm, width_mm and, if you like, height_mm"
    cells = read_cells(path, _is_header, headings, findings)
    columns = columns_of(cells.header.cells)
    sides = [name for name in _SIDES if name in columns]
    decimal = decimal_of(cells.lines, [columns[name] for name in sides], findings)
    units = {name: parted(cells.header.cells[columns[name]])[1] or cells.declared_unit for name in sides}
    rows = []
    for line in cells.lines:
        pattern = line.cells[columns["package"]]
        lengths: dict[str, float] = {}
        for name in sides:
            cell = line.cells[columns[name]]
            if name == "height" and not cell:
                continue
            read = length_of(cell, decimal)
            unit = (read[1] or units[name]) if read else ""
            heading = cells.header.cells[columns[name]]
            if read is None or not 0.0 < read[0] * MM_PER.get(unit, 1.0) <= LARGEST_MM:
                wanted = f"up to {LARGEST_MM:g} mm"
                findings.error_in_line(
                    line.number, "is no size of a part", column=heading, found=show(cell), wanted=wanted
                )
            elif not unit:
                hint = f"head the column '{name}_mm'"
                findings.error_in_line(line.number, "has no unit", column=heading, found=show(cell), hint=hint)
            else:
                lengths[name] = read[0] * MM_PER[unit]
        if not pattern:
            findings.error_in_line(line.number, "names no package")
        elif {"length", "width"} <= lengths.keys():
            rows.append(PackageRow(pattern, Size(lengths["length"], lengths["width"], lengths.get("height"))))
    findings.refuse_if_broken()
    return tuple(rows)


def _is_header(cells: Sequence[str]) -> bool:
    return {"package", "length", "width"} <= columns_of(cells).keys()


def chip_code_words(ambiguous: Ambiguous, packages: Sequence[str]) -> str:
    """Say what a chip code could mean, and what the list's other packages speak for."""
    inch, metric = ambiguous.imperial, ambiguous.metric
    words = (
        f"{ambiguous.code} is {inch.length_mm:g} x {inch.width_mm:g} mm as a code in inches and "
        f"{metric.length_mm:g} x {metric.width_mm:g} mm as a metric one"
    )
    only_imperial = _first_of(IMPERIAL.keys() - METRIC.keys(), packages)
    only_metric = _first_of(METRIC.keys() - IMPERIAL.keys(), packages)
    if only_imperial and not only_metric:
        return f"{words}; '{only_imperial}' in the list speaks for inches: --chip-codes imperial"
    if only_metric and not only_imperial:
        return f"{words}; '{only_metric}' in the list speaks for metric ones: --chip-codes metric"
    return f"{words}; say --chip-codes imperial or --chip-codes metric"


def _first_of(codes: set[str], packages: Sequence[str]) -> str:
    sized = ((name, size_by_name(name)) for name in packages if any(code in name for code in codes))
    return next((name for name, size in sized if isinstance(size, Size)), "")


def few(names: Sequence[str]) -> str:
    """Name some, and say how many more there are."""
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return ", ".join(names[:_NAMED]) + more
