"""Zones read on stored numbers: the same maximum, place and mean as converting every pixel, whatever the signal."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from irspot.board import Board, Zone
from irspot.camera import Accuracy, Camera, Optics, Settings, Signal
from irspot.conditions import Conditions
from irspot.frame import Frame
from irspot.measurement import measure_zones
from irspot.measurement.applied import applied_to
from irspot.measurement.budget import budgets, spreads_of
from irspot.measurement.full_rate import IMPOSSIBLE, ZoneReader
from irspot.measurement.geometry import geometry_of
from irspot.measurement.readings import elsewhere_zone
from irspot.placing import CornersPx
from irspot.registration import place
from irspot.registration.placement import Placement
from irspot.shapes import Circle, rectangle
from irspot.uncertain import combined

ROWS, COLUMNS = 97, 131
BOARD = Board(
    "b",
    rectangle(0, 0, 100, 70),
    zones=(
        Zone("black", rectangle(10.2, 40.2, 20.6, 15.6), emissivity=1.0, u_emissivity=0.0),
        Zone("grey", rectangle(60.2, 20.2, 15.6, 15.6), emissivity=0.72, u_emissivity=0.02, reflected_degc=30.0),
        Zone("round", Circle(50.0, 50.0, 9.0), emissivity=0.9, u_emissivity=0.03),
        Zone("tiny", rectangle(80.0, 60.0, 1.0, 1.0), emissivity=0.95, u_emissivity=0.01),
    ),
)
CONDITIONS = Conditions(21.0, reflected_degc=22.0, transmission=0.95, window_degc=25.0)
SIGNALS = {
    "K": (Signal(unit="K", scale=0.01), np.uint16),
    "degC": (Signal(unit="degC", scale=0.01), np.int16),
    "applied": (Signal(unit="K", scale=0.02, settings=Settings(emissivity=0.9, reflected_degc=20.0)), np.uint16),
    "counts": (Signal(unit="counts", points_degc=((9000, 10.0), (12_000, 60.0), (16_500, 120.0))), np.uint16),
    "falling": (Signal(unit="counts", points_degc=((9000, 120.0), (16_500, 10.0))), np.uint16),
    "float32": (Signal(), np.float32),
    "float64": (Signal(), np.float64),
    "int32": (Signal(unit="K", scale=0.001), np.int32),
}


def placement() -> Placement:
    corners = ((14.3, 84.9), (114.2, 83.1), (116.9, 13.2), (15.8, 12.4))
    return place(BOARD, (COLUMNS, ROWS), Optics(), CornersPx(corners))


def frames(name: str, count: int = 6) -> list[np.ndarray]:
    """Frames of noise on a slope with a hot spot that wanders, stored as the signal says."""
    signal, dtype = SIGNALS[name]
    rng = np.random.default_rng(3)
    made = []
    for k in range(count):
        degc = 40.0 + rng.normal(0.0, 0.4, (ROWS, COLUMNS)) + np.linspace(0.0, 40.0, COLUMNS)
        y, x = np.mgrid[:ROWS, :COLUMNS]
        degc += 25.0 * np.exp(-0.5 * ((x - 20 - 3 * k) ** 2 + (y - 35 - 2 * k) ** 2) / 9.0)
        if signal.unit == "counts":
            at = np.array(sorted(signal.points_degc, key=lambda point: point[1]))
            stored = np.interp(degc, at[:, 1], at[:, 0])
        else:
            stored = (degc + (273.15 if signal.unit == "K" else 0.0)) / signal.scale
        made.append((stored if dtype in (np.float32, np.float64) else np.rint(stored)).astype(dtype))
    return made


def reader(camera: Camera, dtype: Any, sound: np.ndarray | None = None) -> ZoneReader:
    zones = (*BOARD.zones, elsewhere_zone(BOARD, "front"))
    sound = np.ones((ROWS, COLUMNS), bool) if sound is None else sound
    applied = [applied_to(zone, CONDITIONS) for zone in zones]
    return ZoneReader(geometry_of(BOARD, placement()), sound, applied, camera, np.dtype(dtype))


@pytest.mark.parametrize("name", SIGNALS)
def test_figures_are_those_of_the_full_way(name: str) -> None:
    signal, dtype = SIGNALS[name]
    camera = Camera(name="c", signal=signal, accuracy=Accuracy(noise_k=0.4, assumed=False))
    where = placement()
    # Declared, so that noise alone in a pixel takes nothing out of either way.
    camera = replace(camera, optics=Optics(blur_px=3.0), dead_px=((25, 40), (70, 60)))
    sound = np.ones((ROWS, COLUMNS), bool)
    sound[40, 25] = sound[60, 70] = False
    fast = reader(camera, dtype, sound)
    for stored in frames(name):
        stored.flags.writeable = False
        readings = measure_zones(Frame(stored, camera, "f"), BOARD, where, CONDITIONS)
        assert all("dead-pixel-found" not in reading.flags for reading in readings)
        figures = fast.figures(stored)
        assert figures["mean_degc"] == pytest.approx([r.mean_degc for r in readings], abs=2e-4)
        for found, reading in zip(figures, readings, strict=True):
            # The place of the full way is fitted between pixels, within half of one.
            assert abs(found["column"] - reading.hot_x_px) <= 0.5
            assert abs(found["row"] - reading.hot_y_px) <= 0.5
            assert stored[found["row"], found["column"]] == found["hottest"]
            assert found["holes"] == 0


@pytest.mark.parametrize("name", SIGNALS)
def test_of_equals_the_first_counts_and_dead_pixels_do_not(name: str) -> None:
    signal, dtype = SIGNALS[name]
    stored = frames(name, 1)[0]
    hottest = stored.min() if name == "falling" else stored.max()
    hotter = hottest - 50 if name == "falling" else hottest + 50
    stored[40, 30] = stored[41, 28] = stored[41, 29] = hotter
    sound = np.ones((ROWS, COLUMNS), bool)
    sound[40, 30] = False
    found = reader(Camera(signal=signal), dtype, sound).figures(stored)[0]
    assert (found["row"], found["column"], found["hottest"]) == (41, 28, hotter)


def test_numbers_not_measured_are_left_out() -> None:
    stored = frames("float32", 1)[0]
    stored[38:44, 25:38] = np.nan
    stored[45, 30] = np.inf
    found = reader(Camera(), np.float32).figures(stored)
    readings = measure_zones(
        Frame(np.where(np.isinf(stored), np.nan, stored), Camera(optics=Optics(blur_px=3.0)), "f"),
        BOARD,
        placement(),
        CONDITIONS,
    )
    where = geometry_of(BOARD, placement()).zones[0]
    assert found[0]["holes"] == np.count_nonzero(~np.isfinite(stored[where.slices]) & where.mask) > 50
    assert found[0]["mean_degc"] == pytest.approx(readings[0].mean_degc, abs=2e-4)
    assert found[1]["holes"] == 0
    nothing = reader(Camera(), np.float32).figures(np.full((ROWS, COLUMNS), np.nan, np.float32))
    assert np.isnan(nothing["hottest"]).all()
    assert (nothing["row"] == -1).all()


def test_impossible_radiances_are_known_and_zero_counts_among_them() -> None:
    signal, dtype = SIGNALS["K"]
    stored = frames("K", 1)[0]
    stored[84 - 28, 15 + 65] = 0
    found = reader(Camera(signal=signal), dtype).figures(stored)
    assert found[1]["holes"] >= IMPOSSIBLE
    assert found[1]["hottest"] > 30_000
    assert np.isnan(found[1]["mean_degc"]), "as of the full way: a mean of what cannot be is none"


def test_a_zone_without_pixels_holds_nothing() -> None:
    found = reader(Camera(signal=SIGNALS["K"][0]), np.uint16, np.zeros((ROWS, COLUMNS), bool)).figures(
        frames("K", 1)[0]
    )
    assert np.isnan(found["mean_degc"]).all()
    assert (found["column"] == -1).all()


def test_calibration_points_that_turn_back_are_converted_pixel_by_pixel() -> None:
    signal = Signal(unit="counts", points_degc=((9000, 10.0), (14_000, 150.0), (16_500, 120.0)))
    stored = np.full((ROWS, COLUMNS), 12_000, np.uint16)
    stored[40, 30], stored[41, 31] = 14_000, 16_000
    found = reader(Camera(signal=signal), np.uint16).figures(stored)[0]
    assert (found["row"], found["column"], found["hottest"]) == (40, 30, 14_000)


def test_many_uncertainties_at_once_are_those_of_each_budget() -> None:
    accuracy = Accuracy(limit_k=1.5, limit_relative=0.02, repeatability_k=0.2, noise_k=0.1, assumed=False)
    camera = Camera(accuracy=accuracy)
    radiance = np.array([25.0, 60.0, 110.0, 240.0])
    conditions = replace(CONDITIONS, u_transmission=0.02)
    applied = [applied_to(zone, conditions) for zone in BOARD.zones]
    many = spreads_of(
        np.repeat(radiance[:, None], 4, axis=1), applied, accuracy, [0.1, 0.2, 0.3, 0.4], camera.band, [0.0] * 4
    )
    for number, how in enumerate(applied):
        single = budgets(radiance.tolist(), [how] * 4, accuracy, 0.1 * (number + 1), camera.band)
        assert many.combined[:, number] == pytest.approx([combined(terms) for terms in single], rel=1e-9)
        by_itself = [combined(t for t in terms if t.name in ("noise", "repeatability")) for terms in single]
        assert many.by_itself[:, number] == pytest.approx(by_itself, rel=1e-9)
