"""Options that put a photo beneath a picture's colours."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from irspot.cli.options import Command, FilePath, NamedPointType, PointsType


def photo_options(command: Command) -> Command:
    """Add what can be said about a photo of the same view."""
    for option in reversed(_PHOTO_OPTIONS):
        command = option(command)
    return command


_PHOTO_OPTIONS: tuple[Callable[[Any], Any], ...] = (
    click.option("--photo", type=FilePath, help="Visible-light photo of the same side, shown beneath the colours."),
    click.option(
        "--photo-corners-px", type=PointsType(), help="Place of each corner of the outline in the photo, in its order."
    ),
    click.option(
        "--photo-point",
        "photo_points",
        multiple=True,
        type=NamedPointType(),
        help="Place of a mark in the photo; give four or more.",
    ),
    click.option(
        "--photo-top",
        type=click.Choice(["up", "right", "down", "left"]),
        help="Side of the photo that the board's top edge faces; default as --top.",
    ),
    click.option("--by-photo", is_flag=True, help="Place the board in the frame by what it shares with the photo."),
    click.option(
        "--photo-opacity",
        type=click.FloatRange(0.0, 1.0),
        help="Share of the photo in what is shown: 0 the colours alone, 1 the photo alone; default 0.4.",
    ),
)


def photo_from(options: dict[str, Any]) -> Any:
    """Gather the options of `photo_options` as a `PhotoWish`.

    Raises
    ------
    UsageError
        If they contradict one another, or there is no picture to show the photo in.
    """
    from irspot.api import how_to_place
    from irspot.errors import UsageError
    from irspot.photo import DEFAULT_PHOTO_OPACITY, PhotoWish

    if options["photo"] is None:
        for name in ("photo_corners_px", "photo_points", "photo_top", "photo_opacity", "by_photo"):
            if options[name] not in (None, (), False):
                raise UsageError(f"--{_option(name)} says something about a photo, but there is none", wanted="--photo")
        return PhotoWish()
    if options["by_photo"] and (options["corners_px"] or options["points"]):
        raise UsageError("--by-photo contradicts --corners-px and --point", hint="give one way of placing the board")
    if options["output"] is None and not options["by_photo"]:
        raise UsageError("--photo is shown in the picture", wanted="-o, a folder to write it to")
    marks = [mark for mark, _, _ in options["photo_points"]]
    if len(set(marks)) < len(marks):
        raise UsageError("a mark is given twice with --photo-point", found=", ".join(marks))
    points = {mark: (x, y) for mark, x, y in options["photo_points"]}
    opacity = options["photo_opacity"]
    return PhotoWish(
        how_to_place(options["photo_corners_px"], points),
        options["photo_top"] or options["top"],
        DEFAULT_PHOTO_OPACITY if opacity is None else opacity,
    )


def _option(name: str) -> str:
    return {"photo_points": "photo-point"}.get(name, name.replace("_", "-"))
