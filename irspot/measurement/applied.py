"""Which emissivity, reflected temperature and window apply to a zone, and what of it is assumed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from irspot.board import Zone
from irspot.camera import Band
from irspot.conditions import Conditions
from irspot.constants import (
    ASSUMED_U_REFLECTED_K,
    BARE_METAL_EMISSIVITY,
    DEFAULT_REFLECTED_DEGC,
    DEFAULT_U_REFLECTED_K,
    MOST_U_EMISSIVITY,
)
from irspot.radiometry import Sensitivities, apparent_temperature, sensitivities, surface_temperature


@dataclass(frozen=True, slots=True)
class MapErrors:
    """What is uncertain of an emissivity from a map beyond the pixel itself.

    Parameters
    ----------
    u_even : float
        Standard uncertainty by the even frame's board and surroundings.
    u_camera : float
        By the camera's limit there, where its error is another one than in the measured frame.
    per_limit : float
        Change of the emissivity by the camera's whole limit there, where the error is the same; else 0.
    """

    u_even: float
    u_camera: float
    per_limit: float


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
    bound : bool
        Whether the emissivity is the highest there may be, so that the temperature is bounded from below.
    of_map : MapErrors or None
        Where the emissivity is that of a map's pixel.
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
    bound: bool = False
    of_map: MapErrors | None = None

    def surface(self, radiance_degc: ArrayLike, band: Band) -> NDArray[np.float32]:
        """Surface temperatures behind radiance temperatures; NaN where physically impossible."""
        return self.surface_of(radiance_degc, self.emissivity, band)

    def surface_of(self, radiance_degc: ArrayLike, emissivity: ArrayLike, band: Band) -> NDArray[np.float32]:
        """Surface temperatures by an emissivity for each radiance temperature; NaN where physically impossible."""
        single = np.asarray(radiance_degc, dtype=np.float32)
        surface = surface_temperature(
            single,
            emissivity=emissivity,
            reflected_degc=self.reflected_degc,
            transmission=self.transmission,
            window_degc=self.window_degc,
            band=band,
        )
        return np.asarray(surface, dtype=np.float32)

    def seen(self, surface_degc: float, band: Band) -> float:
        """Radiance temperature at which a surface temperature appears."""
        return float(self.seen_of(surface_degc, band))

    def seen_of(self, surface_degc: ArrayLike, band: Band) -> NDArray[np.floating[Any]]:
        """Radiance temperatures at which surface temperatures appear."""
        return apparent_temperature(
            surface_degc,
            emissivity=self.emissivity,
            reflected_degc=self.reflected_degc,
            transmission=self.transmission,
            window_degc=self.window_degc,
            band=band,
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

    Bare metal whose emissivity was not measured is read as a black body, which bounds its temperature from below; metal
    measured so roughly that first-order uncertainties mean nothing, with the highest emissivity it may have.
    """
    reflected_degc, u_reflected_k, assumed = _reflected(zone, conditions)
    window_degc, u_window_k = _window(conditions, reflected_degc, u_reflected_k)
    emissivity, u_emissivity, bound, of_emissivity = _emissivity(zone)
    return Applied(
        emissivity=emissivity,
        u_emissivity=u_emissivity,
        reflected_degc=reflected_degc,
        u_reflected_k=u_reflected_k,
        transmission=conditions.transmission,
        u_transmission=conditions.u_transmission,
        window_degc=window_degc,
        u_window_k=u_window_k,
        # What a black body reflects is nothing, so that nothing was assumed of it.
        flags=(*(("reflected-assumed",) if assumed and emissivity < 1.0 else ()), *of_emissivity),
        bound=bound,
    )


def _emissivity(zone: Zone) -> tuple[float, float, bool, tuple[str, ...]]:
    """Give what a zone states, its uncertainty, whether it bounds the temperature only, and flags."""
    if zone.bare_metal:
        # As a black body: nothing that sends this radiance is cooler, unless it mirrors something hotter.
        return 1.0, 0.0, True, ("bare-metal",)
    metal = 0.0 < zone.emissivity < BARE_METAL_EMISSIVITY
    if metal and zone.u_emissivity > MOST_U_EMISSIVITY * zone.emissivity:
        return min(1.0, zone.emissivity + 2.0 * zone.u_emissivity), 0.0, True, ("emissivity-uncertain",)
    return zone.emissivity, zone.u_emissivity, False, ("emissivity-assumed",) * zone.emissivity_assumed


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
