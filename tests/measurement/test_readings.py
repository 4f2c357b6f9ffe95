"""Readings of zones: every figure, every flag, and the honesty of the uncertainty."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from irspot.board import ELSEWHERE, Board, Zone
from irspot.camera import Accuracy, Camera, Optics, Signal
from irspot.conditions import Conditions
from irspot.errors import PlacementRefused
from irspot.flags import FLAGS
from irspot.frame import Frame
from irspot.measurement import measure_zones, unplaced_readings
from irspot.radiometry import surface_temperature
from irspot.registration.placement import Placement
from irspot.results import Reading
from irspot.shapes import rectangle

from .scenes import (
    BOARD,
    CAMERA,
    COLUMNS,
    CONDITIONS,
    QUIET,
    ROWS,
    SIZE,
    apparent_of,
    frame_of,
    mask_by_definition,
    ramp,
    straight_placement,
    tilted_placement,
)

TIME = datetime(2026, 3, 1, 9, 30, tzinfo=UTC)
ALWAYS = {"time-unknown"}
"""Frames made from arrays know no time."""


def by_id(readings: tuple[Reading, ...]) -> dict[str, Reading]:
    return {reading.zone: reading for reading in readings}


def measure(
    degc: np.ndarray, board: Board = BOARD, conditions: Conditions = CONDITIONS, **how: object
) -> dict[str, Reading]:
    placement = how.pop("placement", None) or tilted_placement(board)
    return by_id(measure_zones(frame_of(degc, **how), board, placement, conditions))


def surface_of(degc: np.ndarray, zone: Zone, conditions: Conditions = CONDITIONS) -> np.ndarray:
    return surface_temperature(
        degc.astype(np.float64), emissivity=zone.emissivity, reflected_degc=conditions.reflected_degc, band=CAMERA.band
    )


# --- figures -------------------------------------------------------------------------------------------------------


def test_rows_come_in_the_files_order_with_elsewhere_last() -> None:
    readings = measure_zones(frame_of(ramp()), BOARD, tilted_placement(), CONDITIONS)
    assert [reading.zone for reading in readings] == ["ps-left", "coil", "ell", ELSEWHERE]
    assert [reading.role for reading in readings] == ["power-stage", "inductor", "", ""]


@pytest.mark.parametrize("zone", BOARD.zones_of("front"), ids=lambda zone: zone.id)
def test_figures_by_definition(zone: Zone) -> None:
    degc, placement = ramp(1, 0.05), tilted_placement()
    reading = measure(degc)[zone.id]
    mask = mask_by_definition(zone, placement)
    surface = surface_of(degc, zone)
    values = surface[mask]
    assert reading.pixels == mask.sum()
    assert reading.pixel_max_degc == pytest.approx(values.max(), abs=2e-3)
    # Noise makes the hottest of many pixels too hot; a ramp has no summit that blur could hide.
    assert reading.pixel_max_degc - 0.2 < reading.max_degc <= reading.pixel_max_degc
    assert reading.mean_degc == pytest.approx(values.mean(), abs=2e-3)
    assert reading.p95_degc == pytest.approx(np.percentile(values, 95), abs=2e-3)
    blocks = [
        surface[r : r + 3, c : c + 3].mean()
        for r in range(ROWS - 2)
        for c in range(COLUMNS - 2)
        if mask[r : r + 3, c : c + 3].all()
    ]
    assert reading.peak3x3_degc == pytest.approx(max(blocks), abs=2e-3)
    assert reading.emissivity == zone.emissivity
    assert reading.reflected_degc == 22.0
    assert reading.rise_k == pytest.approx(reading.max_degc - 21.0)
    row, column = np.argwhere(mask & (surface == values.max()))[0]
    assert abs(reading.hot_x_px - column) <= 0.5
    assert abs(reading.hot_y_px - row) <= 0.5
    back = placement.to_px(np.array([[reading.hot_x_mm, reading.hot_y_mm]]))[0]
    assert back == pytest.approx([reading.hot_x_px, reading.hot_y_px], abs=1e-6)


def test_elsewhere_by_definition() -> None:
    degc, placement = ramp(1, 0.05), tilted_placement()
    reading = measure(degc)[ELSEWHERE]
    mask = mask_by_definition(Zone("o", BOARD.outline), placement, BOARD.zones_of("front"))
    assert reading.pixels == mask.sum()
    assert reading.emissivity == 0.9
    assert reading.pixel_max_degc == pytest.approx(surface_of(degc, Zone("o", BOARD.outline))[mask].max(), abs=2e-3)


@pytest.mark.parametrize("optics", [Optics(), Optics(focal_px=220.0, distortion=(-0.2, 0.06, 0.001, -0.001, 0.0))])
def test_the_place_of_a_spot_on_the_board(optics: Optics) -> None:
    placement = tilted_placement(optics=optics)
    wanted_mm = (21.3, 66.6)
    x0, y0 = placement.to_px(np.array([wanted_mm]))[0]
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    degc = 30.0 + 40.0 * np.exp(-((x - x0) ** 2 + (y - y0) ** 2) / (2 * 1.5**2))
    reading = measure(degc, placement=placement)["ps-left"]
    assert (reading.hot_x_mm, reading.hot_y_mm) == pytest.approx(wanted_mm, abs=0.05)
    assert (reading.hot_x_px, reading.hot_y_px) == pytest.approx((x0, y0), abs=0.06)


def test_the_rear_is_measured_in_front_coordinates() -> None:
    # Seen from the rear x runs to the left: px = (160 - 1.3 x, 125 - 1.3 y).
    matrix = np.array([[-1.3, 0.0, 160.0], [0.0, -1.3, 125.0], [0.0, 0.0, 1.0]])
    rear = Placement(matrix, "rear", Optics(), SIZE, "corners", 0.0, 0.0, 4)
    readings = measure_zones(frame_of(ramp()), BOARD, rear, CONDITIONS)
    assert [reading.zone for reading in readings] == ["back", ELSEWHERE]
    # The ramp rises to the right, which is small x, and downwards, which is small y.
    assert (readings[0].hot_x_mm, readings[0].hot_y_mm) == pytest.approx((10.0, 10.0), abs=1.0)


@settings(deadline=None)
@given(
    left=st.integers(0, 18),
    top=st.integers(0, 10),
    right=st.integers(0, 9),
    bottom=st.integers(0, 10),
    seed=st.integers(0, 99),
)
def test_maximum_is_unchanged_by_crops_that_keep_the_zone(
    left: int, top: int, right: int, bottom: int, seed: int
) -> None:
    degc, placement = ramp(seed, 0.3), straight_placement(1.2, 16.0, 118.0)
    shift = np.array([[1.0, 0.0, -left], [0.0, 1.0, -top], [0.0, 0.0, 1.0]])
    cropped = degc[top : ROWS - bottom, left : COLUMNS - right]
    small = replace(placement, matrix=shift @ placement.matrix, size_px=(cropped.shape[1], cropped.shape[0]))
    whole, part = measure(degc, placement=placement), measure(cropped, placement=small)
    for zone in ("ps-left", "coil", "ell"):
        a, b = whole[zone], part[zone]
        assert (a.peak3x3_degc, a.p95_degc, a.pixels) == (b.peak3x3_degc, b.p95_degc, b.pixels)
        assert a.pixel_max_degc == b.pixel_max_degc
        # How wide a hot feature is may be told a little differently where the frame ends beside it.
        assert a.max_degc == pytest.approx(b.max_degc, abs=0.1)
        assert a.across_px == pytest.approx(b.across_px, abs=0.1)
        assert (a.hot_x_mm, a.hot_y_mm) == pytest.approx((b.hot_x_mm, b.hot_y_mm), abs=1e-9)
        assert a.U_max_k == pytest.approx(b.U_max_k, abs=0.05)


@settings(deadline=None)
@given(order=st.permutations(range(4)))
def test_readings_do_not_hang_on_the_zones_order(order: list[int]) -> None:
    degc, placement = ramp(5, 0.1), tilted_placement()
    shuffled = replace(BOARD, zones=tuple(BOARD.zones[n] for n in order))
    assert measure(degc, shuffled, placement=placement) == measure(degc, placement=placement)


def test_a_zones_own_settings_reach_its_figures_alone() -> None:
    first = replace(BOARD.zones[0], reflected_degc=60.0, u_reflected_k=1.0)
    board = replace(BOARD, zones=(first, *BOARD.zones[1:]))
    own, plain = measure(ramp(), board), measure(ramp())
    assert own["ps-left"].reflected_degc == 60.0
    assert own["ps-left"].max_degc < plain["ps-left"].max_degc
    assert own["coil"] == plain["coil"]


def test_a_window_is_seen_through() -> None:
    zone = BOARD.zones[0]
    truth = np.full((ROWS, COLUMNS), 80.0)
    for window, ambient, shown in ((35.0, 21.0, 35.0), (None, 21.0, 21.0), (None, None, 22.0)):
        given_ = Conditions(ambient, reflected_degc=22.0, transmission=0.85, u_transmission=0.01, window_degc=window)
        degc = apparent_of(truth, zone, replace(given_, window_degc=shown))
        reading = measure(degc, conditions=given_)["ps-left"]
        assert reading.pixel_max_degc == pytest.approx(80.0, abs=5e-3)
        assert {term.name for term in reading.budget if term.u_k > 0} >= {"transmission", "window temperature"}


# --- flags ---------------------------------------------------------------------------------------------------------


def level(zone: str = "ps-left") -> np.ndarray:
    """Level ground with the zone named hottest in its middle, so that nothing is worth a flag."""
    degc, placement = ramp(3, 0.05) * 0.0 + 30.0, tilted_placement()
    shape = next(z for z in BOARD.zones if z.id == zone).shape
    x0, y0, x1, y1 = shape.box_mm
    x, y = placement.to_px(np.array([[(x0 + x1) / 2, (y0 + y1) / 2]]))[0]
    rows, columns = np.mgrid[0:ROWS, 0:COLUMNS]
    bump = 40.0 * np.exp(-((columns - x) ** 2 + (rows - y) ** 2) / (2 * 12.0**2))
    return (degc + bump + np.random.default_rng(3).normal(0.0, 0.05, degc.shape)).astype(np.float32)


def test_a_sound_zone_has_no_flags() -> None:
    frame = replace(frame_of(level()), time_utc=TIME)
    reading = by_id(measure_zones(frame, BOARD, tilted_placement(), CONDITIONS))["ps-left"]
    assert reading.flags == ()
    assert reading.verdict == "usable"
    assert reading.time == "2026-03-01T09:30:00Z"


def test_assumptions_are_flagged() -> None:
    board = replace(BOARD, zones=(replace(BOARD.zones[0], emissivity_assumed=True), *BOARD.zones[1:]))
    readings = measure(level(), board, Conditions(), camera=Camera())
    assert set(readings["ps-left"].flags) == ALWAYS | {
        "accuracy-assumed",
        "ambient-missing",
        "emissivity-assumed",
        "reflected-assumed",
        "spot-size-not-corrected",
    }
    assert readings["ps-left"].reflected_degc == 23.0
    assert np.isnan([readings["ps-left"].ambient_degc, readings["ps-left"].rise_k, readings["ps-left"].U_rise_k]).all()
    assert "emissivity-assumed" not in readings["coil"].flags
    assert "emissivity-assumed" in readings[ELSEWHERE].flags
    ambient = measure(level(), conditions=Conditions(ambient_degc=26.5))["ps-left"]
    assert set(ambient.flags) == ALWAYS | {"reflected-assumed"}
    assert ambient.reflected_degc == 26.5
    assert next(t.u_input for t in ambient.budget if t.name == "reflected temperature") == 5.0


def test_clipping_makes_a_lower_bound() -> None:
    signal = Signal(unit="K", scale=0.01)
    stored = np.round((level() + 273.15) / 0.01)
    frame = Frame(np.minimum(stored, 33000.0).astype(np.uint16), replace(CAMERA, signal=signal), "clipped.tiff")
    readings = by_id(measure_zones(frame, BOARD, tilted_placement(), CONDITIONS))
    assert set(readings["ps-left"].flags) == ALWAYS | {"clipped"}
    assert readings["ps-left"].verdict == "lower bound"
    assert "clipped" not in readings["coil"].flags
    # At the last number of the type.
    ends = Signal(unit="degC", scale=60.0 / 65535.0)
    stored = np.minimum(np.round(level() / ends.scale), 65535).astype(np.uint16)
    frame = Frame(stored, replace(CAMERA, signal=ends), "ends.tiff")
    assert "clipped" in by_id(measure_zones(frame, BOARD, tilted_placement(), CONDITIONS))["ps-left"].flags


def test_low_clipping_leaves_the_maximum_usable() -> None:
    ends = Signal(unit="degC", scale=0.001, offset=29.9)
    stored = np.clip(np.round((level() - 29.9) / 0.001), 0, 65535).astype(np.uint16)
    frame = Frame(stored, replace(CAMERA, signal=ends), "low.tiff")
    reading = by_id(measure_zones(frame, BOARD, tilted_placement(), CONDITIONS))["coil"]
    assert "clipped-low" in reading.flags
    assert reading.verdict == "usable"


def test_beyond_the_cameras_range() -> None:
    camera = replace(CAMERA, accuracy=replace(QUIET, range_degc=(-20.0, 60.0)))
    readings = measure(level(), camera=camera)
    assert set(readings["ps-left"].flags) == ALWAYS | {"clipped", "outside-range"}
    assert readings["ps-left"].verdict == "lower bound"
    assert "outside-range" not in readings["coil"].flags


def hottest_pixel(zone: str) -> tuple[int, int]:
    reading = measure(level())[zone]
    return round(reading.hot_y_px), round(reading.hot_x_px)


def test_declared_dead_pixels_are_left_out() -> None:
    row, column = hottest_pixel("ps-left")
    degc = level()
    degc[row, column] = 300.0
    camera = replace(CAMERA, dead_px=((column, row),))
    before, after = measure(level())["ps-left"], measure(degc, camera=camera)["ps-left"]
    assert set(after.flags) - {"spot-size-corrected"} == ALWAYS | {"dead-pixels-excluded"}
    assert after.verdict == "usable"
    assert after.pixels == before.pixels - 1
    assert before.max_degc - 1.0 < after.max_degc < before.max_degc


def test_undeclared_dead_pixels_are_found_and_left_out() -> None:
    row, column = hottest_pixel("coil")
    degc = level()
    degc[row, column] = 300.0
    readings = measure(degc)
    assert set(readings["coil"].flags) - {"noise-bias-corrected"} == ALWAYS | {"dead-pixel-found"}
    assert readings["coil"].max_degc < 40.0
    assert "dead-pixel-found" not in readings["ps-left"].flags


def test_pixels_not_measured_make_a_lower_bound() -> None:
    row, column = hottest_pixel("ps-left")
    degc = level()
    degc[row - 1 : row + 2, column] = np.nan
    reading = measure(degc)["ps-left"]
    assert set(reading.flags) - {"spot-size-corrected"} == ALWAYS | {"not-measured-pixels"}
    assert reading.verdict == "lower bound"
    assert np.isfinite(reading.max_degc)


def test_a_frame_without_a_number_measures_nothing() -> None:
    for reading in measure(np.full((ROWS, COLUMNS), np.nan)).values():
        assert {"no-pixels", "not-measured-pixels"} <= set(reading.flags)
        assert reading.verdict == "retake"
        figures = [reading.max_degc, reading.U_max_k, reading.peak3x3_degc, reading.mean_degc, reading.p95_degc]
        assert np.isnan([*figures, reading.hot_x_px, reading.hot_x_mm, reading.rise_k, reading.U_rise_k]).all()
        assert reading.pixels == 0
        assert reading.budget == ()


def test_elsewhere_hottest() -> None:
    placement = tilted_placement()
    degc = level()
    x, y = placement.to_px(np.array([[50.0, 75.0]]))[0]
    rows, columns = np.mgrid[0:ROWS, 0:COLUMNS]
    degc += (90.0 * np.exp(-((columns - x) ** 2 + (rows - y) ** 2) / (2 * 1.5**2))).astype(np.float32)
    readings = measure(degc)
    assert "elsewhere-hottest" in readings[ELSEWHERE].flags
    assert (readings[ELSEWHERE].hot_x_mm, readings[ELSEWHERE].hot_y_mm) == pytest.approx((50.0, 75.0), abs=0.1)
    assert "elsewhere-hottest" not in measure(level())[ELSEWHERE].flags
    assert all("elsewhere-hottest" not in readings[zone].flags for zone in ("ps-left", "coil", "ell"))
    bare = measure(level(), replace(BOARD, zones=()))
    assert "elsewhere-hottest" not in bare[ELSEWHERE].flags


def test_a_maximum_that_goes_on_outside() -> None:
    # The ramp rises to the lower right through every zone.
    readings = measure(ramp())
    for zone in ("ps-left", "coil", "ell"):
        assert "peak-continues-outside" in readings[zone].flags
        assert readings[zone].verdict == "usable"
    assert "peak-continues-outside" not in measure(level())["ps-left"].flags


def zone_board(zone: Zone) -> Board:
    return replace(BOARD, zones=(zone,))


def one(zone: Zone, degc: np.ndarray | None = None, placement: Placement | None = None) -> Reading:
    return measure(ramp() if degc is None else degc, zone_board(zone), placement=placement or straight_placement())[
        zone.id
    ]


def test_small_zones() -> None:
    narrow = one(Zone("narrow", rectangle(20, 20, 30, 2.5)))
    assert narrow.across_px == pytest.approx(3.5)
    assert "few-pixels" in narrow.flags
    assert narrow.verdict == "lower bound"
    assert "few-pixels" not in one(Zone("wide", rectangle(20, 20, 30, 2.9))).flags
    line = one(Zone("line", rectangle(20, 20, 30, 1.4)))
    assert {"few-pixels", "no-3x3-block"} <= set(line.flags)
    assert np.isnan(line.peak3x3_degc)
    assert np.isfinite(line.max_degc)
    speck = one(Zone("speck", rectangle(20.05, 20.05, 0.02, 0.02)))
    assert {"few-pixels", "no-pixels"} <= set(speck.flags)
    assert speck.verdict == "retake"
    assert np.isnan([speck.max_degc, speck.U_max_k, speck.hot_x_mm]).all()


def test_zones_beyond_the_frame() -> None:
    cut = one(Zone("cut", rectangle(100, 40, 30, 20)))
    assert "partly-outside-frame" in cut.flags
    assert cut.verdict == "lower bound"
    assert np.isfinite(cut.max_degc)
    gone = one(Zone("gone", rectangle(150, 40, 30, 20)))
    assert set(gone.flags) == ALWAYS | {"outside-frame"}
    assert gone.verdict == "retake"
    assert np.isnan(gone.max_degc)


def test_height_and_cover() -> None:
    assert "height-not-corrected" in one(Zone("tall", rectangle(20, 20, 30, 20), height_mm=2.0)).flags
    assert "height-not-corrected" not in one(Zone("flat", rectangle(20, 20, 30, 20), height_mm=1.9)).flags
    # Seen straight on by a lens that nobody described: at most 90 degrees across, so that much to the side.
    tall = one(Zone("tall", rectangle(20, 20, 30, 20), height_mm=10.0))
    assert 1.0 < tall.place_off_mm < 10.0
    assert np.isnan(one(Zone("flat", rectangle(20, 20, 30, 20))).place_off_mm)
    hidden = one(Zone("hidden", rectangle(20, 20, 30, 20), cover="obscured", measures="heatsink"))
    assert "obscured" in hidden.flags
    assert hidden.verdict == "lower bound"
    assert (hidden.cover, hidden.measures) == ("obscured", "heatsink")


def test_impossible_radiance_gives_no_number() -> None:
    zone = Zone("foil", rectangle(20, 20, 30, 20), emissivity=0.1, emissivity_from="contact", reflected_degc=150.0)
    reading = one(zone, level())
    assert "impossible-radiance" in reading.flags
    assert reading.verdict == "retake"
    assert np.isnan(
        [reading.max_degc, reading.mean_degc, reading.p95_degc, reading.peak3x3_degc, reading.U_max_k]
    ).all()
    nothing = one(Zone("zero", rectangle(20, 20, 30, 20), emissivity=0.0, emissivity_from="contact"), level())
    assert "impossible-radiance" in nothing.flags
    assert np.isnan(nothing.max_degc)


def test_partly_impossible_radiance_spoils_mean_not_maximum() -> None:
    # Half the zone lies below what its reflections alone would send.
    degc = np.full((ROWS, COLUMNS), 80.0, dtype=np.float32)
    degc[:, 60:] = 20.0
    zone = Zone("foil", rectangle(20, 20, 40, 20), emissivity=0.1, emissivity_from="contact", reflected_degc=60.0)
    reading = one(zone, degc)
    assert "impossible-radiance" in reading.flags
    assert reading.verdict == "retake"
    assert np.isfinite([reading.max_degc, reading.peak3x3_degc, reading.U_max_k]).all()
    assert np.isnan([reading.mean_degc, reading.p95_degc]).all()


def test_flags_of_the_frame_are_carried() -> None:
    frame = replace(frame_of(level()), flags=("readout-short",), averaged=12)
    for reading in measure_zones(frame, BOARD, tilted_placement(), CONDITIONS):
        assert "readout-short" in reading.flags
        assert reading.averaged == 12


def test_a_clock_of_unknown_zone_is_a_time_all_the_same() -> None:
    frame = replace(frame_of(level()), time_local=datetime(2026, 3, 1, 9, 30))
    reading = measure_zones(frame, BOARD, tilted_placement(), CONDITIONS)[0]
    assert "time-unknown" not in reading.flags
    assert reading.time == ""


def test_unplaced_rows_are_empty() -> None:
    readings = unplaced_readings(frame_of(ramp()), BOARD, "front", CONDITIONS)
    assert [reading.zone for reading in readings] == ["ps-left", "coil", "ell", ELSEWHERE]
    for reading in readings:
        assert set(reading.flags) == ALWAYS | {"not-placed"}
        assert reading.verdict == "retake"
        assert np.isnan([reading.max_degc, reading.U_max_k, reading.hot_x_px, reading.rise_k, reading.across_px]).all()


def test_frames_of_another_size_are_refused() -> None:
    with pytest.raises(PlacementRefused, match="size"):
        measure_zones(frame_of(ramp()[:-1]), BOARD, tilted_placement(), CONDITIONS)


def test_every_flag_is_known_and_sorted() -> None:
    for reading in measure(ramp(), conditions=Conditions(), camera=Camera()).values():
        assert list(reading.flags) == sorted(set(reading.flags) & set(FLAGS))


# --- uncertainty ---------------------------------------------------------------------------------------------------


def test_the_budget_by_finite_differences() -> None:
    zone, degc = BOARD.zones[0], level()
    camera = replace(CAMERA, accuracy=Accuracy(2.0, 0.02, 0.1, 0.05, assumed=False))
    noted = Conditions(21.0, 0.4, 22.0, 3.0, 0.9, 0.02, 25.0)
    reading = measure(degc, conditions=noted, camera=camera)["ps-left"]
    radiance = float(degc[round(reading.hot_y_px), round(reading.hot_x_px)])

    def surface(d_radiance: float = 0.0, **change: float) -> float:
        inputs = {"emissivity": zone.emissivity, "reflected_degc": 22.0, "transmission": 0.9, "window_degc": 25.0}
        inputs = {name: value + change.get(name, 0.0) for name, value in inputs.items()}
        return float(surface_temperature(radiance + d_radiance, band=camera.band, **inputs))

    def slope(name: str, step: float) -> float:
        up = surface(step) if name == "radiance" else surface(**{name: step})
        down = surface(-step) if name == "radiance" else surface(**{name: -step})
        return (up - down) / (2.0 * step)

    bound = max(2.0, 0.02 * radiance)
    wanted = {
        "camera limit": bound / np.sqrt(3.0) * slope("radiance", 0.01),
        "repeatability": 0.1 * slope("radiance", 0.01),
        "noise": 0.05 * slope("radiance", 0.01),
        "emissivity": zone.u_emissivity * slope("emissivity", 1e-4),
        "reflected temperature": 3.0 * slope("reflected_degc", 0.01),
        "transmission": 0.02 * slope("transmission", 1e-4),
        "window temperature": 0.4 * slope("window_degc", 0.01),
        "placement": 0.0,  # level ground: no border cuts a slope
    }
    found = {"spot size", "noise bias"}
    assert {term.name for term in reading.budget} == set(wanted) | found
    for term in reading.budget:
        if term.name in found:
            wanted[term.name] = term.u_k
        assert term.u_k == pytest.approx(abs(wanted[term.name]), rel=2e-3), term.name
    u_max_k = np.sqrt(sum(value**2 for value in wanted.values()))
    assert reading.U_max_k == pytest.approx(2.0 * u_max_k, rel=2e-3)
    assert reading.U_rise_k == pytest.approx(2.0 * np.hypot(u_max_k, 0.4), rel=2e-3)
    assert [term.shared for term in reading.budget if term.name == "camera limit"] == ["session"]


def test_the_relative_limit_takes_over_when_hot() -> None:
    camera = replace(CAMERA, accuracy=Accuracy(1.0, 0.02, assumed=False))
    cool, hot = (
        next(
            t for t in measure(np.full((ROWS, COLUMNS), degc), camera=camera)["coil"].budget if t.name == "camera limit"
        )
        for degc in (40.0, 140.0)
    )
    assert cool.u_input == pytest.approx(1.0 / np.sqrt(3.0))
    # Of the corrected radiance temperature: an even zone's hottest pixel lies a little too high.
    assert hot.u_input == pytest.approx(2.8 / np.sqrt(3.0), rel=3e-3)


def test_the_frames_own_noise_replaces_the_cameras() -> None:
    frame = replace(frame_of(level()), noise_k=0.011, averaged=20)
    reading = measure_zones(frame, BOARD, tilted_placement(), CONDITIONS)[0]
    assert next(t.u_input for t in reading.budget if t.name == "noise") == 0.011


@pytest.mark.parametrize("draws", [300, pytest.param(3000, marks=pytest.mark.full)])
def test_U_max_covers_the_truth_of_a_large_even_zone(draws: int) -> None:
    """Every input drawn from what its uncertainty says; the truth inside max ± U about 95 times in 100."""
    rng = np.random.default_rng(7)
    zone = replace(BOARD.zones[0], emissivity=0.85, u_emissivity=0.02)
    board, placement, size = zone_board(zone), straight_placement(0.6, 2.0, 58.0, (71, 61)), (61, 71)
    camera = replace(CAMERA, accuracy=Accuracy(1.5, 0.02, 0.2, 0.05, assumed=False))
    hits = 0
    for _ in range(draws):
        truth = rng.uniform(50.0, 110.0)
        actual = replace(zone, emissivity=float(np.clip(rng.normal(zone.emissivity, zone.u_emissivity), 0.01, 1.0)))
        reflected = rng.normal(22.0, 3.0)
        seen = float(apparent_of(np.array([truth]), actual, replace(CONDITIONS, reflected_degc=reflected))[0])
        limit_k = max(1.5, 0.02 * seen)
        degc = seen + rng.uniform(-limit_k, limit_k) + rng.normal(0.0, 0.2) + rng.normal(0.0, 0.05, size)
        reading = by_id(measure_zones(frame_of(degc, camera), board, placement, CONDITIONS))["ps-left"]
        hits += abs(reading.max_degc - truth) <= reading.U_max_k
    # Two standard errors of 95 % below; above, the rectangular bound inside makes 100 % no surprise.
    assert hits / draws >= 0.95 - 2.0 * np.sqrt(0.95 * 0.05 / draws)
    assert hits < draws
