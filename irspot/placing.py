"""How somebody wants the board placed in a frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ImageSide = Literal["up", "right", "down", "left"]
"""A side of the image, such as the one that the board's top edge faces."""


@dataclass(frozen=True, slots=True)
class CornersPx:
    """Placement by hand: one point for each vertex of the outline, in its order (px, x right, y down)."""

    points_px: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class PointsPx:
    """Placement by hand: the places of marks, by mark id."""

    points_px: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True, slots=True)
class AutoPlacement:
    """Placement to be found in the frame."""


@dataclass(frozen=True, slots=True)
class PhotoPlacement(AutoPlacement):
    """Placement to be found in the frame by what it shares with a photo, in which the board is placed already."""


HowToPlace = CornersPx | PointsPx | AutoPlacement

AUTO = AutoPlacement()
