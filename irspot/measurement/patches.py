"""What a patch of known properties tells: the reflected temperature from foil, an emissivity from a known temperature.

Both invert S = t [e L(T) + (1 - e) L(T_reflected)] + (1 - t) L(T_window) for another of its unknowns, S being the mean
radiance of the patch. Uncertainties are of first order (JCGM 100:2008, 5.1), derivatives taken numerically.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from irspot.camera import Band
from irspot.radiometry import band_table

_LEAST_CONTRAST_K: Final = 10.0
"""A surface closer to its surroundings than this shows nothing of its emissivity (published practice wants 20 K)."""
_STEP: Final = 0.01


@dataclass(frozen=True, slots=True)
class Known:
    """A number with its standard uncertainty, in one unit."""

    value: float
    u: float = 0.0


@dataclass(frozen=True, slots=True)
class Between:
    """Transmission of what lies between, and its temperature in °C."""

    transmission: float = 1.0
    window_degc: float = 20.0


NOTHING_BETWEEN: Final = Between()


def reflected_of_foil(
    seen_degc: Known, foil: Known, foil_degc: Known, band: Band, between: Between = NOTHING_BETWEEN
) -> Known:
    """Reflected temperature from the mean radiance temperature of a diffuse mirror.

    Parameters
    ----------
    seen_degc : Known
        Mean radiance temperature of the foil.
    foil : Known
        Its emissivity.
    foil_degc : Known
        Its own temperature, that of the air beside it.
    band : Band
    between : Between

    Returns
    -------
    Known
        °C; NaN where no surroundings send so little.

    Notes
    -----
    L(T_reflected) = (S' - e L(T)) / (1 - e) with S' = (S - (1 - t) L(T_window)) / t.
    """
    table = band_table(band)

    def solve(seen: float, emissivity: float, own: float) -> float:
        left = _before(seen, band, between) - emissivity * float(table.radiance(own))
        return _degc(left / (1.0 - emissivity), band)

    return _propagated(solve, seen_degc, foil, foil_degc)


def emissivity_of(
    seen_degc: Known, surface_degc: Known, reflected_degc: Known, band: Band, between: Between = NOTHING_BETWEEN
) -> Known:
    """Emissivity of a surface whose temperature is known: from a contact, or from tape beside it.

    Parameters
    ----------
    seen_degc : Known
        Mean radiance temperature of the surface.
    surface_degc : Known
        Its true temperature.
    reflected_degc : Known
    band : Band
    between : Between

    Returns
    -------
    Known
        NaN where the surface is not clearly warmer or cooler than its surroundings.

    Notes
    -----
    e = (S' - L(T_reflected)) / (L(T) - L(T_reflected)): the contact and the reference-tape method of ASTM E1933 (in
    this project's words).
    """
    table = band_table(band)

    def solve(seen: float, own: float, reflected: float) -> float:
        mirrored = float(table.radiance(reflected))
        return (_before(seen, band, between) - mirrored) / (float(table.radiance(own)) - mirrored)

    if abs(surface_degc.value - reflected_degc.value) < _LEAST_CONTRAST_K:
        return Known(float("nan"), float("nan"))
    return _propagated(solve, seen_degc, surface_degc, reflected_degc)


def _before(seen_degc: float, band: Band, between: Between) -> float:
    """Radiance before window and path."""
    table = band_table(band)
    received = float(table.radiance(seen_degc))
    if between.transmission == 1.0:
        return received
    return (received - (1.0 - between.transmission) * float(table.radiance(between.window_degc))) / between.transmission


def _degc(radiance: float, band: Band) -> float:
    return float(band_table(band).temperature_degc(radiance)) if radiance > 0.0 else float("nan")


def _propagated(solve: Callable[[float, float, float], float], *inputs: Known) -> Known:
    values = [each.value for each in inputs]
    total = 0.0
    for number, each in enumerate(inputs):
        step = _STEP * each.u
        if step == 0.0:
            continue
        up, down = list(values), list(values)
        up[number] += step
        down[number] -= step
        total += ((solve(*up) - solve(*down)) / (2.0 * step) * each.u) ** 2
    return Known(solve(*values), float(np.sqrt(total)))
