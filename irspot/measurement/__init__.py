"""Zones, hot spots and their uncertainty, on the camera's own pixels."""

from irspot.measurement.blur import blur_of, clearly_blurred
from irspot.measurement.drawn import with_draws
from irspot.measurement.even_map import EmissivityMap, emissivity_map_of
from irspot.measurement.geometry import geometry_of
from irspot.measurement.one_place import measure_at, surface_map
from irspot.measurement.readings import measure_zones, unplaced_readings

__all__ = [
    "EmissivityMap",
    "blur_of",
    "clearly_blurred",
    "emissivity_map_of",
    "geometry_of",
    "measure_at",
    "measure_zones",
    "surface_map",
    "unplaced_readings",
    "with_draws",
]
