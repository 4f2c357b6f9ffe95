"""Option types and decorators that several commands share."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from datetime import timedelta
from pathlib import Path
from typing import Any, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])

FilePath = click.Path(path_type=Path)


class PointType(click.ParamType[tuple[float, float]]):
    """A place in the stored image: ``x,y``."""

    name = "x,y"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:
        """Read ``x,y``."""
        if isinstance(value, tuple):
            return value
        parts = str(value).split(",")
        if len(parts) != 2:
            self.fail(f"'{value}' is not a place; wanted x,y such as 120.5,88", param, ctx)
        return (finite(parts[0], self, param, ctx), finite(parts[1], self, param, ctx))


class PointsType(click.ParamType[tuple[tuple[float, float], ...]]):
    """Several places: ``"x,y x,y x,y x,y"``."""

    name = "x,y x,y ..."

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[tuple[float, float], ...]:
        """Read places separated by spaces."""
        if isinstance(value, tuple):
            return value
        return tuple(PointType().convert(part, param, ctx) for part in str(value).split())


class NamedPointType(click.ParamType[tuple[str, float, float]]):
    """A mark and its place: ``ID=x,y``."""

    name = "ID=x,y"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[str, float, float]:
        """Read ``ID=x,y``."""
        if isinstance(value, tuple):
            return value
        mark, equals, place = str(value).partition("=")
        if not equals or not mark:
            self.fail(f"'{value}' does not name a mark; wanted ID=x,y such as hole-a=120.5,88", param, ctx)
        x, y = PointType().convert(place, param, ctx)
        return mark, x, y


class SizeType(click.ParamType[tuple[int, int]]):
    """A picture size: ``1920x1080``."""

    name = "WxH"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, int]:
        """Read ``WxH``."""
        if isinstance(value, tuple):
            return value
        match = re.fullmatch(r"(\d{2,5})[x×](\d{2,5})", str(value))
        if not match:
            self.fail(f"'{value}' is not a size; wanted WIDTHxHEIGHT such as 1920x1080", param, ctx)
        return int(match[1]), int(match[2])


class RangeType(click.ParamType[tuple[float, float]]):
    """Two temperatures: ``low,high``."""

    name = "LOW,HIGH"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:
        """Read ``low,high``."""
        if isinstance(value, tuple):
            return value
        parts = str(value).split(",")
        if len(parts) != 2:
            self.fail(f"'{value}' is not a range; wanted LOW,HIGH such as 20,100", param, ctx)
        low, high = (finite(part, self, param, ctx) for part in parts)
        if low >= high:
            self.fail(f"'{value}': the low end must be below the high end", param, ctx)
        return low, high


class BoxType(click.ParamType[tuple[int, int, int, int]]):
    """A box in the stored image: ``x0,y0,x1,y1``, ends exclusive."""

    name = "x0,y0,x1,y1"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[int, int, int, int]:
        """Read ``x0,y0,x1,y1``."""
        if isinstance(value, tuple):
            return value
        match = re.fullmatch(r"(\d{1,5}),(\d{1,5}),(\d{1,5}),(\d{1,5})", str(value))
        if not match:
            self.fail(f"'{value}' is not a box; wanted x0,y0,x1,y1 such as 600,40,620,440", param, ctx)
        x0, y0, x1, y1 = (int(part) for part in match.groups())
        if x0 >= x1 or y0 >= y1:
            self.fail(f"'{value}': a box runs from its upper left to its lower right corner", param, ctx)
        return x0, y0, x1, y1


class TickType(click.ParamType[tuple[float, float]]):
    """A place on a colour bar and its temperature: ``0.25=40``."""

    name = "PLACE=DEGC"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:
        """Read ``PLACE=DEGC``."""
        if isinstance(value, tuple):
            return value
        place_text, equals, degc = str(value).partition("=")
        if not equals:
            self.fail(f"'{value}' is not a tick; wanted PLACE=DEGC such as 0.25=40", param, ctx)
        place = finite(place_text, self, param, ctx)
        if not 0.0 <= place <= 1.0:
            self.fail(f"'{value}': a place lies between 0 (low end) and 1 (high end)", param, ctx)
        return place, finite(degc, self, param, ctx)


class SecondsType(click.ParamType[float]):
    """A time span: ``1s``, ``0.5``."""

    name = "SECONDS"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Read seconds, with or without ``s``."""
        if isinstance(value, float):
            return value
        seconds = finite(str(value).removesuffix("s"), self, param, ctx)
        if seconds < 0.0:
            self.fail(f"'{value}': a time span is not negative", param, ctx)
        return seconds


