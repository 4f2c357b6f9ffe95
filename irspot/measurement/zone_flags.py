"""What is worth knowing about the pixels of a zone, as flags."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Zone
from irspot.conditions import Conditions
from irspot.constants import FEW_PIXELS_ACROSS, STEEPEST_DEG
from irspot.frame import Frame
from irspot.measurement.geometry import ZonePixels
from irspot.measurement.pixels import Pixels
from irspot.registration.heights import camera_pose, pose_doubtful
from irspot.registration.placement import Placement

BoolArray = NDArray[np.bool_]

_HIGH_MM: Final = 2.0
"""Surfaces less high above the board shift by under a pixel in usual views."""


def flags_of_frame(frame: Frame, conditions: Conditions) -> Iterator[str]:
    """Give what every reading of a frame carries."""
    yield from frame.flags
    if frame.camera.accuracy.assumed:
        yield "accuracy-assumed"
    if conditions.ambient_degc is None:
        yield "ambient-missing"
    if frame.time_utc is None:
        yield "time-unknown" if frame.time_local is None else "time-zone-unknown"


def flags_of_height(zone: Zone, placement: Placement) -> Iterator[str]:
    """Give what leaves open where a raised zone appears."""
    if abs(zone.height_mm) < _HIGH_MM:
        return
    if placement.optics.focal_px is None:
        yield "height-not-corrected"
    elif pose_doubtful(placement):
        yield "pose-doubtful"


def flags_of_view(zone: Zone, placement: Placement) -> Iterator[str]:
    """Give what follows from the angle a zone is seen at, where the focal length tells it."""
    if placement.optics.focal_px is None:
        return
    x_mm, y_mm, height_mm = camera_pose(placement).eye_mm
    x0, y0, x1, y1 = zone.shape.box_mm
    beside_mm = np.hypot(x_mm - (x0 + x1) / 2.0, y_mm - (y0 + y1) / 2.0)
    if np.degrees(np.arctan2(beside_mm, height_mm - zone.height_mm)) > STEEPEST_DEG:
        yield "steep-view"


def flags_of_zone(zone: Zone, where: ZonePixels, has_sound: bool) -> Iterator[str]:
    """Give what follows from the zone and its place in the frame."""
    if zone.cover == "obscured":
        yield "obscured"
    if where.in_frame == "not":
        yield "outside-frame"
        return
    if where.in_frame == "partly":
        yield "partly-outside-frame"
    if where.across_px < FEW_PIXELS_ACROSS:
        yield "few-pixels"
    if not has_sound:
        yield "no-pixels"


def flags_of_pixels(pixels: Pixels, part: tuple[slice, slice], mask: BoolArray) -> Iterator[str]:
    """Give what follows from the pixels of a part of the frame.

    Parameters
    ----------
    pixels : Pixels
    part : tuple of slice
    mask : ndarray of bool, shape of the part
    """
    states = {
        "not-measured-pixels": ~pixels.measured & ~pixels.declared if not pixels.measured.all() else None,
        "dead-pixels-excluded": pixels.declared,
        "dead-pixel-found": pixels.found,
        "clipped": pixels.clipped.high,
        "clipped-low": pixels.clipped.low,
        "outside-range": pixels.clipped.beyond,
    }
    for name, state in states.items():
        if state is not None and bool(np.any(state[part] & mask)):
            yield name
