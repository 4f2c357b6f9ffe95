"""The reading of one place, and of all places: a map of surface temperature for pictures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Zone
from irspot.conditions import Conditions
from irspot.errors import UsageError
from irspot.frame import Frame
from irspot.measurement.applied import applied_to
from irspot.measurement.blur import blur_of
from irspot.measurement.even_map import EmissivityMap
from irspot.measurement.even_view import refuse_other_view
from irspot.measurement.geometry import ZonePixels, geometry_of, placement_of
from irspot.measurement.hot_spot import window
from irspot.measurement.mapped import MapView, mapped_zone
from irspot.measurement.pixels import Pixels, pixels_of
from irspot.measurement.prepared import View
from irspot.measurement.readings import (
    Hottest,
    blank_reading,
    elsewhere_zone,
    place_of,
    place_off_mm,
    with_uncertainties,
)
from irspot.measurement.references import held
from irspot.measurement.statistics import mean
from irspot.measurement.zone_flags import flags_of_frame, flags_of_height, flags_of_pixels
from irspot.registration.placement import Placement
from irspot.results import NAN, Reading, flagged


def measure_at(
    frame: Frame,
    board: Board,
    placement: Placement,
    conditions: Conditions,
    x_px: float,
    y_px: float,
    mapped: EmissivityMap | None = None,
) -> Reading:
    """Measure the pixel at one place of a frame.

    Parameters
    ----------
    frame : Frame
    board : Board
    placement : Placement
    conditions : Conditions
    x_px, y_px : float
        Place in the stored image; the pixel whose centre is nearest is read.
    mapped : EmissivityMap, optional
        Gives every pixel its emissivity.

    Returns
    -------
    Reading
        Of that pixel, with the emissivity of the first zone it lies in, which is named, else `elsewhere` with the
        default; `peak3x3_degc` is the mean of the 3 × 3 pixels round it.

    Raises
    ------
    UsageError
        If the place lies outside the frame.
    PlacementRefused
        If the frame is not of the placement's size.
    """
    frame = held(frame, board, placement, conditions)
    row, column = _pixel(frame, x_px, y_px)
    zone = _zone_at(board, placement, row, column)
    view = View(frame, pixels_of(frame), placement, conditions, blur_of(frame, placement, board.outline))
    applied = applied_to(zone, conditions)
    if mapped is not None:
        refuse_other_view(frame, placement, board, mapped)
        pixel = ZonePixels((row, row + 1, column, column + 1), np.ones((1, 1), bool), 1.0, "wholly")
        of_map = mapped_zone(zone, pixel, applied, view.of_map(board, mapped))
        view, applied = replace(view, pixels=of_map.pixels), of_map.applied
    part = (slice(row, row + 1), slice(column, column + 1))
    sound = bool(view.pixels.sound[row, column])
    flags = (
        *flags_of_frame(frame, conditions),
        *applied.flags,
        *flags_of_pixels(view.pixels, part, np.ones((1, 1), dtype=bool)),
        *flags_of_height(zone, placement),
        *(("obscured",) if zone.cover == "obscured" else ()),
        *(() if sound else ("no-pixels",)),
    )
    blank = replace(
        blank_reading(zone, frame, conditions),
        emissivity=applied.emissivity,
        reflected_degc=applied.reflected_degc,
        place_off_mm=place_off_mm(zone, placement),
        **place_of(float(column), float(row), placement_of(zone, placement)),
    )
    reading = flagged(blank, flags)
    if not sound:
        return reading
    around, allowed = window(view.pixels.radiance_degc, view.pixels.sound, row, column, 1)
    surface = applied.surface(around, frame.camera.band)
    value = float(surface[1, 1])
    reading = replace(
        reading,
        pixels=1,
        max_degc=value,
        pixel_max_degc=value,
        mean_degc=value,
        p95_degc=value,
        peak3x3_degc=mean(surface) if allowed.all() else NAN,
    )
    if np.isnan(value):
        return flagged(reading, ["impossible-radiance"])
    return with_uncertainties([Hottest(reading, float(around[1, 1]))], [applied], view, [()])[0]


def surface_map(
    frame: Frame,
    board: Board,
    placement: Placement | None,
    conditions: Conditions,
    mapped: EmissivityMap | None = None,
) -> NDArray[np.float32]:
    """Surface temperature of every pixel of a frame, for pictures.

    Parameters
    ----------
    frame : Frame
    board : Board
    placement : Placement or None
        None (not placed) has the default emissivity apply everywhere.
    conditions : Conditions
    mapped : EmissivityMap, optional
        Gives every pixel of the board its emissivity; what it leaves out is not measured, as in the table.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        °C; inside a zone with the zone's own emissivity (the first of several), else with the default. Dead pixels
        hold the mean of their sound neighbours, so that no picture shows what no table counts; NaN where not
        measured or physically impossible.

    Raises
    ------
    PlacementRefused
        If the frame is not of the placement's size.
    """
    frame = frame if placement is None else held(frame, board, placement, conditions)
    pixels = pixels_of(frame)
    radiance, band = _mended(pixels), frame.camera.band
    side = "front" if placement is None else placement.side
    surface = applied_to(elsewhere_zone(board, side), conditions).surface(radiance, band)
    if placement is None:
        return surface
    zones, places = board.zones_of(side), geometry_of(board, placement)
    areas = list(zip(zones, places.zones, strict=True))
    if mapped is not None:
        areas.insert(0, (elsewhere_zone(board, side), places.elsewhere))
        refuse_other_view(frame, placement, board, mapped)
    for zone, where in reversed(areas):
        inside, applied = radiance[where.slices][where.mask], applied_to(zone, conditions)
        if mapped is not None:
            view = MapView(replace(pixels, radiance_degc=radiance), placement, band, board, mapped)
            of_map = mapped_zone(zone, where, applied, view)
            inside, applied = of_map.pixels.radiance_degc[where.slices][where.mask], of_map.applied
        surface[where.slices][where.mask] = applied.surface(inside, band)
    return surface


def _pixel(frame: Frame, x_px: float, y_px: float) -> tuple[int, int]:
    rows, columns = frame.shape
    if not (-0.5 <= x_px < columns - 0.5 and -0.5 <= y_px < rows - 0.5):
        raise UsageError(
            "the place lies outside the frame",
            file=frame.name,
            found=f"{x_px:g}, {y_px:g}",
            wanted=f"x from 0 to {columns - 1}, y from 0 to {rows - 1}",
        )
    return int(np.floor(y_px + 0.5)), int(np.floor(x_px + 0.5))


def _zone_at(board: Board, placement: Placement, row: int, column: int) -> Zone:
    """Find the first zone that counts a pixel, else `elsewhere`."""
    for zone in board.zones_of(placement.side):
        x_mm, y_mm = placement_of(zone, placement).to_mm(np.array([[float(column), float(row)]]))[0]
        if zone.shape.contains(x_mm, y_mm) and not any(part.contains(x_mm, y_mm) for part in zone.exclude):
            return zone
    return elsewhere_zone(board, placement.side)


def _mended(pixels: Pixels) -> NDArray[np.float32]:
    dead = pixels.declared | pixels.found
    if not dead.any():
        return pixels.radiance_degc
    mended = pixels.radiance_degc.copy()
    for row, column in np.argwhere(dead):
        around, allowed = window(pixels.radiance_degc, pixels.sound, int(row), int(column), 1)
        mended[row, column] = around[allowed].mean() if allowed.any() else np.nan
    return mended
