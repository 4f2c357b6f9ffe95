"""Options that give every pixel its emissivity, from a frame of the evenly warm board."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from irspot.cli.options import Command, FilePath, FiniteType, PointsType


def map_options(command: Command) -> Command:
    """Add what can be said about an even frame."""
    for option in reversed(_MAP_OPTIONS):
        command = option(command)
    return command


_MAP_OPTIONS: tuple[Callable[[Any], Any], ...] = (
    click.option(
        "--emissivity-map",
        type=FilePath,
        help="Frame of the unpowered board held evenly warm, from the same place: every pixel gets its own emissivity.",
    ),
    click.option("--map-degc", type=FiniteType(), help="The board's temperature in it, °C; 20 K above surroundings."),
    click.option("--map-u-k", type=FiniteType(), default=0.5, show_default=True, help="Its standard uncertainty, K."),
    click.option(
        "--map-reflected-degc", type=FiniteType(), help="Reflected temperature then, °C; default --reflected-degc."
    ),
    click.option(
        "--map-u-reflected-k", type=FiniteType(), help="Its standard uncertainty, K; default --u-reflected-k."
    ),
    click.option(
        "--map-corners-px",
        type=PointsType(),
        help="Corners in the even frame; without, the board is placed as in FRAME.",
    ),
    click.option(
        "--map-same-session", is_flag=True, help="The camera stayed on between both: its error is the same in them."
    ),
)


def even_from(options: dict[str, Any]) -> Any:
    """Gather the options of `map_options` as an `EvenFrame`; None where there is none.

    Raises
    ------
    UsageError
        If they contradict one another, or something is missing.
    """
    from irspot.api import how_to_place
    from irspot.errors import UsageError
    from irspot.even_frame import EvenConditions, EvenFrame

    if options["emissivity_map"] is None:
        for name in ("map_degc", "map_reflected_degc", "map_u_reflected_k", "map_corners_px", "map_same_session"):
            if options[name] not in (None, (), False):
                raise UsageError(f"--{name.replace('_', '-')} says something about a map, but there is none")
        return None
    either = options["map_reflected_degc"], options["reflected_degc"]
    reflected_degc = next((value for value in either if value is not None), None)
    if options["map_degc"] is None or reflected_degc is None:
        missing = "--map-degc" if options["map_degc"] is None else "--map-reflected-degc"
        raise UsageError("a map needs the temperatures of the even board and of what it reflects", wanted=missing)
    u_reflected_k = options["map_u_reflected_k"]
    u_reflected_k = options["u_reflected_k"] if u_reflected_k is None else u_reflected_k
    if options["map_u_k"] < 0.0 or u_reflected_k < 0.0:
        raise UsageError("a standard uncertainty must not be negative")
    window = (options["window_degc"], options["ambient_degc"], reflected_degc)
    taken = EvenConditions(
        options["map_degc"],
        options["map_u_k"],
        reflected_degc,
        u_reflected_k,
        options["transmission"],
        next(value for value in window if value is not None),
        options["map_same_session"],
    )
    how = how_to_place(options["map_corners_px"], None) if options["map_corners_px"] else None
    return EvenFrame(options["emissivity_map"], taken, how, options["top"], key="")
