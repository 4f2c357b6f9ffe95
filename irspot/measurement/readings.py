"""Readings: every figure of every zone in one frame, on the camera's own pixels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, TypedDict

import numpy as np
from numpy.typing import NDArray

from irspot.board import ELSEWHERE, Board, Side, Zone
from irspot.camera import Band
from irspot.conditions import Conditions
from irspot.flags import sorted_flags, verdict_of
from irspot.frame import Frame
from irspot.measurement.advice import advice_on
from irspot.measurement.applied import Applied
from irspot.measurement.blur import blur_of
from irspot.measurement.borders import areas_of
from irspot.measurement.budget import budgets, expanded_k
from irspot.measurement.corrections import NO_CORRECTION, Correction, correction_of
from irspot.measurement.geometry import ZonePixels, geometry_of, placement_of
from irspot.measurement.hot_spot import continues_outside, sub_pixel, window
from irspot.measurement.hot_width import REACH_PX
from irspot.measurement.mirrored import without_mirrored
from irspot.measurement.misplaced import misplaced_k
from irspot.measurement.pattern import pattern_terms
from irspot.measurement.pixels import pixels_of
from irspot.measurement.prepared import View, mapped_views, own_pixels
from irspot.measurement.quantities import with_quantities
from irspot.measurement.references import held, without_discs
from irspot.measurement.statistics import hottest, mean, peak_3x3, percentile
from irspot.measurement.zone_flags import flags_of_frame, flags_of_height, flags_of_pixels, flags_of_view, flags_of_zone
from irspot.registration.heights import shift_bound_mm
from irspot.registration.placement import Placement
from irspot.results import NAN, Reading, flagged
from irspot.uncertain import Term

if TYPE_CHECKING:
    from irspot.measurement.even_map import EmissivityMap

BoolArray = NDArray[np.bool_]

_AROUND_PX: Final = int(REACH_PX) + 3
"""What is seen around a zone to tell how far its hot spot reaches."""


def measure_zones(
    frame: Frame,
    board: Board,
    placement: Placement,
    conditions: Conditions,
    mapped: EmissivityMap | None = None,
) -> tuple[Reading, ...]:
    """Measure every zone of the side a placement shows, and `elsewhere`.

    Parameters
    ----------
    frame : Frame
    board : Board
    placement : Placement
        Of that board in that frame, or another frame of the same view.
    conditions : Conditions
    mapped : EmissivityMap, optional
        Gives every pixel its emissivity.

    Returns
    -------
    tuple of Reading
        The zones in the board file's order, then `elsewhere`.

    Raises
    ------
    MapRefused
        If the map is of another camera or view.
    PlacementRefused
        If the frame is not of the placement's size.
    """
    frame = held(frame, board, placement, conditions)
    view = View(frame, pixels_of(frame), placement, conditions, blur_of(frame, placement, board.outline))
    zones = (*board.zones_of(placement.side), elsewhere_zone(board, placement.side))
    places = _places(board, placement)
    applied, places = own_pixels(zones, places, view)
    applied, views = mapped_views(zones, places, applied, view, board, mapped)
    found = [measure_zone(*each) for each in zip(zones, places, applied, views, strict=True)]
    complete = with_uncertainties(found, applied, view, _misplaced(board, places, views))
    judged = without_mirrored(complete, places, applied, view.pixels)
    *of_zones, elsewhere = (with_quantities(reading, zone) for reading, zone in zip(judged, zones, strict=True))
    patches = {reference.zone for reference in board.references}
    return (*of_zones, _compared(elsewhere, [each for each in of_zones if each.zone not in patches]))


def _places(board: Board, placement: Placement) -> tuple[ZonePixels, ...]:
    """Give the pixels of the zones and of `elsewhere`, which no reference is part of."""
    *zones, elsewhere = geometry_of(board, placement).all
    mask = without_discs(elsewhere.mask, elsewhere.box, board, placement.side)
    return (*zones, elsewhere if mask is elsewhere.mask else replace(elsewhere, mask=mask))


def unplaced_readings(
    frame: Frame, board: Board, side: Side, conditions: Conditions, why: str = "not-placed"
) -> tuple[Reading, ...]:
    """Give the rows of a frame in which nothing could be measured: empty, to be retaken.

    Parameters
    ----------
    frame : Frame
    board : Board
    side : {"front", "rear"}
    conditions : Conditions
    why : str
        The flag that says why.
    """
    zones = (*board.zones_of(side), elsewhere_zone(board, side))
    return tuple(
        flagged(blank_reading(zone, frame, conditions), (*flags_of_frame(frame, conditions), why)) for zone in zones
    )


@dataclass(frozen=True, slots=True)
class Hottest:
    """A reading before its corrections and its uncertainty.

    Parameters
    ----------
    reading : Reading
    radiance_degc : float
        Radiance temperature of the hottest pixel, which its uncertainty depends on; NaN where there is none.
    correction : Correction
        Of that radiance temperature.
    """

    reading: Reading
    radiance_degc: float = NAN
    correction: Correction = NO_CORRECTION


def elsewhere_zone(board: Board, side: Side) -> Zone:
    """Make the implicit zone: the outline, of a surface nobody described."""
    return Zone(ELSEWHERE, board.outline, side=side, emissivity_assumed=True)


class Figures(TypedDict, total=False):
    """What the pixels of a zone say, by fields of `Reading`; empty where no pixel says anything."""

    max_degc: float
    pixel_max_degc: float
    peak3x3_degc: float
    mean_degc: float
    p95_degc: float
    hot_x_px: float
    hot_y_px: float
    hot_x_mm: float
    hot_y_mm: float


def measure_zone(zone: Zone, where: ZonePixels, applied: Applied, view: View) -> Hottest:
    """Measure one zone, all but its corrections and its uncertainty.

    Parameters
    ----------
    zone : Zone
    where : ZonePixels
    applied : Applied
    view : View

    Returns
    -------
    Hottest
    """
    sound = view.pixels.sound[where.slices] & where.mask
    count = int(np.count_nonzero(sound))
    flags = [
        *flags_of_frame(view.frame, view.conditions),
        *applied.flags,
        *flags_of_height(zone, view.placement),
        *flags_of_view(zone, view.placement),
        *flags_of_zone(zone, where, count > 0),
        *flags_of_pixels(view.pixels, where.slices, where.mask),
    ]
    figures, at = _figures(zone, where, sound, applied, view, flags) if count else (Figures(), None)
    correction = NO_CORRECTION if at is None else _correction(where, sound, *at, view)
    flags += correction.flags
    names = sorted_flags(flags)
    reading = replace(
        blank_reading(zone, view.frame, view.conditions),
        flags=names,
        verdict=verdict_of(names),
        pixels=count,
        across_px=where.across_px,
        emissivity=applied.emissivity,
        reflected_degc=applied.reflected_degc,
        place_off_mm=place_off_mm(zone, view.placement),
        hot_width_px=correction.hot_width_px,
        **figures,
    )
    if at is None:
        return Hottest(reading)
    return Hottest(reading, float(view.pixels.radiance_degc[where.slices][at]), correction)


def _correction(where: ZonePixels, sound: BoolArray, row: int, column: int, view: View) -> Correction:
    """Correct the hottest pixel by what its surroundings show, as far as these tell anything."""
    shape = view.frame.shape
    rows, row0 = _around(where.box[0], where.box[1], shape[0])
    columns, column0 = _around(where.box[2], where.box[3], shape[1])
    inside = np.zeros((rows.stop - rows.start, columns.stop - columns.start), dtype=bool)
    inside[row0 : row0 + sound.shape[0], column0 : column0 + sound.shape[1]] = sound
    return correction_of(
        view.pixels.radiance_degc[rows, columns],
        view.pixels.sound[rows, columns],
        row0 + row,
        column0 + column,
        inside=inside,
        noise_k=view.noise_k(float(view.pixels.radiance_degc[where.slices][row, column])),
        blur=view.blur,
    )


def _around(first: int, end: int, size: int) -> tuple[slice, int]:
    """A stretch of the frame around another, and where that begins in it."""
    begin = max(0, first - _AROUND_PX)
    return slice(begin, min(size, end + _AROUND_PX)), first - begin


def place_off_mm(zone: Zone, placement: Placement) -> float:
    """Say how far off a raised zone may be looked for; NaN where its height is corrected, or it has none."""
    if zone.height_mm == 0.0 or placement.optics.focal_px is not None:
        return NAN
    bound_mm = shift_bound_mm(placement, zone.height_mm, zone.shape)
    return bound_mm if np.isfinite(bound_mm) else NAN


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


def _figures(
    zone: Zone, where: ZonePixels, sound: BoolArray, applied: Applied, view: View, flags: list[str]
) -> tuple[Figures, tuple[int, int] | None]:
    """Give the figures and the pixel of the maximum within the zone's box; what they show is added to the flags."""
    radiance = view.pixels.radiance_degc[where.slices]
    surface = applied.surface(radiance[sound], view.frame.camera.band)
    index, maximum = hottest(surface)
    flat = np.zeros(sound.shape, dtype=np.float32)
    flat[sound] = surface
    possible = sound
    if (impossible := np.isnan(surface)).any():
        possible = sound.copy()
        possible[sound] = ~impossible
        flags.append("impossible-radiance")
    peak = peak_3x3(flat, possible)
    figures = Figures(
        max_degc=maximum,
        pixel_max_degc=maximum,
        peak3x3_degc=peak,
        mean_degc=mean(surface),
        p95_degc=percentile(surface, 0.95),
    )
    if index < 0:
        return figures, None
    if np.isnan(peak):
        flags.append("no-3x3-block")
    row, column = divmod(int(np.flatnonzero(sound)[index]), sound.shape[1])
    # `elsewhere` ends at the zones, which are mostly hotter: that its heat continues there says nothing.
    if zone.id != ELSEWHERE and _goes_on(where, row, column, view):
        flags.append("peak-continues-outside")
    x, y = sub_pixel(radiance, sound, row, column)
    figures |= place_of(where.box[2] + x, where.box[0] + y, placement_of(zone, view.placement))
    return figures, (row, column)


