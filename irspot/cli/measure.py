"""``irspot measure``: the zones of one frame."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from irspot.cli.map_options import even_from, map_options
from irspot.cli.options import (
    NO_TOP,
    FilePath,
    FiniteType,
    PointType,
    UtcOffsetType,
    check_degc,
    color_options,
    draws_option,
    frame_options,
    how_from,
    json_option,
    picture_options,
    placing_options,
    wish_from,
)
from irspot.cli.photo_options import photo_from, photo_options


@click.command()
@frame_options
@placing_options
@click.option(
    "--at", "at_px", multiple=True, type=PointType(), help="Read this one place too (px of the stored image)."
)
@click.option("--ambient-degc", type=FiniteType(), help="Air temperature beside the board, °C.")
@click.option("--u-ambient-k", type=FiniteType(), default=0.5, show_default=True, help="Its standard uncertainty, K.")
@click.option("--reflected-degc", type=FiniteType(), help="Reflected temperature, °C (crumpled foil patch).")
@click.option("--u-reflected-k", type=FiniteType(), default=3.0, show_default=True, help="Its standard uncertainty, K.")
@click.option("--transmission", type=FiniteType(), default=1.0, show_default=True, help="Of window and path, 0 to 1.")
@click.option("--u-transmission", type=FiniteType(), default=0.0, show_default=True, help="Its standard uncertainty.")
@click.option("--window-degc", type=FiniteType(), help="Temperature of the window, °C; default the ambient.")
@click.option(
    "--cold-frame",
    "cold_files",
    multiple=True,
    type=FilePath,
    help="Even wall, lens cap or unpowered board at room temperature, by the same camera in the same range and "
    "session: its pattern is taken off. Repeat for several; recordings are averaged.",
)
@click.option("--camera-on-min", type=FiniteType(), help="How long the camera had been on, min.")
@click.option("--utc-offset", type=UtcOffsetType(), help="For a frame whose clock states no time zone: +02:00.")
@click.option("-o", "--output", type=FilePath, help="Folder for results.csv, results.json and the picture.")
@click.option(
    "--hottest", type=click.IntRange(1, 100_000), metavar="N", help="Print only the N hottest zones, the hottest first."
)
@color_options
@picture_options
@photo_options
@map_options
@draws_option
@json_option
def command(**options: Any) -> None:
    """Measure the zones of one FRAME.

    Prints a row for every zone of the side, and one for the hottest place that lies in none ('elsewhere'). With zones
    of a part position list (irspot zones-from), --hottest 10 names the ten hottest parts.

    \b
    Example:
      irspot measure k7.tiff --board k7.toml --camera camera.toml \\
        --corners-px "82,430 560,441 548,60 90,52" --ambient-degc 21.3 -o out
    """
    from irspot.cli.console import say, show_rows
    from irspot.results import hottest
    from irspot.workflow.camera_state import reference_warnings
    from irspot.workflow.logged_references import untold
    from irspot.workflow.one_frame import frame_document, measure_file, write_frame

    folder: Path | None = options["output"]
    result = measure_file(_job(options))
    if options["corners_px"] and not options["top"]:
        say(NO_TOP)
    for problem in (*untold(result.board), *reference_warnings(result.frame)):
        say(f"irspot: warning: {problem}")
    rows = result.rows if options["hottest"] is None else hottest(result.rows, options["hottest"])
    if options["hottest"] and (unranked := sum(not row.reading.headline() for row in result.rows)):
        say(f"irspot: note: {unranked} zones are to be retaken and are not ranked")
    document = None
    if folder is not None:
        document = write_frame(
            result, folder, scale_degc=options["scale_degc"], cmap=options["cmap"], size=options["size"]
        )
        say(f"wrote {', '.join([*document['outputs'], 'results.json'])} in {folder}")
    if options["as_json"] and result.failure is None:
        from irspot.exports.json_results import dumps, row_json

        document = document or frame_document(result, {}, {})
        if options["hottest"]:
            document = {**document, "rows": [row_json(row) for row in rows]}
        click.echo(dumps(document), nl=False)
    elif not options["as_json"]:
        show_rows(rows, with_run=False)
    if result.failure is not None:
        raise result.failure


def _job(options: dict[str, Any]) -> Any:
    from irspot.conditions import Conditions
    from irspot.placing import PhotoPlacement
    from irspot.workflow.one_frame import FrameJob

    _check(options)
    return FrameJob(
        frame_file=options["frame"],
        board_file=options["board"],
        camera_file=options["camera"],
        index=options["index"],
        side=options["side"],
        top=options["top"],
        how=PhotoPlacement() if options["by_photo"] else how_from(options),
        at_px=options["at_px"],
        utc_offset=options["utc_offset"],
        wish=wish_from(options),
        draws=options["draws"] or 0,
        photo_file=options["photo"],
        photo=photo_from(options),
        even=even_from(options),
        cold_files=options["cold_files"],
        camera_on_min=options["camera_on_min"],
        conditions=Conditions(
            ambient_degc=options["ambient_degc"],
            u_ambient_k=options["u_ambient_k"],
            reflected_degc=options["reflected_degc"],
            u_reflected_k=options["u_reflected_k"],
            transmission=options["transmission"],
            u_transmission=options["u_transmission"],
            window_degc=options["window_degc"],
        ),
    )


def _check(options: dict[str, Any]) -> None:
    from irspot.errors import UsageError

    check_degc(options, ("ambient_degc", "reflected_degc", "window_degc"))
    for name in ("u_ambient_k", "u_reflected_k", "u_transmission", "camera_on_min"):
        if (options[name] or 0.0) < 0.0:
            raise UsageError(f"--{name.replace('_', '-')} must not be negative", found=f"{options[name]:g}")
    if not 0.0 < options["transmission"] <= 1.0:
        raise UsageError("--transmission must lie above 0 and up to 1", found=f"{options['transmission']:g}")
