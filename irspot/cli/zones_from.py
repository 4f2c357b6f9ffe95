"""``irspot zones-from``: zones from what a layout program wrote."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from irspot.cli.options import FilePath, NamedPointType, SizeType, finite, json_option


class SidesType(click.ParamType[tuple[float, float]]):
    """Two lengths: ``305x244``."""

    name = "WxH"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:
        """Read ``WxH`` in mm."""
        if isinstance(value, tuple):
            return value
        parts = str(value).replace("×", "x").split("x")
        if len(parts) != 2:
            self.fail(f"'{value}' is not a size in mm; wanted WIDTHxHEIGHT such as 305x244", param, ctx)
        width, height = (finite(part, self, param, ctx) for part in parts)
        if not (0.0 < width <= 2000.0 and 0.0 < height <= 2000.0):
            self.fail(f"'{value}': sides lie above 0 and up to 2000 mm", param, ctx)
        return width, height


class OriginType(click.ParamType[Any]):
    """Where a list counts from: a corner, or ``x,y`` in mm."""

    name = "CORNER|x,y"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Read a corner's name or a place."""
        corners = ("lower-left", "lower-right", "upper-left", "upper-right")
        if isinstance(value, tuple) or value in corners:
            return value
        parts = str(value).split(",")
        if len(parts) != 2:
            self.fail(f"'{value}' is no origin; wanted {', '.join(corners)} or x,y in mm", param, ctx)
        return tuple(finite(part, self, param, ctx) for part in parts)


class RoleType(click.ParamType[tuple[str, str]]):
    """A pattern of designators and a role: ``Q*=power-stage``."""

    name = "PATTERN=ROLE"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[str, str]:
        """Read ``PATTERN=ROLE``."""
        if isinstance(value, tuple):
            return value
        pattern, equals, role = str(value).partition("=")
        if not equals or not pattern.strip() or not role.strip():
            self.fail(f"'{value}' gives no role; wanted PATTERN=ROLE such as Q*=power-stage", param, ctx)
        return pattern.strip(), role.strip()


@click.command()
@click.argument("file", type=FilePath)
@click.option("-o", "--output", type=FilePath, help="Board file to write; zones are added to one that is there.")
@click.option("--board", type=FilePath, help="Board file to begin with, which stays as it is.")
@click.option("--outline", type=FilePath, help="Take the outline from this profile layer (Gerber) or DXF drawing.")
@click.option("--outline-layer", default="", help="Layer of the DXF drawing that holds the outline; default all.")
@click.option("--size-mm", type=SidesType(), help="Size of a rectangular board, mm.")
@click.option("--name", default="", help="Name of a new board; default from the output's name.")
@click.option(
    "--unit",
    type=click.Choice(["mm", "cm", "um", "mil", "inch"]),
    help="Unit of a list that states none; never guessed.",
)
@click.option("--origin", type=OriginType(), help="What the list counts from: a corner of the outline, or x,y in mm.")
@click.option(
    "--point",
    "points",
    multiple=True,
    type=NamedPointType(),
    help="A part and its place on the board, mm seen from the front: REF=x,y. Two or more give turn and move.",
)
@click.option(
    "--bottom",
    type=click.Choice(["as-listed", "mirrored", "negated"]),
    help="How the list gives parts of the rear: seen from the front; seen from behind, from the board's other corner; "
    "with the sign of x turned round.",
)
@click.option(
    "--list-side", type=click.Choice(["front", "rear"]), default="front", help="Side of a list without sides."
)
@click.option("--only", multiple=True, help="Only these parts: 'Q*,L*'.")
@click.option("--leave-out", multiple=True, help="Not these parts: 'FID*,H*'.")
@click.option("--side", type=click.Choice(["front", "rear"]), help="Only parts of this side.")
@click.option(
    "--packages", type=FilePath, help="Table of package, length_mm, width_mm, height_mm; * in names matches all."
)
@click.option("--chip-codes", type=click.Choice(["imperial", "metric"]), help="What codes such as 0603 mean.")
@click.option("--default-size-mm", type=SidesType(), help="Size of parts that nothing else tells the size of.")
@click.option("--role", "roles", multiple=True, type=RoleType(), help="Role of parts; repeat, the first match counts.")
@click.option(
    "--roles-by-letter", is_flag=True, help="Roles of the other parts by class letter: L inductor, Q transistor."
)
@click.option("--material", default="", help="Surface of all parts, of the built-in list; else emissivity is assumed.")
@click.option(
    "--duplicates", type=click.Choice(["refuse", "number"]), default="refuse", help="Designators that stand twice."
)
@click.option("--replace", is_flag=True, help="Give zones of the same id the new shape; their other keys stay.")
@click.option(
    "--fit",
    type=click.Choice(["similarity", "affine"]),
    is_flag=False,
    flag_value="similarity",
    help="FILE is a board file: fit its zones onto another board, by marks of one name or by --point NAME=x,y of its "
    "marks, sites, zones or corners (lower-left, ...).",
)
@click.option("--with-sites", is_flag=True, help="With --fit: carry the sites along.")
@click.option("--with-marks", is_flag=True, help="With --fit: carry the marks along.")
@click.option("--preview", type=FilePath, help="Picture (.png) of the zones on the board, also of refused ones.")
@click.option("--size", type=SizeType(), default="1920x1080", show_default=True, help="Size of the picture in px.")
@json_option
def command(**options: Any) -> None:
    """Make zones of the parts in FILE, a part position list; or an outline, or zones of another board's.

    FILE may also be a profile layer or DXF drawing, which makes a board of its outline, or with --fit a board file,
    whose zones are fitted onto another board. A list is any separated text with columns for designator, x and y;
    rotation, side, package and sizes are understood. Look at --preview before you measure: it shows the rear as one
    sees it.

    \b
    Example:
      irspot zones-from parts.csv --size-mm 305x244 --only 'Q*,L*' --bottom as-listed -o k7.toml --preview k7.png
      irspot zones-from parts.csv -o k7.toml --point Q1=31.5,150.2 --point U7=210.0,40.5 --packages sizes.csv
      irspot zones-from profile.gbr -o k7.toml
      irspot zones-from k7.toml --fit -o k8.toml --point hole-a=10.2,6.4 --point hole-c=234,298.6
    """
    from irspot.cli.console import say, show_columns, show_problems
    from irspot.errors import one_line
    from irspot.workflow.zones_command import make_zones

    made = make_zones(
        _fit_job(options) if options["fit"] else _job(options), preview=options["preview"], size=options["size"]
    )
    for note in made.notes:
        say(f"irspot: {one_line(note)}")
    for warning in made.warnings:
        say(f"irspot: warning: {one_line(warning)}")
    show_problems(made.problems)
    for path in made.written:
        say(f"wrote {path}")
    if options["as_json"]:
        from irspot.exports.json_results import dumps

        click.echo(dumps(made.document()), nl=False)
    elif options["output"] is None:
        show_columns(made.table())


