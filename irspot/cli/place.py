"""``irspot place``: where the board is in one frame."""

from __future__ import annotations

import math
from typing import Any

import click

from irspot.cli.options import (
    NO_TOP,
    FilePath,
    SizeType,
    color_options,
    frame_options,
    json_option,
    place_job_from,
    placing_options,
)


@click.command()
@frame_options
@placing_options
@click.option("-o", "--output", type=FilePath, help="PNG that shows the board placed, or what was seen instead.")
@click.option("--size", type=SizeType(), default="1920x1080", show_default=True, help="Size of that picture in px.")
@color_options
@json_option
def command(**options: Any) -> None:
    """Find the board in one FRAME, or say why it cannot be found for certain.

    Prints the corners of the outline (mm on the board, px in the frame, and the standard uncertainty of that place),
    then the residual, the method, how much of the outline shows and, where the camera file states the focal length,
    how the camera stands. Exit status 1 if the board cannot be placed; the picture then shows the edges that were
    found and the outlines that could be the board.

    \b
    Example:
      irspot place k7.tiff --board k7.toml --camera camera.toml --top up
      irspot place k7.tiff --board k7.toml --top up --json -o seen.png
    """
    from irspot.cli.console import say, show_columns
    from irspot.workflow.place_file import place_document, place_file, refuse_picture, write_picture

    job, picture = place_job_from(options), options["output"]
    if picture is not None:
        refuse_picture(picture, job)
    result = place_file(job)
    if options["corners_px"] and not options["top"]:
        say(NO_TOP)
    outputs = {} if picture is None else write_picture(result, picture, options["size"])
    if outputs:
        say(f"wrote {picture}")
    if result.refusal is not None:
        raise result.refusal
    if options["as_json"]:
        from irspot.exports.json_results import dumps

        click.echo(dumps(place_document(result, outputs)), nl=False)
        return
    show_columns(_corner_rows(result))
    click.echo()
    show_columns(_fact_rows(result))


def _corner_rows(result: Any) -> list[list[str]]:
    """One line a corner: its number (and what a rectangle's is called), mm, px, standard uncertainty."""
    from irspot.uncertain import rounded
    from irspot.workflow.place_file import corners_of

    rows = [["corner", "name", "x_mm", "y_mm", "x_px", "y_px", "u_px"]]
    for corner in corners_of(result.placement, result.board):
        u_px = rounded(corner.u_px, 3) if math.isfinite(corner.u_px) else ""
        places = [rounded(value, 2) for value in (*corner.xy_mm, *corner.xy_px)]
        rows.append([str(corner.number), corner.name, *places, u_px])
    return rows


def _fact_rows(result: Any) -> list[list[str]]:
    from irspot.uncertain import rounded
    from irspot.workflow.place_file import view_facts

    placement = result.placement
    facts = view_facts(placement, result.board)
    rows = [
        ["method", placement.method],
        ["side", placement.side],
        ["points", str(placement.points)],
        ["residual_px", rounded(placement.residual_px, 3)],
        ["residual_mm", rounded(placement.residual_mm, 3)],
    ]
    for name, ids in (("marks", placement.marks), ("marks_left_out", placement.marks_left_out)):
        rows += [[name, " ".join(ids)]] if ids else []
    return rows + [[name, rounded(value, _DECIMALS[name])] for name, value in facts.items()]


_DECIMALS = {"outline_in_view": 3, "outline_on_edges": 3, "tilt_deg": 2, "camera_distance_mm": 1}
