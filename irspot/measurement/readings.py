"""Readings: every figure of every zone in one frame, on the camera's own pixels."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from irspot.board import ELSEWHERE, Board, Side, Zone
from irspot.conditions import Conditions
from irspot.flags import sorted_flags, verdict_of
from irspot.frame import Frame
from irspot.measurement.applied import Applied, applied_to
from irspot.measurement.budget import budget, expanded_k
from irspot.measurement.geometry import ZonePixels, check_shape, geometry_of
from irspot.measurement.hot_spot import continues_outside, sub_pixel, window
from irspot.measurement.pixels import Pixels, pixels_of
from irspot.measurement.statistics import hottest, mean, peak_3x3, percentile
from irspot.measurement.zone_flags import flags_of_frame, flags_of_pixels, flags_of_zone
from irspot.registration.placement import Placement
from irspot.results import NAN, Reading

BoolArray = NDArray[np.bool_]


def measure_zones(frame: Frame, board: Board, placement: Placement, conditions: Conditions) -> tuple[Reading, ...]:
    """Measure every zone of the side a placement shows, and `elsewhere`.

    Parameters
    ----------
    frame : Frame
    board : Board
    placement : Placement
        Of that board in that frame, or another frame of the same view.
    conditions : Conditions

    Returns
    -------
    tuple of Reading
        The zones in the board file's order, then `elsewhere`.

    Raises
    ------
    PlacementRefused
        If the frame is not of the placement's size.
    """
    check_shape(frame.shape, placement, frame.name)
    geometry = geometry_of(board, placement)
    view = View(frame, pixels_of(frame), placement, conditions)
    zones = board.zones_of(placement.side)
    readings = tuple(measure_zone(zone, where, view) for zone, where in zip(zones, geometry.zones, strict=True))
    elsewhere = measure_zone(elsewhere_zone(board, placement.side), geometry.elsewhere, view)
    return (*readings, _compared(elsewhere, readings))


def unplaced_readings(frame: Frame, board: Board, side: Side, conditions: Conditions) -> tuple[Reading, ...]:
    """Give the rows of a frame in which the board could not be placed: empty, to be retaken.

    Parameters
    ----------
    frame : Frame
    board : Board
    side : {"front", "rear"}
    conditions : Conditions
    """
    zones = (*board.zones_of(side), elsewhere_zone(board, side))
    return tuple(
        flagged(blank_reading(zone, frame, conditions), (*flags_of_frame(frame, conditions), "not-placed"))
        for zone in zones
    )


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A frame with everything but the zone."""

    frame: Frame
    pixels: Pixels
    placement: Placement
    conditions: Conditions


def elsewhere_zone(board: Board, side: Side) -> Zone:
    """Make the implicit zone: the outline, of a surface nobody described."""
    return Zone(ELSEWHERE, board.outline, side=side, emissivity_assumed=True)


def flagged(reading: Reading, flags: Iterable[str]) -> Reading:
    """Give a reading further flags, and the verdict that follows from all it has."""
    names = sorted_flags((*reading.flags, *flags))
    return replace(reading, flags=names, verdict=verdict_of(names))


def measure_zone(zone: Zone, where: ZonePixels, view: View) -> Reading:
    """Measure one zone.

    Parameters
    ----------
    zone : Zone
    where : ZonePixels
    view : View
    """
    part = where.slices
    sound = view.pixels.sound[part] & where.mask
    count = int(np.count_nonzero(sound))
    applied = applied_to(zone, view.conditions)
    flags = (
        *flags_of_frame(view.frame, view.conditions),
        *applied.flags,
        *flags_of_zone(zone, where, count > 0),
        *flags_of_pixels(view.pixels, part, where.mask),
    )
    blank = replace(
        blank_reading(zone, view.frame, view.conditions),
        pixels=count,
        across_px=where.across_px,
        emissivity=applied.emissivity,
        reflected_degc=applied.reflected_degc,
    )
    reading = flagged(blank, flags)
    return _with_figures(reading, where, sound, applied, view) if count else reading


