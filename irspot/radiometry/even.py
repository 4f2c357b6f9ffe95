"""Emissivity of a surface whose temperature is known, and how it depends on what it is computed from.

The measurement model for another of its unknowns: with S the radiance received, L(T) that of a black body of the
surface's temperature and L(T_r) of the reflected one, t and T_w transmission and temperature of window and path, ::

    e = (S - background) / (t [L(T) - L(T_r)]),    background = t L(T_r) + (1 - t) L(T_w)

It is the contact method of ASTM E1933 (in this project's words) for every pixel at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from irspot.camera import Band
from irspot.even_frame import EvenConditions
from irspot.radiometry.band_table import band_table

FloatArray = NDArray[np.floating[Any]]


@dataclass(frozen=True, slots=True)
class EvenSlopes:
    """First derivatives of an emissivity.

    Parameters
    ----------
    to_radiance_temperature, to_surface, to_reflected : float
        [1/K]
    """

    to_radiance_temperature: float
    to_surface: float
    to_reflected: float


def emissivity_of_even(radiance_temp_degc: ArrayLike, taken: EvenConditions, band: Band) -> FloatArray:
    """Emissivity of surfaces of one known temperature.

    Parameters
    ----------
    radiance_temp_degc : array_like
        [°C]
    taken : EvenConditions
    band : Band

    Returns
    -------
    ndarray
        As the equation gives it: outside 0 to 1 where the surface is not what `taken` says; NaN where not measured.

    Examples
    --------
    >>> taken = EvenConditions(85.0, reflected_degc=25.0)
    >>> float(emissivity_of_even(80.001367, taken, Band(8.0, 14.0)).round(6))
    0.9
    """
    table = band_table(band)
    background, contrast = _shared(taken, band)
    return np.asarray((table.radiance(radiance_temp_degc) - background) / contrast)


def even_slopes(emissivity: float, taken: EvenConditions, band: Band) -> EvenSlopes:
    """Derivatives of `emissivity_of_even` where it gave an emissivity.

    Parameters
    ----------
    emissivity : float
    taken : EvenConditions
    band : Band

    Returns
    -------
    EvenSlopes

    Notes
    -----
    With D = L(T) - L(T_r) and T_s the radiance temperature: ∂e/∂T_s = L'(T_s) / (t D); ∂e/∂T = -e L'(T) / D;
    ∂e/∂T_r = -(1 - e) L'(T_r) / D. That to the transmission is left out: the same one stands in the frame that is
    measured, where the two cancel.
    """
    table = band_table(band)
    background, contrast = _shared(taken, band)
    seen = float(table.temperature_degc(background + emissivity * contrast))
    slope_seen, slope_own, slope_reflected = (
        float(table.slope(degc)) for degc in (seen, taken.temperature_degc, taken.reflected_degc)
    )
    difference = contrast / taken.transmission
    return EvenSlopes(
        to_radiance_temperature=slope_seen / contrast,
        to_surface=-emissivity * slope_own / difference,
        to_reflected=-(1.0 - emissivity) * slope_reflected / difference,
    )


def seen_of_even(emissivity: float, taken: EvenConditions, band: Band) -> float:
    """Radiance temperature at which a surface of an emissivity appears in an even frame, in °C."""
    background, contrast = _shared(taken, band)
    return float(band_table(band).temperature_degc(background + emissivity * contrast))


def _shared(taken: EvenConditions, band: Band) -> tuple[float, float]:
    """Background, and t D."""
    table = band_table(band)
    own, reflected = (float(table.radiance(degc)) for degc in (taken.temperature_degc, taken.reflected_degc))
    window = 0.0 if taken.transmission == 1.0 else (1.0 - taken.transmission) * float(table.radiance(taken.window_degc))
    return taken.transmission * reflected + window, taken.transmission * (own - reflected)