class UtcOffsetType(click.ParamType[timedelta]):
    """An offset from UTC: ``+02:00``."""

    name = "±HH:MM"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> timedelta:
        """Read ``±HH:MM``."""
        if isinstance(value, timedelta):
            return value
        match = re.fullmatch(r"([+-])(\d\d):([0-5]\d)", str(value))
        if not match or int(match[2]) > 14:
            self.fail(f"'{value}' is not an offset from UTC; wanted ±HH:MM such as +02:00", param, ctx)
        size = timedelta(hours=int(match[2]), minutes=int(match[3]))
        return -size if match[1] == "-" else size


class FiniteType(click.ParamType[float]):
    """A finite number."""

    name = "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Read a number; NaN and infinities are refused."""
        return finite(value, self, param, ctx)


def finite(text: Any, kind: click.ParamType[Any], param: click.Parameter | None, ctx: click.Context | None) -> float:
    """Read a finite number or fail as an option does."""
    import math

    try:
        number = float(text)
    except (TypeError, ValueError):
        number = math.nan
    if not math.isfinite(number):
        kind.fail(f"'{text}' is not a finite number", param, ctx)
    return number


def draws_option(command: Command) -> Command:
    """Add ``--monte-carlo``."""
    return click.option(
        "--monte-carlo",
        "draws",
        type=click.IntRange(1000, 10_000_000),
        metavar="N",
        help="Also draw the inputs of every reading N times (JCGM 101), as a check on its uncertainty.",
    )(command)


def json_option(command: Command) -> Command:
    """Add ``--json``: results for a script; failures become an error object."""

    def remember(ctx: click.Context, _option: click.Parameter, wanted: bool) -> bool:
        ctx.meta["irspot.json"] = wanted
        return wanted

    return click.option(
        "--json",
        "as_json",
        is_flag=True,
        is_eager=True,
        callback=remember,
        help="Print JSON instead of a table; a failure prints an error object.",
    )(command)


def frame_options(command: Command) -> Command:
    """Add what names one frame and the board in it."""
    for option in reversed(_FRAME_OPTIONS):
        command = option(command)
    return command


_FRAME_OPTIONS: tuple[Callable[[Any], Any], ...] = (
    click.argument("frame", type=FilePath),
    click.option("--board", required=True, type=FilePath, help="Board file with the outline and the zones."),
    click.option("--camera", type=FilePath, help="Camera file; not needed for frames that say their unit themselves."),
    click.option("--index", type=click.IntRange(min=0), help="Which frame of a file that holds several, from 0."),
)


def placing_options(command: Command) -> Command:
    """Add what says how the board lies in a frame."""
    for option in reversed(_PLACING_OPTIONS):
        command = option(command)
    return command


_PLACING_OPTIONS: tuple[Callable[[Any], Any], ...] = (
    click.option(
        "--side",
        type=click.Choice(["front", "rear"]),
        default="front",
        show_default=True,
        help="Side of the board seen.",
    ),
    click.option(
        "--top", type=click.Choice(["up", "right", "down", "left"]), help="Image side that the board's top edge faces."
    ),
    click.option(
        "--corners-px",
        type=PointsType(),
        help="Place of each corner of the outline, in its order; for a rectangle lower-left, lower-right, upper-right, "
        "upper-left as seen from the front.",
    ),
    click.option("--point", "points", multiple=True, type=NamedPointType(), help="Place of a mark; give four or more."),
)


def how_from(options: dict[str, Any]) -> Any:
    """Gather the options of `placing_options` as one way of placing.

    Raises
    ------
    UsageError
        If a mark is given twice, or both corners and points.
    """
    from irspot.api import how_to_place
    from irspot.errors import UsageError

    marks = [mark for mark, _, _ in options["points"]]
    if len(set(marks)) < len(marks):
        raise UsageError("a mark is given twice with --point", found=", ".join(marks))
    return how_to_place(options["corners_px"], {mark: (x, y) for mark, x, y in options["points"]})