_OF_LISTS = (
    "unit",
    "origin",
    "bottom",
    "packages",
    "chip_codes",
    "default_size_mm",
    "roles",
    "roles_by_letter",
    "material",
)


def _ground(options: dict[str, Any]) -> Any:
    from irspot.workflow.zone_ground import GroundWish

    return GroundWish(
        output=options["output"],
        board_file=options["board"],
        outline_file=options["outline"],
        outline_layer=options["outline_layer"],
        size_mm=options["size_mm"],
        name=options["name"],
    )


def _fit_job(options: dict[str, Any]) -> Any:
    from irspot.errors import UsageError
    from irspot.workflow.zones_fit import FitJob

    of_lists = (
        "unit",
        "origin",
        "bottom",
        "packages",
        "chip_codes",
        "default_size_mm",
        "roles",
        "roles_by_letter",
        "material",
    )
    if given := [f"--{name.replace('_', '-').removesuffix('s')}" for name in of_lists if options[name]]:
        raise UsageError(f"{given[0]} is for part position lists and means nothing with --fit")
    return FitJob(
        template=options["file"],
        ground=_ground(options),
        kind=options["fit"],
        points=options["points"],
        only=_patterns(options["only"]),
        leave_out=_patterns(options["leave_out"]),
        side=options["side"],
        with_sites=options["with_sites"],
        with_marks=options["with_marks"],
        replace=options["replace"],
    )


def _job(options: dict[str, Any]) -> Any:
    from irspot.errors import UsageError
    from irspot.layout.packages import SizeRules, read_packages
    from irspot.layout.part import Size
    from irspot.layout.roles import RoleRules
    from irspot.workflow.zones_job import ZonesJob

    if options["with_sites"] or options["with_marks"]:
        raise UsageError("--with-sites and --with-marks mean nothing without --fit")
    if options["points"] and options["origin"]:
        raise UsageError("--origin and --point both say where the list counts from", wanted="one of the two")
    default: tuple[float, float] | None = options["default_size_mm"]
    packages: Path | None = options["packages"]
    return ZonesJob(
        list_file=options["file"],
        ground=_ground(options),
        unit=options["unit"] or "",
        list_side=options["list_side"],
        rear=options["bottom"],
        origin=options["origin"],
        points=options["points"],
        only=_patterns(options["only"]),
        leave_out=_patterns(options["leave_out"]),
        side=options["side"],
        sizes=SizeRules(
            table=() if packages is None else read_packages(packages),
            codes=options["chip_codes"],
            default=None if default is None else Size(*default),
        ),
        roles=RoleRules(options["roles"], by_letter=options["roles_by_letter"]),
        material=options["material"],
        number_duplicates=options["duplicates"] == "number",
        replace=options["replace"],
    )


def _patterns(given: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(part.strip() for text in given for part in text.split(",") if part.strip())