def _goes_on(where: ZonePixels, row: int, column: int, view: View) -> bool:
    """Say whether it is hotter still outside the zone; `row` and `column` count within the zone's box."""
    pixels, (row0, _, column0, _) = view.pixels, where.box
    around, sound = window(pixels.radiance_degc, pixels.sound, row0 + row, column0 + column, 2)
    inside = window(pixels.radiance_degc[where.slices], where.mask, row, column, 2)[1]
    return continues_outside(around, sound, inside, view.noise_k(float(around[2, 2])))


def place_of(x_px: float, y_px: float, placement: Placement) -> Figures:
    """Give a place in the frame, and where it is on the board or on the surface that the placement carries."""
    x_mm, y_mm = placement.to_mm(np.array([[x_px, y_px]]))[0]
    return Figures(hot_x_px=x_px, hot_y_px=y_px, hot_x_mm=float(x_mm), hot_y_mm=float(y_mm))


def with_uncertainties(
    found: Sequence[Hottest], applied: Sequence[Applied], view: View, misplaced: Sequence[tuple[Term, ...]]
) -> tuple[Reading, ...]:
    """Correct each maximum and add its budget, and the rise over ambient with its own uncertainty.

    Parameters
    ----------
    found : sequence of Hottest
        A reading without a hottest pixel stays as it is.
    applied : sequence of Applied
        To each reading.
    view : View
    misplaced : sequence of tuple of Term
        What each zone's place leaves open; a single pixel that was pointed at has none.
    """
    camera = view.frame.camera
    readings = [each.reading for each in found]
    u_decode_k = _decoding(view.frame, readings)
    corrected = [each.radiance_degc + each.correction.change_k for each in found]
    further = [
        (*each.correction.terms, *of_place, *_of_pattern(view, each.reading, degc))
        for each, of_place, degc in zip(found, misplaced, corrected, strict=True)
    ]
    noise_k, held_by = view.pixels.frame_noise_k, view.frame.held
    terms = budgets(corrected, applied, camera.accuracy, noise_k, camera.band, u_decode_k, further, held_by)
    maxima = [float(how.surface(degc, camera.band)) for how, degc in zip(applied, corrected, strict=True)]
    complete = [
        reading if np.isnan(degc) else _with_budget(replace(reading, max_degc=maximum), budget, view.conditions)
        for reading, degc, maximum, budget in zip(readings, corrected, maxima, terms, strict=True)
    ]
    return tuple(_advised(reading, how, camera.band) for reading, how in zip(complete, applied, strict=True))


