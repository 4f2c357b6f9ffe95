"""In-band radiance and temperature: the physics between stored numbers and surfaces."""

from irspot.radiometry.band_table import BandTable, band_table
from irspot.radiometry.model import (
    Sensitivities,
    apparent_temperature,
    impossible,
    sensitivities,
    surface_temperature,
)
from irspot.radiometry.signal import falls, radiance_temperature, radiance_temperature_of, range_degc
from irspot.radiometry.stored import stored_to_surface

__all__ = [
    "BandTable",
    "Sensitivities",
    "apparent_temperature",
    "band_table",
    "falls",
    "impossible",
    "radiance_temperature",
    "radiance_temperature_of",
    "range_degc",
    "sensitivities",
    "stored_to_surface",
    "surface_temperature",
]
