"""``irspot emissivity``: a zone's emissivity from a contact temperature or a strip of tape."""

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
@click.option("--zone", required=True, help="Zone of the board file whose surface it is.")
@click.option("--contact-degc", type=FiniteType(), help="Its temperature by a contact, °C.")
@click.option("--u-contact-k", type=FiniteType(), default=1.0, show_default=True, help="Its standard uncertainty, K.")
@click.option("--tape-zone", help="Instead of a contact: zone of a strip of tape beside it, as hot as the surface.")
@click.option("--tape-emissivity", type=FiniteType(), default=0.95, show_default=True, help="Emissivity of the tape.")
@click.option("--u-tape-emissivity", type=FiniteType(), default=0.01, show_default=True, help="Its uncertainty.")
@click.option("--reflected-degc", type=FiniteType(), required=True, help="Reflected temperature, °C.")
@click.option("--u-reflected-k", type=FiniteType(), default=3.0, show_default=True, help="Its standard uncertainty, K.")
@patch_options
@color_options
@json_option
def command(**options: Any) -> None:
    """Measure a zone's emissivity in one FRAME of a warm board.

    The surface must be 10 K at least, better 20 K, above what it reflects, and as hot as the contact or the tape says.
    Prints emissivity and u_emissivity for the board file, where emissivity_from says how they were found. Exposed
    metal may be live: attach contacts and tape to an unpowered board only.

    \b
    Example:
      irspot emissivity warm.tiff --board k7.toml --camera camera.toml --top up \\
        --zone heatsink --tape-zone tape --reflected-degc 22
    """
    from irspot.errors import UsageError
    from irspot.measurement.patches import Known
    from irspot.workflow.patch_file import emissivity_from, read_patches, tape_degc

    if (options["contact_degc"] is None) == (options["tape_zone"] is None):
        raise UsageError("give --contact-degc or --tape-zone, one of the two")
    conditions = conditions_from(options)
    reflected = Known(options["reflected_degc"], options["u_reflected_k"])
    if options["tape_zone"] is None:
        (patch,) = read_patches(place_job_from(options), (options["zone"],))
        surface = Known(options["contact_degc"], options["u_contact_k"])
        found = emissivity_from(patch, patch.seen_degc, surface, reflected, conditions) | {"emissivity_from": "contact"}
    else:
        patch, strip = read_patches(place_job_from(options), (options["zone"], options["tape_zone"]))
        tape = Known(options["tape_emissivity"], options["u_tape_emissivity"])
        surface = tape_degc(strip, tape, reflected, conditions)
        found = emissivity_from(patch, patch.beside_degc, surface, reflected, conditions) | {"emissivity_from": "tape"}
    show(found | {"surface_degc": surface.value}, as_json=options["as_json"])
