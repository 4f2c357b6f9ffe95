"""Options and output that the commands on patches share."""

from __future__ import annotations

from typing import Any

import click

from irspot.cli.options import Command, FiniteType


def patch_options(command: Command) -> Command:
    """Add what stands between a patch and the camera."""
    for option in reversed(_PATCH_OPTIONS):
        command = option(command)
    return command


_PATCH_OPTIONS = (
    click.option("--ambient-degc", type=FiniteType(), help="Air temperature beside the board, °C."),
    click.option(
        "--transmission", type=FiniteType(), default=1.0, show_default=True, help="Of window and path, 0 to 1."
    ),
    click.option("--window-degc", type=FiniteType(), help="Temperature of the window, °C; default the ambient."),
)


def conditions_from(options: dict[str, Any]) -> Any:
    """Gather what was said of air and window.

    Raises
    ------
    UsageError
        For a transmission that nothing has.
    """
    from irspot.conditions import Conditions
    from irspot.errors import UsageError

    if not 0.0 < options["transmission"] <= 1.0:
        raise UsageError("--transmission must lie above 0 and up to 1", found=f"{options['transmission']:g}")
    return Conditions(
        ambient_degc=options["ambient_degc"],
        transmission=options["transmission"],
        window_degc=options["window_degc"],
    )


def show(found: dict[str, Any], *, as_json: bool) -> None:
    """Print names and values, a line each, or an object."""
    import json

    if as_json:
        click.echo(json.dumps(found, ensure_ascii=False, allow_nan=False))
        return
    for name, value in found.items():
        click.echo(f"{name}\t{value:.4g}" if isinstance(value, float) else f"{name}\t{value}")