def _of_pattern(view: View, reading: Reading, radiance_degc: float) -> tuple[Term, ...]:
    at = reading.hot_x_px, reading.hot_y_px
    return tuple(pattern_terms(view.frame.pattern, *at, radiance_degc, view.frame.camera.band))


def _advised(reading: Reading, applied: Applied, band: Band) -> Reading:
    advice = advice_on(reading, applied, band)
    return reading if advice is None else replace(reading, advice=advice.sentence)


def _misplaced(board: Board, places: Sequence[ZonePixels], views: Sequence[View]) -> list[tuple[Term, ...]]:
    """Say of every zone what its place leaves open of its maximum, on its radiance temperature."""
    areas = areas_of(board, views[0].placement)
    if areas is None:
        return [()] * len(places)
    found: list[tuple[Term, ...]] = []
    for where, area, view in zip(places, areas, views, strict=True):
        u_k = misplaced_k(view.pixels.radiance_degc, view.pixels.sound, where, area)
        k_per_px = u_k / area.u_px if area.u_px > 0.0 else 0.0
        found.append((Term("placement", area.u_px, k_per_px),) if np.isfinite(u_k) else ())
    return found


def _decoding(frame: Frame, readings: Sequence[Reading]) -> list[float] | None:
    """Look up how well the pixel of each maximum was decoded; None for a frame that is no picture."""
    known = frame.u_decode_k
    if known is None:
        return None
    # The sub-pixel place stays within half a pixel of the one that was read.
    places = [(reading.hot_y_px, reading.hot_x_px) for reading in readings]
    return [float(known[round(y), round(x)]) if np.isfinite(y) else NAN for y, x in places]


def _with_budget(reading: Reading, budget: tuple[Term, ...], conditions: Conditions) -> Reading:
    if conditions.ambient_degc is None:
        return replace(reading, budget=budget, U_max_k=expanded_k(budget))
    return replace(
        reading,
        budget=budget,
        U_max_k=expanded_k(budget),
        rise_k=reading.max_degc - conditions.ambient_degc,
        # A reflected temperature assumed from the ambient is treated as independent of it: it is only a guess.
        U_rise_k=expanded_k(budget, conditions.u_ambient_k),
    )


def _compared(elsewhere: Reading, zones: Sequence[Reading]) -> Reading:
    """Flag `elsewhere` where it is hotter than every zone that could be measured."""
    known = [reading.max_degc for reading in zones if not np.isnan(reading.max_degc)]
    return flagged(elsewhere, ["elsewhere-hottest"] if known and elsewhere.max_degc > max(known) else [])
