"""Bare metal: a bound where nothing hotter is near, no number where something is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.board import Board, Zone
from irspot.conditions import Conditions
from irspot.measurement import measure_zones
from irspot.radiometry import apparent_temperature, surface_temperature
from irspot.results import Reading
from irspot.shapes import rectangle

from .scenes import CAMERA, COLUMNS, CONDITIONS, ROWS, frame_of, straight_placement

METAL = Zone("heatsink", rectangle(20, 20, 60, 50), material="polished aluminium", emissivity=0.05, u_emissivity=0.02)
BOARD = Board("Metal", rectangle(0, 0, 110, 90), (METAL,))


def measured(zone_degc: float, around_degc: float, conditions: Conditions = CONDITIONS) -> Reading:
    """The zone reads so much in radiance, everything else so much."""
    degc = np.full((ROWS, COLUMNS), around_degc, np.float32)
    degc[30:101, 38:122] = zone_degc
    return measure_zones(frame_of(degc), BOARD, straight_placement(), conditions)[0]


def test_the_bound_is_the_radiance_temperature_less_its_uncertainty() -> None:
    reading = measured(62.0, 25.0)
    assert reading.verdict == "lower bound"
    assert "bare-metal" in reading.flags
    assert reading.emissivity == 1.0
    assert reading.max_degc == pytest.approx(62.0, abs=0.2)
    assert reading.bound_degc == pytest.approx(reading.max_degc - reading.U_max_k)
    assert reading.headline().startswith("≥ ")
    assert float(reading.headline()[2:]) <= reading.bound_degc


def test_metal_that_may_mirror_something_hotter_gives_no_number() -> None:
    """Metal of 60 °C and emissivity 0.15 mirroring 100 °C sends what a black body of over 90 °C does (computed)."""
    shown = float(apparent_temperature(60.0, emissivity=0.15, reflected_degc=100.0, band=CAMERA.band))
    assert shown == pytest.approx(92.0, abs=3.0)
    for reading in (measured(shown, 100.0), measured(shown, 25.0, replace(CONDITIONS, reflected_degc=100.0))):
        assert {"bare-metal", "mirrors-hotter"} <= set(reading.flags)
        assert reading.verdict == "retake"
        assert np.isnan([reading.max_degc, reading.U_max_k, reading.rise_k]).all()
        assert reading.headline() == ""


def test_an_emissivity_measured_on_the_surface_is_used() -> None:
    zone = replace(METAL, emissivity=0.3, u_emissivity=0.02, emissivity_from="contact", material="")
    board = replace(BOARD, zones=(zone,))
    shown = float(apparent_temperature(70.0, emissivity=0.3, reflected_degc=22.0, band=CAMERA.band))
    degc = np.full((ROWS, COLUMNS), shown)
    reading = measure_zones(frame_of(degc), board, straight_placement(), CONDITIONS)[0]
    assert "bare-metal" not in reading.flags
    assert reading.max_degc == pytest.approx(70.0, abs=0.5)


def test_bare_metal_read_as_paint_is_what_practice_fears() -> None:
    """The project's own calculation: 90 °C metal in 23 °C surroundings read with emissivity 0.95 shows 54 K too little
    at 0.15 and 42 K at 0.3."""
    for emissivity, low_k in ((0.15, 54.0), (0.3, 42.0)):
        shown = apparent_temperature(90.0, emissivity=emissivity, reflected_degc=23.0, band=CAMERA.band)
        read = float(surface_temperature(shown, emissivity=0.95, reflected_degc=23.0, band=CAMERA.band))
        assert 90.0 - read == pytest.approx(low_k, abs=1.0)
