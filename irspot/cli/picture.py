"""``irspot picture``: pictures of a study's runs, or of one frame."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import click

from irspot.cli.options import (
    NO_TOP,
    Command,
    FilePath,
    FiniteType,
    RangeType,
    SizeType,
    UtcOffsetType,
    check_degc,
    how_from,
    placing_options,
)

KINDS: Final = ("single", "grid", "difference", "isotherm", "board", "numbers", "overlay", "warm-up")

_ONLY: Final[dict[str, tuple[str, ...]]] = {
    "cmap": ("single", "grid", "difference", "isotherm", "board", "overlay", "warm-up"),
    "scale_degc": ("single", "grid", "isotherm", "board", "overlay", "warm-up"),
    "span_k": ("difference",),
    "limit_degc": ("isotherm",),
    "axes": ("board", "difference"),
    "safe": ("overlay",),
    "frame_opacity": ("overlay",),
    "photo_opacity": ("single", "board", "overlay", "warm-up"),
    "still": ("single", "grid", "difference", "isotherm", "board", "numbers", "overlay"),
    "every_s": ("warm-up",),
    "fps": ("warm-up",),
}
"""Which kinds an option says something about."""

_OF_FRAMES: Final = (
    *("camera", "side", "top", "corners_px", "points", "ambient_degc", "reflected_degc", "utc_offset", "photo"),
    *("low", "high", "frame_interval_s"),
)


def _look_options(command: Command) -> Command:
    for option in reversed(_LOOK):
        command = option(command)
    return command


_LOOK: Final[tuple[Callable[[Any], Any], ...]] = (
    click.option(
        "--as", "kind", type=click.Choice(KINDS), help="What to draw; default single, or grid of several runs."
    ),
    click.option("--size", type=SizeType(), default="1920x1080", show_default=True, help="Exact size in px."),
    click.option("--cmap", help="Colour map, any of matplotlib's by name; default inferno, of a difference RdBu_r."),
    click.option(
        "--scale",
        "--scale-degc",
        "scale_degc",
        type=RangeType(),
        help="Ends of the colour scale, °C; default the study's, or by the runs drawn.",
    ),
    click.option("--span-k", type=FiniteType(), help="difference: the scale runs from less to plus so many K."),
    click.option(
        "--limit-degc", type=FiniteType(), help="isotherm: the temperature to follow; default the board's limit."
    ),
    click.option("--axes/--no-axes", default=True, help="board, difference: mm along the edges, or none."),
    click.option(
        "--safe",
        type=click.Choice(["5", "10"]),
        default="5",
        show_default=True,
        help="overlay: per cent that stay clear at each edge (title-safe area).",
    ),
    click.option(
        "--frame-opacity",
        type=click.FloatRange(0.0, 1.0),
        default=1.0,
        help="overlay: of the frame itself; 0 leaves outlines, callouts and scale.",
    ),
    click.option(
        "--photo-opacity", type=click.FloatRange(0.0, 1.0), help="Share of the photo beneath; default as the run says."
    ),
    click.option("--still", type=click.IntRange(min=0), help="Which of a run's stills, from 0; default the last."),
    click.option("--every-s", type=FiniteType(), help="warm-up: seconds between pictures of a recording; default 10."),
    click.option(
        "--fps", type=click.FloatRange(0.5, 60.0), default=10.0, show_default=True, help="warm-up: pictures a second."
    ),
    click.option(
        "--alt", type=FilePath, help="Write caption and alt text to this .txt, or with all rows to this .json."
    ),
)


@click.command()
@click.argument("source", type=FilePath)
@click.option("--run", "run_ids", multiple=True, help="Run of the study, by id; repeat for several.")
@click.option("-o", "--output", required=True, type=FilePath, help="PNG to write; a warm-up also as .gif or .mp4.")
@_look_options
@click.option("--board", type=FilePath, help="SOURCE is one frame or recording, of this board file.")
@click.option("--camera", type=FilePath, help="Of a frame: camera file.")
@placing_options
@click.option("--ambient-degc", type=FiniteType(), help="Of a frame: air temperature beside the board, °C.")
@click.option("--reflected-degc", type=FiniteType(), help="Of a frame: reflected temperature, °C.")
@click.option("--utc-offset", type=UtcOffsetType(), help="Of a frame whose clock states no time zone: +02:00.")
@click.option(
    "--frame-interval-s", type=FiniteType(), help="Of a recording whose frames carry no time: s between them."
)
@click.option("--photo", type=FilePath, help="Of a frame: visible-light photo, shown beneath the colours.")
@click.option("--low", type=FiniteType(), help="Of a picture with a colour bar: temperature of its low end, °C.")
@click.option("--high", type=FiniteType(), help="Of a picture with a colour bar: temperature of its high end, °C.")
@click.pass_context
def command(ctx: click.Context, /, **options: Any) -> None:
    """Draw runs of a study, or one frame: every number on it is that of the readings.

    SOURCE is a study, or with --board one frame or recording. Only the runs drawn are measured.

    \b
    single      frame, zones, hot spots and their maxima
    grid        2 to 12 runs side by side on one colour scale
    difference  two runs of one board, before and after, on its millimetres
    isotherm    the line along which the board has a limit's temperature, and the share above
    board       the board seen straight on
    numbers     outlines and numbers without colours
    overlay     straight alpha inside the title-safe area, for a video editor
    warm-up     a recording or several stills with a clock: .gif, .mp4 or a sequence of .png

    \b
    Example:
      irspot picture study.toml --run k7-stock-front -o k7.png
      irspot picture study.toml --run k7-stock-front --run h2-stock-front --as grid -o both.png --alt both.txt
      irspot picture study.toml --run before --run after --as difference --span-k 10 -o change.png
      irspot picture k7.tiff --board k7.toml --camera camera.toml --top up --as isotherm --limit-degc 90 -o hot.png
    """
    given = {
        name for name in options if (source := ctx.get_parameter_source(name)) is not None and source.name != "DEFAULT"
    }
    _check_numbers(options)
    source = _source(options, given)
    kind = options["kind"] or ("single" if len(source.chosen) == 1 else "grid")
    _check(kind, given, options)
    if options["corners_px"] and not options["top"]:
        from irspot.cli.console import say

        say(NO_TOP)
    if kind == "warm-up":
        _film(source, options)
    else:
        _still(source, kind, options)


def _option(name: str) -> str:
    return {"scale_degc": "--scale", "points": "--point"}.get(name, f"--{name.replace('_', '-')}")


def _check(kind: str, given: set[str], options: dict[str, Any]) -> None:
    from irspot.errors import UsageError

    for name, kinds in _ONLY.items():
        if name in given and kind not in kinds:
            raise UsageError(f"{_option(name)} says nothing about --as {kind}", wanted=f"--as {', '.join(kinds)}")


def _check_numbers(options: dict[str, Any]) -> None:
    from irspot.errors import UsageError

    for name in ("span_k", "every_s", "frame_interval_s"):
        if options[name] is not None and options[name] <= 0.0:
            raise UsageError(f"{_option(name)} must be above 0", found=f"{options[name]:g}")


def _source(options: dict[str, Any], given: set[str]) -> Any:
    from irspot.errors import UsageError
    from irspot.workflow.picture_source import from_frame, from_study

    file: Path = options["source"]
    if options["board"] is None:
        for name in _OF_FRAMES:
            if name in given:
                raise UsageError(
                    f"{_option(name)} is of a single frame", wanted="--board with it, or a key of the study"
                )
        if file.suffix.lower() != ".toml":
            raise UsageError("SOURCE is no study", file=str(file), wanted="a study.toml, or a frame with --board")
        return from_study(file, options["run_ids"])
    if options["run_ids"]:
        raise UsageError("--run is of a study, --board of a single frame", hint="give one of the two")
    return from_frame(_one_frame(file, options))


def _one_frame(file: Path, options: dict[str, Any]) -> Any:
    from irspot.conditions import Conditions
    from irspot.errors import UsageError
    from irspot.workflow.picture_source import OneFrame

    check_degc(options, ("ambient_degc", "reflected_degc"))
    low, high = options["low"], options["high"]
    if (low is None) != (high is None):
        raise UsageError("--low and --high go together")
    return OneFrame(
        frame_file=file,
        board_file=options["board"],
        camera_file=options["camera"],
        side=options["side"],
        top=options["top"],
        how=how_from(options),
        conditions=Conditions(ambient_degc=options["ambient_degc"], reflected_degc=options["reflected_degc"]),
        color_scale_degc=None if low is None else (low, high),
        utc_offset=options["utc_offset"],
        photo_file=options["photo"],
        frame_interval_s=options["frame_interval_s"],
    )


def _look(options: dict[str, Any]) -> Any:
    from irspot.workflow.picture_made import Look

    return Look(
        size=options["size"],
        cmap=options["cmap"],
        scale_degc=options["scale_degc"],
        span_k=options["span_k"],
        limit_degc=options["limit_degc"],
        axes=options["axes"],
        safe=10 if options["safe"] == "10" else 5,
        opacity=options["frame_opacity"],
        photo_opacity=options["photo_opacity"],
    )


def _still(source: Any, kind: str, options: dict[str, Any]) -> None:
    from irspot.cli.console import say, show_problems, show_progress
    from irspot.workflow.picture_files import check_output, check_sidecar, write_made
    from irspot.workflow.picture_kinds import check_kind, make
    from irspot.workflow.picture_source import shots_of
    from irspot.workflow.pool import silent

    output, sidecar = options["output"], options["alt"]
    check_output(output, source.inputs)
    check_sidecar(sidecar, output, source.inputs)
    look = _look(options)
    check_kind(kind, source, look)
    shots = shots_of(source, options["still"], show_progress if len(source.chosen) > 1 else silent)
    show_problems(warning for shot in shots for warning in shot.warnings if warning.severity == "warning")
    made = make(kind, shots, look, source.scale_degc, source.title)
    write_made(made, kind, output, sidecar)
    for failure in made.failures:
        say(f"irspot: error: {failure}")
    say(f"wrote {', '.join(str(file) for file in (output, sidecar) if file is not None)}")
    click.echo(made.words.caption)
    if made.failures:
        raise SystemExit(1)


def _film(source: Any, options: dict[str, Any]) -> None:
    from irspot.cli.console import say, show_problems, show_progress
    from irspot.workflow.picture_files import check_film, check_sidecar, write_film
    from irspot.workflow.picture_film import measured_film

    output, sidecar = options["output"], options["alt"]
    look = _look(options)
    kind = check_film(output, look.size, source.inputs)
    check_sidecar(sidecar, output, source.inputs)
    shown = measured_film(source, look, options["every_s"], show_progress)
    show_problems(shown.warnings)
    names = write_film(shown, kind, output, sidecar, options["fps"], show_progress)
    told = names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"
    say(f"wrote {told} in {output.parent}" + (f", and {sidecar}" if sidecar is not None else ""))
    click.echo(shown.words.caption)
