"""A camera's band as a formula: radiance of a temperature, and its slope."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Band
from irspot.errors import IrspotError
from irspot.radiometry import planck, sakuma_hattori

FloatArray = NDArray[np.float64]
OfTemperature = Callable[[FloatArray], tuple[FloatArray, FloatArray]]


def formula(band: Band) -> OfTemperature:
    """Give radiance and slope of a band as a function of temperature.

    Parameters
    ----------
    band : Band
        With `Band.sakuma_hattori` given, the edges are not used.

    Returns
    -------
    callable
        Of temperatures [K], giving radiance [W m⁻² sr⁻¹] and slope [W m⁻² sr⁻¹ K⁻¹].

    Raises
    ------
    IrspotError
        If the edges are not rising and above zero, or A and C not above zero.
    """
    if band.sakuma_hattori is not None:
        return _by_three_numbers(*band.sakuma_hattori)
    return _flat(band.lower_um, band.upper_um)


def _flat(lower_um: float, upper_um: float) -> OfTemperature:
    if not 0.0 < lower_um < upper_um < np.inf:
        raise IrspotError(
            "the band is empty", key="band", found=f"{lower_um} to {upper_um} µm", wanted="0 < lower_um < upper_um"
        )

    def radiance_and_slope(kelvin: FloatArray) -> tuple[FloatArray, FloatArray]:
        radiance = planck.band_radiance(lower_um, upper_um, kelvin)
        return radiance, planck.band_slope(lower_um, upper_um, kelvin, radiance)

    return radiance_and_slope


def _by_three_numbers(a_um: float, b_um_k: float, c: float) -> OfTemperature:
    if not (0.0 < a_um < np.inf and 0.0 < c < np.inf and np.isfinite(b_um_k)):
        raise IrspotError(
            "these numbers give no rising radiance",
            key="band.sakuma_hattori",
            found=f"[{a_um}, {b_um_k}, {c}]",
            wanted="[A, B, C] with A (µm) and C (W m⁻² sr⁻¹) above zero",
        )
    return lambda kelvin: (
        sakuma_hattori.radiance(kelvin, a_um, b_um_k, c),
        sakuma_hattori.slope(kelvin, a_um, b_um_k, c),
    )