def blank_reading(zone: Zone, frame: Frame, conditions: Conditions) -> Reading:
    """Make a reading that says which zone, frame and conditions it is of, and nothing yet."""
    return Reading(
        frame=frame.name,
        time=frame.time_text,
        zone=zone.id,
        role=zone.role,
        zone_name=zone.label,
        verdict="usable",
        ambient_degc=NAN if conditions.ambient_degc is None else conditions.ambient_degc,
        measures=zone.measures,
        cover=zone.cover,
        averaged=frame.averaged,
        conditions=conditions,
    )


def _with_figures(reading: Reading, where: ZonePixels, sound: BoolArray, applied: Applied, view: View) -> Reading:
    radiance = view.pixels.radiance_degc[where.slices]
    surface = applied.surface(radiance[sound], view.frame.camera.band)
    index, maximum = hottest(surface)
    flat = np.zeros(sound.shape, dtype=np.float32)
    flat[sound] = surface
    possible = sound
    if (impossible := np.isnan(surface)).any():
        possible = sound.copy()
        possible[sound] = ~impossible
        reading = flagged(reading, ["impossible-radiance"])
    peak = peak_3x3(flat, possible)
    reading = replace(
        reading,
        max_degc=maximum,
        pixel_max_degc=maximum,
        peak3x3_degc=peak,
        mean_degc=mean(surface),
        p95_degc=percentile(surface, 0.95),
    )
    if index < 0:
        return reading
    row, column = divmod(int(np.flatnonzero(sound)[index]), sound.shape[1])
    reading = flagged(reading, ["no-3x3-block"] if np.isnan(peak) else [])
    reading = _with_place(reading, where, sound, row, column, view)
    return with_uncertainty(reading, float(radiance[row, column]), applied, view)


def _with_place(reading: Reading, where: ZonePixels, sound: BoolArray, row: int, column: int, view: View) -> Reading:
    """Add the place of the maximum; `row` and `column` count within the zone's box."""
    pixels, (row0, _, column0, _) = view.pixels, where.box
    radiance = pixels.radiance_degc[where.slices]
    x, y = sub_pixel(radiance, sound, row, column)
    x_px, y_px = column0 + x, row0 + y
    around, around_sound = window(pixels.radiance_degc, pixels.sound, row0 + row, column0 + column, 2)
    inside = window(radiance, where.mask, row, column, 2)[1]
    # `elsewhere` ends at the zones, which are mostly hotter: that its heat continues there says nothing.
    outwards = reading.zone != ELSEWHERE and continues_outside(around, around_sound, inside, pixels.noise_k)
    return with_place(flagged(reading, ["peak-continues-outside"] if outwards else []), x_px, y_px, view.placement)


def with_place(reading: Reading, x_px: float, y_px: float, placement: Placement) -> Reading:
    """Add a place in the frame, and where it is on the board."""
    x_mm, y_mm = placement.to_mm(np.array([[x_px, y_px]]))[0]
    return replace(reading, hot_x_px=x_px, hot_y_px=y_px, hot_x_mm=float(x_mm), hot_y_mm=float(y_mm))


def with_uncertainty(reading: Reading, radiance_degc: float, applied: Applied, view: View) -> Reading:
    """Add the budget of the maximum, and the rise over ambient with its own uncertainty."""
    camera, conditions = view.frame.camera, view.conditions
    terms = budget(radiance_degc, applied, camera.accuracy, view.pixels.noise_k, camera.band)
    reading = replace(reading, budget=terms, U_max_k=expanded_k(terms))
    if conditions.ambient_degc is None:
        return reading
    return replace(
        reading,
        rise_k=reading.max_degc - conditions.ambient_degc,
        # A reflected temperature assumed from the ambient is treated as independent of it: it is only a guess.
        U_rise_k=expanded_k(terms, conditions.u_ambient_k),
    )


def _compared(elsewhere: Reading, zones: tuple[Reading, ...]) -> Reading:
    """Flag `elsewhere` where it is hotter than every zone that could be measured."""
    known = [reading.max_degc for reading in zones if not np.isnan(reading.max_degc)]
    return flagged(elsewhere, ["elsewhere-hottest"] if known and elsewhere.max_degc > max(known) else [])
