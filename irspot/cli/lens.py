"""``irspot lens``: focal length and distortion from frames of a target."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import click

from irspot.cli.options import FilePath, FiniteType, json_option


class GridType(click.ParamType[tuple[int, int]]):
    """A grid: ``7x5``."""

    name = "NxM"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, int]:
        """Read ``NxM``."""
        if isinstance(value, tuple):
            return value
        match = re.fullmatch(r"(\d{1,2})[x×](\d{1,2})", str(value))
        if not match or min(int(match[1]), int(match[2])) < 3:
            self.fail(f"'{value}' is not a grid; wanted COLUMNSxROWS such as 7x5, three or more of each", param, ctx)
        return int(match[1]), int(match[2])


@click.command()
@click.argument("frames", type=FilePath, nargs=-1, required=True)
@click.option("--dots", type=GridType(), help="The target is a grid of so many dots: columns x rows.")
@click.option("--checker", type=GridType(), help="The target is a checker of so many inner corners: columns x rows.")
@click.option("--pitch-mm", type=FiniteType(), required=True, help="From one dot or corner to the next, mm.")
@click.option("--camera", type=FilePath, help="Camera file that frames are read by; default that of --write.")
@click.option("--principal", is_flag=True, help="Fit the principal point too; else it is the file's, or the middle.")
@click.option("--tangential", is_flag=True, help="Fit p1 and p2 too; else they are zero.")
@click.option("--write", type=FilePath, metavar="CAMERA", help="Write the lens into this camera file; the rest stays.")
@json_option
def command(**options: Any) -> None:
    """Fit focal length and distortion of the lens from FRAMES of a flat target of known geometry.

    The target is a grid of round dots or a checker, warm on cool or cool on warm: a heated plate with painted dots, or
    cut foil on a warm board. Take ten frames or so, the target tilted by 20 to 40 degrees to several sides and moved
    into all corners of the view. Uncertainties (u_) are standard uncertainties.

    \b
    Example:
      irspot lens target-*.tiff --dots 7x5 --pitch-mm 20 --write camera.toml
      irspot lens target.tiff --checker 8x6 --pitch-mm 25 --camera camera.toml --json
    """
    import json

    from irspot.cli.console import say, show_progress
    from irspot.workflow.lens import lens_document, lens_of_files

    job = _job(options)
    result = lens_of_files(job, show_progress if len(job.files) > 1 else None)
    for warning in result.warnings:
        say(f"irspot: warning: {warning}")
    if job.write is not None:
        say(f"wrote the lens into {job.write}")
    document = lens_document(result)
    if options["as_json"]:
        click.echo(json.dumps(document, ensure_ascii=False, allow_nan=False))
        return
    for name, value in document.items():
        if name != "warnings":
            click.echo(f"{name}\t{','.join(map(_text, value)) if isinstance(value, list) else _text(value)}")


def _text(value: Any) -> str:
    return f"{value:.5g}" if isinstance(value, float) else str(value)


def _job(options: dict[str, Any]) -> Any:
    from irspot.errors import UsageError
    from irspot.registration.lens_target import Target
    from irspot.workflow.lens import LensJob

    if (options["dots"] is None) == (options["checker"] is None):
        raise UsageError("give --dots or --checker, whichever the target is")
    if not options["pitch_mm"] > 0.0:
        raise UsageError("--pitch-mm must be above 0", found=f"{options['pitch_mm']:g}")
    columns, rows = options["dots"] or options["checker"]
    files: tuple[Path, ...] = options["frames"]
    return LensJob(
        files=files,
        target=Target("dots" if options["dots"] else "checker", columns, rows, options["pitch_mm"]),
        camera_file=options["camera"],
        write=options["write"],
        principal=options["principal"],
        tangential=options["tangential"],
    )
