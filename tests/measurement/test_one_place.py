"""The reading of one place, and the map for pictures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.board import ELSEWHERE, Zone
from irspot.camera import Optics
from irspot.conditions import Conditions
from irspot.errors import PlacementRefused, UsageError
from irspot.measurement import measure_at, measure_zones, surface_map
from irspot.radiometry import surface_temperature
from irspot.shapes import rectangle

from .scenes import (
    BOARD,
    CAMERA,
    COLUMNS,
    CONDITIONS,
    ROWS,
    frame_of,
    mask_by_definition,
    ramp,
    straight_placement,
    tilted_placement,
)


def surface(degc: np.ndarray, emissivity: float) -> np.ndarray:
    return surface_temperature(
        np.asarray(degc, dtype=np.float64), emissivity=emissivity, reflected_degc=22.0, band=CAMERA.band
    )


def test_a_place_in_a_zone_has_the_zones_emissivity() -> None:
    degc, placement = ramp(1, 0.05), tilted_placement()
    x, y = placement.to_px(np.array([[20.0, 70.0]]))[0]
    reading = measure_at(frame_of(degc), BOARD, placement, CONDITIONS, float(x), float(y))
    row, column = round(y), round(x)
    assert (reading.zone, reading.role, reading.pixels) == ("ps-left", "power-stage", 1)
    assert reading.max_degc == pytest.approx(float(surface(degc[row, column], 0.95)), abs=2e-3)
    block = surface(degc[row - 1 : row + 2, column - 1 : column + 2], 0.95)
    assert reading.peak3x3_degc == pytest.approx(block.mean(), abs=2e-3)
    assert (reading.hot_x_px, reading.hot_y_px) == (column, row)
    assert placement.to_px(np.array([[reading.hot_x_mm, reading.hot_y_mm]]))[0] == pytest.approx([column, row])
    assert reading.U_max_k > 1.0
    assert reading.rise_k == reading.max_degc - 21.0
    assert reading.verdict == "usable"


def test_the_hottest_place_of_a_zone_reads_the_zones_maximum() -> None:
    frame, placement = frame_of(ramp(1, 0.05)), tilted_placement()
    for whole in measure_zones(frame, BOARD, placement, CONDITIONS):
        place = measure_at(frame, BOARD, placement, CONDITIONS, round(whole.hot_x_px), round(whole.hot_y_px))
        assert place.zone == whole.zone
        assert place.max_degc == pytest.approx(whole.pixel_max_degc, abs=1e-3)
        # Of a place that was pointed at, no border is in question, and it is read as it is.
        terms = {term.name: term.u_k for term in whole.budget}
        others_k = [terms.pop(name) for name in ("placement", "spot size", "noise bias")]
        assert {term.name for term in place.budget} == set(terms)
        assert 2.0 * np.hypot(place.U_max_k / 2.0, np.linalg.norm(others_k)) == pytest.approx(whole.U_max_k, rel=1e-3)


def test_excluded_parts_and_the_rest_are_elsewhere() -> None:
    placement = tilted_placement()
    for x_mm, y_mm in ((66.0, 30.0), (50.0, 45.0)):
        x, y = placement.to_px(np.array([[x_mm, y_mm]]))[0]
        reading = measure_at(frame_of(ramp()), BOARD, placement, CONDITIONS, float(x), float(y))
        assert reading.zone == ELSEWHERE
        assert reading.emissivity == 0.9
        assert "emissivity-assumed" in reading.flags


def test_a_place_without_a_sound_pixel_has_no_number() -> None:
    degc = ramp()
    degc[40, 50] = np.nan
    reading = measure_at(frame_of(degc), BOARD, tilted_placement(), CONDITIONS, 50.0, 40.0)
    assert {"no-pixels", "not-measured-pixels"} <= set(reading.flags)
    assert reading.verdict == "retake"
    assert np.isnan([reading.max_degc, reading.U_max_k, reading.peak3x3_degc]).all()
    beside = measure_at(frame_of(degc), BOARD, tilted_placement(), CONDITIONS, 51.0, 40.0)
    assert np.isfinite(beside.max_degc)
    assert np.isnan(beside.peak3x3_degc)


def test_a_place_of_impossible_radiance() -> None:
    zone = Zone("foil", rectangle(20, 20, 30, 20), emissivity=0.1, emissivity_from="contact", reflected_degc=150.0)
    board, placement = replace(BOARD, zones=(zone,)), straight_placement()
    reading = measure_at(frame_of(ramp()), board, placement, CONDITIONS, 60.0, 85.0)
    assert reading.zone == "foil"
    assert "impossible-radiance" in reading.flags
    assert reading.verdict == "retake"
    assert np.isnan([reading.max_degc, reading.U_max_k]).all()


@pytest.mark.parametrize(("x_px", "y_px"), [(-0.6, 5.0), (COLUMNS - 0.5, 5.0), (5.0, ROWS), (5.0, -9.0), (np.nan, 5.0)])
def test_places_outside_the_frame_are_misuse(x_px: float, y_px: float) -> None:
    with pytest.raises(UsageError, match="outside the frame"):
        measure_at(frame_of(ramp()), BOARD, tilted_placement(), CONDITIONS, x_px, y_px)


def test_the_map_has_each_zones_emissivity() -> None:
    degc, placement = ramp(1, 0.05), tilted_placement()
    wanted = surface(degc, 0.9)
    for zone in BOARD.zones_of("front"):
        inside = mask_by_definition(zone, placement)
        wanted[inside] = surface(degc[inside], zone.emissivity)
    shown = surface_map(frame_of(degc), BOARD, placement, CONDITIONS)
    assert shown.dtype == np.float32
    np.testing.assert_allclose(shown, wanted, atol=3e-3)
    np.testing.assert_allclose(surface_map(frame_of(degc), BOARD, None, CONDITIONS), surface(degc, 0.9), atol=3e-3)


def test_the_map_agrees_with_the_table() -> None:
    frame, placement = frame_of(ramp(1, 0.05)), tilted_placement()
    shown = surface_map(frame, BOARD, placement, CONDITIONS)
    for reading in measure_zones(frame, BOARD, placement, CONDITIONS):
        assert shown[round(reading.hot_y_px), round(reading.hot_x_px)] == pytest.approx(
            reading.pixel_max_degc, abs=1e-3
        )


def test_the_first_of_overlapping_zones_is_shown() -> None:
    zones = (
        Zone("first", rectangle(20, 20, 30, 20), emissivity=0.8),
        Zone("second", rectangle(40, 20, 30, 20), emissivity=0.6),
    )
    board, placement, degc = replace(BOARD, zones=zones), straight_placement(), ramp()
    shown = surface_map(frame_of(degc), board, placement, CONDITIONS)
    row, column = 85, 72
    assert shown[row, column] == pytest.approx(float(surface(degc[row, column], 0.8)), abs=2e-3)
    assert measure_at(frame_of(degc), board, placement, CONDITIONS, column, row).zone == "first"


def test_the_map_mends_dead_pixels_and_leaves_gaps() -> None:
    degc = ramp(1, 0.05)
    clean = surface_map(frame_of(degc), BOARD, None, CONDITIONS)
    degc[40, 50], degc[60, 70], degc[90, 80] = 400.0, -200.0, np.nan
    camera = replace(CAMERA, dead_px=((70, 60),))
    shown = surface_map(frame_of(degc, camera), BOARD, None, CONDITIONS)
    assert shown[40, 50] == pytest.approx(clean[40, 50], abs=0.4)
    assert shown[60, 70] == pytest.approx(clean[60, 70], abs=0.4)
    assert np.isnan(shown[90, 80])
    assert np.isnan(shown).sum() == 1


def test_the_map_is_the_frames_own_and_leaves_it_alone() -> None:
    frame = frame_of(ramp())
    first = surface_map(frame, BOARD, tilted_placement(), Conditions())
    first[:] = 0.0
    assert surface_map(frame, BOARD, tilted_placement(), Conditions()).min() > 20.0


def test_frames_of_another_size_are_refused() -> None:
    frame = frame_of(ramp()[:-1])
    with pytest.raises(PlacementRefused):
        surface_map(frame, BOARD, tilted_placement(), CONDITIONS)
    with pytest.raises(PlacementRefused):
        measure_at(frame, BOARD, tilted_placement(), CONDITIONS, 5, 5)


def test_a_place_on_a_raised_zone_is_named_and_placed_at_its_height() -> None:
    """Where the zone appears it is read; where it stands it is not, unless the lens is unknown."""
    tall = Zone("tall", rectangle(40, 40, 12, 12), height_mm=30.0, emissivity=0.7)
    board = replace(BOARD, zones=(tall,))
    known = replace(tilted_placement(), optics=Optics(focal_px=190.0))
    frame = frame_of(ramp())
    (x, y), (foot_x, foot_y) = (
        known.raised(30.0).to_px(np.array([[46.0, 46.0]]))[0],
        known.to_px(np.array([[46.0, 46.0]]))[0],
    )
    assert np.hypot(x - foot_x, y - foot_y) > 3.0
    found = measure_at(frame, board, known, CONDITIONS, x, y)
    assert (found.zone, found.emissivity) == ("tall", 0.7)
    assert np.hypot(found.hot_x_mm - 46.0, found.hot_y_mm - 46.0) < 0.6
    assert np.isnan(found.place_off_mm)
    assert "height-not-corrected" not in found.flags
    blind = measure_at(frame, board, tilted_placement(), CONDITIONS, foot_x, foot_y)
    assert blind.zone == "tall"
    assert "height-not-corrected" in blind.flags
    assert blind.place_off_mm > np.hypot(*(known.to_mm(np.array([[x, y]]))[0] - 46.0))
    shown = surface_map(frame, board, known, CONDITIONS)
    assert shown[round(y), round(x)] == pytest.approx(found.max_degc, abs=1e-3)
