"""Part position lists in five dialects of our own making, written from parts; none is any program's."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from irspot.layout.part import Part

MIL = 0.0254


@dataclass(frozen=True)
class Dialect:
    name: str
    write: Callable[[Path, Sequence[Part]], None]
    unit: str = ""


def in_mil_with_preamble(path: Path, parts: Sequence[Part]) -> None:
    """Comma, quoted text, a preamble, thousandths of an inch in the headings, more coordinates than the centre's."""
    out = io.StringIO()
    out.write("Placement of parts, an invented board\r\nRevision,B\r\n\r\n")
    writer = csv.writer(out)
    writer.writerow(
        ["Designator", "Comment", "Layer", "Footprint", "Ref-X(mil)", "Center-X(mil)", "Center-Y(mil)", "Rotation"]
    )
    for part in parts:
        layer = "TopLayer" if part.side == "front" else "BottomLayer"
        x, y = repr(part.x_mm / MIL), repr(part.y_mm / MIL)
        writer.writerow([part.ref, 'coil, 0.22 "uH"', layer, part.package, "1.0", x, y, repr(part.rotation_deg)])
    path.write_text(out.getvalue(), encoding="utf-8", newline="")


def with_decimal_commas(path: Path, parts: Sequence[Part]) -> None:
    """Semicolon, decimal comma, mm in brackets, T and B, Latin-1."""
    lines = ["Ref Des;Wert;Value;Side;X-Pos [mm];Y-Pos [mm];Angle [°];Package"]
    for part in parts:
        numbers = [repr(v).replace(".", ",") for v in (part.x_mm, part.y_mm, part.rotation_deg)]
        side = "T" if part.side == "front" else "B"
        lines.append(f"{part.ref};é;10k;{side};{numbers[0]};{numbers[1]};{numbers[2]};{part.package}")
    path.write_text("\n".join(lines) + "\n", encoding="latin-1")


def with_units_in_cells(path: Path, parts: Sequence[Part]) -> None:
    """Tabs, each place with its own unit."""
    lines = ["PART\tPATTERN\tX\tY\tROTATION\tMOUNT SIDE"]
    for number, part in enumerate(parts):
        x, y = f"{part.x_mm!r}mm", f"{part.y_mm!r} mm"
        if number % 2:
            x, y = f"{part.x_mm / MIL!r}mil", f'{part.y_mm / 25.4!r}"'
        side = "Front" if part.side == "front" else "Rear"
        lines.append(f"{part.ref}\t{part.package}\t{x}\t{y}\t{part.rotation_deg!r}°\t{side}")
    path.write_text("\n".join(lines), encoding="utf-8")


def in_columns_of_blanks(path: Path, parts: Sequence[Part]) -> None:
    """Columns of blanks below a header that is a comment, the unit in another comment."""
    lines = ["### Positions of parts", "## Unit = mm, Angle = deg.", "# Ref     Val    Package  PosX  PosY   Rot  Side"]
    for part in parts:
        side = "top" if part.side == "front" else "bottom"
        lines.append(
            f"{part.ref:9s} 10k    {part.package:16s} {part.x_mm!r}  {part.y_mm!r} {part.rotation_deg!r}  {side}"
        )
    path.write_text("\n".join([*lines, "## End", ""]), encoding="utf-8")


def with_nothing_stated(path: Path, parts: Sequence[Part]) -> None:
    """UTF-16, upper case, no unit anywhere (they are inches), a mirror column in place of sides."""
    lines = ["REFDES,LOCATION X,LOCATION Y,ROT,MIRROR,SHAPE,LENGTH (mm),WIDTH (mm),HEIGHT (mm)"]
    for part in parts:
        mirror = "NO" if part.side == "front" else "YES"
        x, y = part.x_mm / 25.4, part.y_mm / 25.4
        size = "" if part.size is None else f"{part.size.length_mm!r},{part.size.width_mm!r},{part.size.height_mm!r}"
        lines.append(f"{part.ref},{x!r},{y!r},{part.rotation_deg!r},{mirror},X,{size or ',,'}")
    path.write_text("\n".join(lines), encoding="utf-16")


DIALECTS = (
    Dialect("mil with a preamble", in_mil_with_preamble),
    Dialect("decimal commas", with_decimal_commas),
    Dialect("units in cells", with_units_in_cells),
    Dialect("columns of blanks", in_columns_of_blanks),
    Dialect("nothing stated", with_nothing_stated, unit="inch"),
)
