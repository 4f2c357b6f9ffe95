"""Which emissivity, reflected temperature and window apply to a zone, and what of it is assumed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from irspot.board import Zone
from irspot.camera import Band
from irspot.conditions import Conditions
from irspot.constants import ASSUMED_U_REFLECTED_K, DEFAULT_REFLECTED_DEGC, DEFAULT_U_REFLECTED_K
from irspot.radiometry import Sensitivities, apparent_temperature, sensitivities, surface_temperature


@dataclass(frozen=True, slots=True)
class Applied:
    """What is applied to a zone's radiance temperatures.

    Parameters
    ----------
    emissivity, u_emissivity : float
    reflected_degc, u_reflected_k : float
    transmission, u_transmission : float
    window_degc, u_window_k : float
    flags : tuple of str
        What had to be assumed.
    """

    emissivity: float
    u_emissivity: float
    reflected_degc: float
    u_reflected_k: float
    transmission: float
    u_transmission: float
    window_degc: float
    u_window_k: float
    flags: tuple[str, ...]

    def surface(self, radiance_degc: ArrayLike, band: Band) -> NDArray[np.float32]:
        """Surface temperatures behind radiance temperatures; NaN where physically impossible."""
        single = np.asarray(radiance_degc, dtype=np.float32)
        surface = surface_temperature(
            single,
            emissivity=self.emissivity,
            reflected_degc=self.reflected_degc,
            transmission=self.transmission,
            window_degc=self.window_degc,
            band=band,
        )
        return np.asarray(surface, dtype=np.float32)

    def seen(self, surface_degc: float, band: Band) -> float:
        """Radiance temperature at which a surface temperature appears."""
        return float(
            apparent_temperature(
                surface_degc,
                emissivity=self.emissivity,
                reflected_degc=self.reflected_degc,
                transmission=self.transmission,
                window_degc=self.window_degc,
                band=band,
            )
        )


def sensitivities_of(applied: Sequence[Applied], radiance_degc: Sequence[float], band: Band) -> Sensitivities:
    """Derivatives of surface temperatures with respect to everything applied, one radiance temperature for each.

    Parameters
    ----------
    applied : sequence of Applied
    radiance_degc : sequence of float
    band : Band

    Returns
    -------
    Sensitivities
        Of arrays of that length.
    """
    return sensitivities(
        radiance_degc,
        emissivity=[each.emissivity for each in applied],
        reflected_degc=[each.reflected_degc for each in applied],
        transmission=[each.transmission for each in applied],
        window_degc=[each.window_degc for each in applied],
        band=band,
    )


def applied_to(zone: Zone, conditions: Conditions) -> Applied:
    """Choose what applies: the zone's own before the conditions', theirs before what is assumed.

    Bare metal whose emissivity was not measured is read as a black body, which bounds its temperature from below.
    """
    reflected_degc, u_reflected_k, assumed = _reflected(zone, conditions)
    window_degc, u_window_k = _window(conditions, reflected_degc, u_reflected_k)
    flags = ("reflected-assumed",) * assumed + ("emissivity-assumed",) * zone.emissivity_assumed
    if zone.bare_metal:
        # As a black body: nothing that sends this radiance is cooler, unless it mirrors something hotter.
        flags = ("bare-metal",)
    return Applied(
        emissivity=1.0 if zone.bare_metal else zone.emissivity,
        u_emissivity=0.0 if zone.bare_metal else zone.u_emissivity,
        reflected_degc=reflected_degc,
        u_reflected_k=u_reflected_k,
        transmission=conditions.transmission,
        u_transmission=conditions.u_transmission,
        window_degc=window_degc,
        u_window_k=u_window_k,
        flags=flags,
    )


def _reflected(zone: Zone, conditions: Conditions) -> tuple[float, float, bool]:
    if zone.reflected_degc is not None:
        u_k = DEFAULT_U_REFLECTED_K if zone.u_reflected_k is None else zone.u_reflected_k
        return zone.reflected_degc, u_k, False
    if conditions.reflected_degc is not None:
        return conditions.reflected_degc, conditions.u_reflected_k, False
    assumed = DEFAULT_REFLECTED_DEGC if conditions.ambient_degc is None else conditions.ambient_degc
    return assumed, ASSUMED_U_REFLECTED_K, True


def _window(conditions: Conditions, reflected_degc: float, u_reflected_k: float) -> tuple[float, float]:
    # No uncertainty of the window is asked for; it hangs in the same air as the sensor of the ambient temperature.
    if conditions.window_degc is not None:
        return conditions.window_degc, conditions.u_ambient_k
    if conditions.ambient_degc is not None:
        return conditions.ambient_degc, conditions.u_ambient_k
    return reflected_degc, u_reflected_k