def check_degc(options: dict[str, Any], names: Iterable[str]) -> None:
    """Refuse temperatures that there are not.

    Raises
    ------
    UsageError
        For one at or below absolute zero.
    """
    from irspot.constants import ZERO_DEGC_KELVIN
    from irspot.errors import UsageError

    for name in names:
        if options[name] is not None and options[name] <= -ZERO_DEGC_KELVIN:
            raise UsageError(f"--{name.replace('_', '-')} is below absolute zero", found=f"{options[name]:g} °C")


NO_TOP = "irspot: note: without --top nothing tells whether the corners were given one place on"


def picture_options(command: Command) -> Command:
    """Add the options of pictures: size, colour map, scale."""
    command = click.option(
        "--scale-degc", type=RangeType(), help="Ends of the colour scale in °C; default from the data."
    )(command)
    command = click.option(
        "--cmap", default="inferno", show_default=True, help="Colour map, any of matplotlib's by name."
    )(command)
    return click.option(
        "--size", type=SizeType(), default="1920x1080", show_default=True, help="Size of pictures in px."
    )(command)


def color_options(command: Command) -> Command:
    """Add what can be said about the colour bar of a colour-mapped picture."""
    for option in reversed(_COLOR_OPTIONS):
        command = option(command)
    return command


_COLOR_OPTIONS: tuple[Callable[[Any], Any], ...] = (
    click.option("--low", type=FiniteType(), help="Of a picture: temperature of the colour bar's low end, °C."),
    click.option("--high", type=FiniteType(), help="Of a picture: temperature of the colour bar's high end, °C."),
    click.option(
        "--tick",
        "ticks",
        multiple=True,
        type=TickType(),
        help="Of a picture: a place on the bar (0 low end, 1 high end) and its °C, such as 0.25=40.",
    ),
    click.option("--bar-px", type=BoxType(), help="Of a picture: where its colour bar is; default found."),
    click.option(
        "--low-end",
        type=click.Choice(["top", "bottom", "left", "right"]),
        help="Of a picture: the cold end of its colour bar; default found.",
    ),
    click.option("--ignore-px", multiple=True, type=BoxType(), help="Of a picture: a box that shows no heat (a logo)."),
)


def wish_from(options: dict[str, Any]) -> Any:
    """Gather the options of `color_options` as a `ColorWish`.

    Raises
    ------
    UsageError
        If ends and ticks make no scale.
    """
    from irspot.color_wish import ColorWish, scale_of

    return ColorWish(
        scale=scale_of(options["low"], options["high"], options["ticks"]),
        bar_px=options["bar_px"],
        low_end=options["low_end"],
        ignore_px=options["ignore_px"],
        ambient_degc=options.get("ambient_degc"),
    )


def place_job_from(options: dict[str, Any]) -> Any:
    """Gather which frame, which board, and how the board lies in it."""
    from irspot.workflow.place_file import PlaceJob

    return PlaceJob(
        frame_file=options["frame"],
        board_file=options["board"],
        camera_file=options["camera"],
        index=options["index"],
        side=options["side"],
        top=options["top"],
        how=how_from(options),
        wish=wish_from(options),
    )


class ChartSizeType(click.ParamType[tuple[int, int]]):
    """1080p, 4k, or WIDTHxHEIGHT in px."""

    name = "size"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, int]:
        """Read it; what is none is misuse."""
        from irspot.errors import UsageError
        from irspot.rendering.charts import chart_size

        try:
            return value if isinstance(value, tuple) else chart_size(value)
        except UsageError as error:
            self.fail(str(error), param, ctx)


def chart_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of charts."""
    size = click.option(
        "--chart-size", type=ChartSizeType(), default="1080p", show_default=True, help="Of charts: 1080p, 4k or WxH."
    )
    theme = click.option(
        "--theme", type=click.Choice(["dark", "light"]), default="dark", show_default=True, help="Of charts."
    )
    return size(theme(command))
