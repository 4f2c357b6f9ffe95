"""How hot each zone of a circuit board gets, from infrared frames, with an honest uncertainty.

The public names below are loaded when first used, so that importing irspot costs nothing.

Examples
--------
>>> import irspot
>>> camera = irspot.read_camera("sample_images/camera.toml")
>>> board = irspot.read_board("sample_images/boards/t3.toml")
>>> frame = irspot.read_frame("sample_images/frames/t3-stock-front.tiff", camera)
>>> corners = [(97.3, 481.6), (543.3, 485.1), (541.8, 44.1), (105.5, 40.8)]
>>> placement = irspot.place(frame, board, top="up", corners_px=corners)
>>> readings = irspot.measure(frame, board, placement, ambient_degc=21.2, reflected_degc=22.2)
>>> [(r.zone, r.verdict) for r in readings][:2]
[('ps-left', 'usable'), ('ps-top', 'usable')]
>>> 60.0 < readings[0].max_degc < 80.0
True
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from irspot.api import (
        decode_frame,
        map_emissivity,
        measure,
        picture,
        place,
        place_by_photo,
        place_photo,
        take_off_pattern,
    )
    from irspot.board import Board, Zone
    from irspot.camera import Camera
    from irspot.decoding.photo import read_photo
    from irspot.errors import IrspotError, PlacementRefused
    from irspot.files import read_board, read_camera, read_study
    from irspot.frame import Frame
    from irspot.photo import Photo
    from irspot.readers import open_frames, read_frame
    from irspot.registration.placement import Placement
    from irspot.results import Reading
    from irspot.study import Study
    from irspot.workflow.compare_study import compare_studies
    from irspot.workflow.run import run_study

_HOME = {
    "read_camera": "irspot.files",
    "read_board": "irspot.files",
    "read_study": "irspot.files",
    "read_frame": "irspot.readers",
    "open_frames": "irspot.readers",
    "decode_frame": "irspot.api",
    "place": "irspot.api",
    "read_photo": "irspot.decoding.photo",
    "place_photo": "irspot.api",
    "place_by_photo": "irspot.api",
    "take_off_pattern": "irspot.api",
    "measure": "irspot.api",
    "map_emissivity": "irspot.api",
    "picture": "irspot.api",
    "run_study": "irspot.workflow.run",
    "compare_studies": "irspot.workflow.compare_study",
    "Board": "irspot.board",
    "Zone": "irspot.board",
    "Camera": "irspot.camera",
    "Frame": "irspot.frame",
    "Photo": "irspot.photo",
    "Placement": "irspot.registration.placement",
    "Reading": "irspot.results",
    "Study": "irspot.study",
    "IrspotError": "irspot.errors",
    "PlacementRefused": "irspot.errors",
}

__all__ = [
    "read_camera",
    "read_board",
    "read_study",
    "read_frame",
    "open_frames",
    "decode_frame",
    "place",
    "read_photo",
    "place_photo",
    "place_by_photo",
    "take_off_pattern",
    "measure",
    "map_emissivity",
    "picture",
    "run_study",
    "compare_studies",
    "Board",
    "Zone",
    "Camera",
    "Frame",
    "Photo",
    "Placement",
    "Reading",
    "Study",
    "IrspotError",
    "PlacementRefused",
]


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from irspot.version import __version__

        return __version__
    if name not in _HOME:
        raise AttributeError(f"module 'irspot' has no attribute {name!r}")
    value = getattr(importlib.import_module(_HOME[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
