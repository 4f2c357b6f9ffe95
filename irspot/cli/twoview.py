"""``irspot twoview``: which hot spots stay on the board and which move with the camera."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import click

from irspot.cli.options import (
    NO_TOP,
    FilePath,
    FiniteType,
    NamedPointType,
    PointsType,
    color_options,
    json_option,
    picture_options,
    place_job_from,
    placing_options,
)
from irspot.cli.patch_options import conditions_from, patch_options


@click.command()
@click.argument("frame_a", type=FilePath, metavar="A")
@click.argument("frame_b", type=FilePath, metavar="B")
@click.option("--board", required=True, type=FilePath, help="Board file with the outline and the zones.")
@click.option("--camera", type=FilePath, help="Camera file of both; its focal length tells how far the view turned.")
@placing_options
@click.option(
    "--top-b",
    type=click.Choice(["up", "right", "down", "left"]),
    help="Image side that the board's top edge faces in B; default as in A.",
)
@click.option("--corners-px-b", type=PointsType(), help="As --corners-px, in B.")
@click.option("--point-b", "points_b", multiple=True, type=NamedPointType(), help="As --point, in B.")
@click.option("--reflected-degc", type=FiniteType(), help="Reflected temperature, °C (crumpled foil patch).")
@click.option("--u-reflected-k", type=FiniteType(), default=3.0, show_default=True, help="Its standard uncertainty, K.")
@patch_options
@click.option(
    "-o", "--output", type=FilePath, help="Folder for two_views.csv, results.json and a picture of each view."
)
@color_options
@picture_options
@json_option
def command(**options: Any) -> None:
    """Tell hot spots from reflections by two frames A and B of one board in one state.

    Take A, move the camera sideways so that it looks from another 10 to 20 degrees (or turn the board, without
    touching anything live), and take B. Heat stays on the board; a mirror image moves. Prints a row for every zone:
    'steady' (no image of anything further off than nearest_mm), 'moved' (likely a reflection; the zone is no hotter
    than lower_max_degc) or 'undecided' with the reason.

    \b
    Example:
      irspot twoview left.tiff right.tiff --board k7.toml --camera camera.toml --top up
      irspot twoview left.tiff right.tiff --board k7.toml --camera camera.toml --top up -o out --json
    """
    from irspot.cli.console import say
    from irspot.workflow.two_views import compare_files, notes_on, two_view_document, write_two_views

    result = compare_files(_job(options))
    if any(job.top is None and _by_corners(job) for job in (result.job.a, result.job.b)):
        say(NO_TOP)
    for note in notes_on(result.pairs):
        say(f"irspot: note: {note}")
    document, folder = None, options["output"]
    if folder is not None:
        document = write_two_views(
            result, folder, scale_degc=options["scale_degc"], cmap=options["cmap"], size=options["size"]
        )
        say(f"wrote {', '.join([*document['outputs'], 'results.json'])} in {folder}")
    if options["as_json"]:
        from irspot.exports.json_results import dumps

        click.echo(dumps(document or two_view_document(result, {})), nl=False)
    else:
        _show(result.pairs)


def _by_corners(job: Any) -> bool:
    from irspot.placing import CornersPx

    return isinstance(job.how, CornersPx)


def _job(options: dict[str, Any]) -> Any:
    from irspot.constants import ZERO_DEGC_KELVIN
    from irspot.errors import UsageError
    from irspot.workflow.two_views import TwoViewJob

    for name in ("reflected_degc", "ambient_degc"):
        if options[name] is not None and options[name] <= -ZERO_DEGC_KELVIN:
            raise UsageError(f"--{name.replace('_', '-')} is below absolute zero", found=f"{options[name]:g} °C")
    if options["u_reflected_k"] < 0.0:
        raise UsageError("--u-reflected-k must not be negative", found=f"{options['u_reflected_k']:g}")
    in_a = {**options, "frame": options["frame_a"], "index": None}
    in_b = {
        **in_a,
        "frame": options["frame_b"],
        "top": options["top_b"] or options["top"],
        "corners_px": options["corners_px_b"],
        "points": options["points_b"],
    }
    conditions = replace(
        conditions_from(options), reflected_degc=options["reflected_degc"], u_reflected_k=options["u_reflected_k"]
    )
    return TwoViewJob(place_job_from(in_a), place_job_from(in_b), conditions)


def _show(pairs: Any) -> None:
    """Print the whole table in a pipe, what matters of it on a terminal."""
    import sys

    from irspot.cli.console import show_columns
    from irspot.exports.tables import two_views_tsv
    from irspot.uncertain import with_uncertainty

    if not sys.stdout.isatty():
        click.echo(two_views_tsv(pairs), nl=False)
        return
    rows = [["zone", "verdict", "apart mm", "A °C", "B °C", "A - B K", "lower °C", "what it means"]]
    for pair in pairs:
        values = (
            (pair.distance_mm, pair.U_distance_mm),
            (pair.max_a_degc, pair.U_max_a_k),
            (pair.max_b_degc, pair.U_max_b_k),
            (pair.difference_k, pair.U_difference_k),
            (pair.lower_max_degc, pair.U_lower_max_k),
        )
        rows.append([pair.zone, pair.verdict, *(with_uncertainty(*each) for each in values), pair.says])
    show_columns(rows)
