"""Zones, hot spots and their uncertainty, on the camera's own pixels.

The names below are loaded when first asked for: measuring a frame needs a part of this package only.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from irspot.measurement.blur import blur_of, clearly_blurred
    from irspot.measurement.drawn import with_draws
    from irspot.measurement.even_map import EmissivityMap, emissivity_map_of
    from irspot.measurement.geometry import geometry_of
    from irspot.measurement.one_place import measure_at, surface_map
    from irspot.measurement.readings import measure_zones, unplaced_readings
    from irspot.measurement.references import held

_HOME = {
    "EmissivityMap": "even_map",
    "blur_of": "blur",
    "clearly_blurred": "blur",
    "emissivity_map_of": "even_map",
    "geometry_of": "geometry",
    "held": "references",
    "measure_at": "one_place",
    "measure_zones": "readings",
    "surface_map": "one_place",
    "unplaced_readings": "readings",
    "with_draws": "drawn",
}

__all__ = [
    "EmissivityMap",
    "blur_of",
    "clearly_blurred",
    "emissivity_map_of",
    "geometry_of",
    "held",
    "measure_at",
    "measure_zones",
    "surface_map",
    "unplaced_readings",
    "with_draws",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
    globals()[name] = value
    return value
