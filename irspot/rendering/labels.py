"""What callouts say: each reading's name and value, as the table has them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from irspot.board import ELSEWHERE, Board, Zone
from irspot.flags import deciding
from irspot.registration.heights import at_height
from irspot.registration.placement import Placement
from irspot.rendering.leaders import Point
from irspot.rendering.text import clean
from irspot.results import Reading
from irspot.shapes import Circle, centroid

RETAKE = "retake"


@dataclass(frozen=True, slots=True)
class Label:
    """One zone's callout before it has a place.

    Parameters
    ----------
    name : str
        Cleaned text.
    value : str
        ``71.8 ± 1.9 °C``, ``≥ 71.8 °C`` or ``retake``.
    degc : float
        The value's temperature, NaN for a retake: nothing of a retake is shown as a temperature.
    lower_bound : bool
    spot_px : tuple of float, or None
        Place in the frame it points at.
    hot_spot : bool
        Whether that place is the zone's hot spot (and gets a ring) or only the zone's middle.
    why : str
        Why it is no plain maximum, in a word or three; empty where it is one.
    zone : str
        The zone's id.
    """

    name: str
    value: str
    degc: float
    lower_bound: bool
    spot_px: Point | None
    hot_spot: bool
    why: str = ""
    zone: str = ""


def labels_of(
    readings: Sequence[Reading], board: Board, placement: Placement | None, frame_shape: tuple[int, int]
) -> tuple[Label, ...]:
    """Make the labels of a frame's readings, hottest first, retakes last.

    Parameters
    ----------
    readings : sequence of Reading
        The implicit zone `elsewhere` is left out unless it is the hottest.
    board : Board
    placement : Placement or None
    frame_shape : tuple of int
        ``(rows, columns)``.
    """
    zones = {zone.id: zone for zone in board.zones}
    labels = [label_of(r, zones.get(r.zone), placement, frame_shape) for r in shown_readings(readings)]
    return tuple(sorted(labels, key=lambda label: (math.isnan(label.degc), -label.degc)))


def shown_readings(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """Leave out what pictures do not name: `elsewhere`, unless it is the hottest."""
    return tuple(r for r in readings if r.zone != ELSEWHERE or "elsewhere-hottest" in r.flags)


def label_of(reading: Reading, zone: Zone | None, placement: Placement | None, frame_shape: tuple[int, int]) -> Label:
    """Make one reading's label; `zone` is what it is of, None for `elsewhere`."""
    name = clean(reading.zone_name) or clean(reading.zone)
    value = reading.headline("°C")
    hot = _within((reading.hot_x_px, reading.hot_y_px), frame_shape)
    why = ", ".join(flag.short for flag in deciding(reading.flags)[:1])
    if not value:
        middle = middle_px(zone, placement, frame_shape)
        return Label(name, RETAKE, math.nan, False, middle, False, why, reading.zone)
    bound = reading.verdict == "lower bound"
    return Label(name, value, reading.max_degc, bound, hot, hot is not None, why, reading.zone)


def middle_px(zone: Zone | None, placement: Placement | None, frame_shape: tuple[int, int]) -> Point | None:
    """Say where a zone's middle appears; None outside the frame, or where nothing says where."""
    if zone is None or placement is None:
        return None
    import numpy as np

    shape = zone.shape
    middle = (shape.x_mm, shape.y_mm) if isinstance(shape, Circle) else centroid(shape.array_mm)
    x, y = at_height(placement, zone.height_mm).to_px(np.array([middle]))[0]
    return _within((float(x), float(y)), frame_shape)


def _within(place: Point, frame_shape: tuple[int, int]) -> Point | None:
    """Give the place if it lies on the frame; a pixel reaches half a pixel beyond its centre."""
    rows, columns = frame_shape
    x, y = place
    return (x, y) if -0.5 <= x <= columns - 0.5 and -0.5 <= y <= rows - 0.5 else None
