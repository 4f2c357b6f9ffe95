"""``irspot reflected``: the reflected temperature from a foil patch."""

from __future__ import annotations

from typing import Any

import click

from irspot.cli.options import (
    FiniteType,
    color_options,
    frame_options,
    json_option,
    place_job_from,
    placing_options,
)
from irspot.cli.patch_options import conditions_from, patch_options, show


@click.command()
@frame_options
@placing_options
@click.option("--zone", required=True, help="Zone of the board file that the foil covers.")
@click.option(
    "--foil-emissivity",
    type=FiniteType(),
    default=0.05,
    show_default=True,
    help="Emissivity of the foil; 0.03 to 0.07 if bright.",
)
@click.option("--u-foil-emissivity", type=FiniteType(), default=0.02, show_default=True, help="Its uncertainty.")
@patch_options
@color_options
@json_option
def command(**options: Any) -> None:
    """Measure the reflected temperature with crumpled foil in one FRAME.

    Crumple aluminium foil, flatten it roughly, lay it shiny side out where the board is measured, and draw a zone over
    it: it mirrors what the board mirrors. Prints reflected_degc and u_reflected_k for the study. Foil conducts: lay it
    on an unpowered board only, and take it off before power comes back.

    \b
    Example:
      irspot reflected foil.tiff --board k7.toml --camera camera.toml --top up --zone foil --ambient-degc 21
    """
    from irspot.errors import UsageError
    from irspot.measurement.patches import Known
    from irspot.workflow.patch_file import read_patches, reflected_from

    if not 0.0 < options["foil_emissivity"] < 0.5:
        found = f"{options['foil_emissivity']:g}"
        raise UsageError("--foil-emissivity is not that of a mirror", found=found, wanted="between 0 and 0.5")
    (patch,) = read_patches(place_job_from(options), (options["zone"],))
    own = options["ambient_degc"] if options["ambient_degc"] is not None else patch.seen_degc.value
    foil = Known(options["foil_emissivity"], options["u_foil_emissivity"])
    found_there = reflected_from(patch, foil, Known(own, 3.0), conditions_from(options))
    show(found_there, as_json=options["as_json"])
