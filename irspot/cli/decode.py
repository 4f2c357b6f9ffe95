"""``irspot decode``: colour-mapped pictures to temperatures."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from irspot.cli.options import FilePath, FiniteType, SecondsType, color_options, json_option, wish_from


@click.command()
@click.argument("frames", type=FilePath, nargs=-1, required=True)
@color_options
@click.option("--camera", type=FilePath, help="Camera file; its [colorbar] table says where the bar is.")
@click.option(
    "--ambient-degc",
    type=FiniteType(),
    help="Air temperature, °C: printed numbers that cannot be true in such a room are refused.",
)
@click.option(
    "--every",
    "every_s",
    type=SecondsType(),
    default="1s",
    show_default=True,
    help="Of a video, one picture every so often.",
)
@click.option(
    "--scale-log",
    type=FilePath,
    help="Of a video: a CSV file of its bar's ends over time, with columns time_s, low_degc, high_degc.",
)
@click.option(
    "--show-mask", is_flag=True, help="Also write beside each output what was left out: a PNG; of a video a TIFF."
)
@click.option("-o", "--output", type=FilePath, help="OUT.tiff for one frame, a folder for several.")
@json_option
def command(**options: Any) -> None:
    """Decode colour-mapped FRAMES (pictures or videos with a colour bar, folders of them, or patterns) to temperatures.

    Writes float32 TIFF in °C, of the picture's own size, with no number where the picture shows none. The bar's
    numbers are given with --low and --high, or with --tick; otherwise those printed at the bar are read, if the extra
    `ocr` is installed, and only taken where they are certain. What could not be read lies beside the output as a PNG.

    \b
    Example:
      irspot decode shot.png --low 20 --high 95 -o shot.tiff
      irspot decode shots --ambient-degc 21 -o decoded
    """
    from irspot.cli.console import say, show_progress
    from irspot.cli.main import report_refusal
    from irspot.workflow.decode_files import decode_files

    job = _job(options)
    failed = 0
    for outcome in decode_files(job, show_progress if len(job.files) > 1 else None):
        if outcome.error:
            failed += 1
            report_refusal(outcome.error, as_json=options["as_json"])
        if outcome.crop_file:
            say(f"irspot: {outcome.crop_file}: the part of the picture whose numbers could not be read")
        if outcome.summary:
            _show(outcome.summary, as_json=options["as_json"])
    if failed:
        raise SystemExit(1)


def _show(summary: dict[str, Any], *, as_json: bool) -> None:
    """Print one frame's summary: an object a line, or names and values."""
    import json

    if as_json:
        click.echo(json.dumps(summary, ensure_ascii=False, allow_nan=False))
        return
    for name, value in summary.items():
        click.echo(f"{name}\t{','.join(map(_text, value)) if isinstance(value, list) else _text(value)}")


def _text(value: Any) -> str:
    """Write a number with no more digits than it has; scripts get all of them from --json."""
    if isinstance(value, dict):
        return " ".join(map(_text, value.values()))
    return f"{value:.4g}" if isinstance(value, float) else str(value)


def _with_log(wish: Any, scale_log: Path | None) -> Any:
    """Add the log of a video's scale to what was said about its bar."""
    from dataclasses import replace

    from irspot.errors import UsageError
    from irspot.files import read_scale_log

    if scale_log is None:
        return wish
    if wish.scale is not None:
        raise UsageError("--scale-log contradicts --low, --high and --tick", hint="give the one or the others")
    return replace(wish, log=read_scale_log(scale_log))


def _job(options: dict[str, Any]) -> Any:
    from irspot.workflow.decode_files import DecodeJob, expanded_files

    return DecodeJob(
        files=expanded_files(options["frames"]),
        camera_file=options["camera"],
        wish=_with_log(wish_from(options), options["scale_log"]),
        every_s=options["every_s"],
        show_mask=options["show_mask"],
        output=options["output"],
    )
