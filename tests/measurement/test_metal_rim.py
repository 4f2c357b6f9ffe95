"""Metal of known emissivity beside a brighter mask: its rim is not read as heat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.board import Zone
from irspot.measurement import measure_zones
from irspot.results import Reading
from irspot.shapes import rectangle

from .even_scenes import BOARD, CONDITIONS, METAL, Seen, loaded

VIEW = Seen()
PLATE = Zone("plate", rectangle(20, 60, 40, 32), emissivity=METAL, u_emissivity=0.01, emissivity_from="contact")
"""The whole metal plate, to its very edge."""


def measured(zone: Zone) -> Reading:
    board = replace(BOARD, zones=(zone,))
    return measure_zones(loaded(VIEW, seed=3), board, VIEW.placement(board), CONDITIONS)[0]


def test_the_rim_is_left_out_and_the_middle_read() -> None:
    reading = measured(PLATE)
    assert "metal-rim-left-out" in reading.flags
    assert reading.verdict == "usable"
    assert abs(reading.max_degc - 90.0) <= reading.U_max_k
    # What a rim would have read: mask beside 20 % of metal.
    assert reading.max_degc < 100.0
    assert np.hypot(reading.hot_x_mm - 40.0, reading.hot_y_mm - 76.0) < 4.0


def test_a_strip_too_narrow_for_an_inside_gives_no_number() -> None:
    strip = replace(PLATE, shape=rectangle(57.5, 60, 2.5, 32))
    reading = measured(strip)
    assert "metal-mixed" in reading.flags
    assert reading.verdict == "retake"


def test_a_zone_well_inside_keeps_its_pixels() -> None:
    reading = measured(replace(PLATE, shape=rectangle(30, 68, 20, 16)))
    assert reading.pixels == pytest.approx(20 * 16 * 4, rel=0.1)
    assert "metal-rim-left-out" not in reading.flags


def test_roughly_known_metal_is_bounded() -> None:
    rough = measured(replace(PLATE, u_emissivity=0.03))
    assert "emissivity-uncertain" in rough.flags
    assert rough.emissivity == pytest.approx(METAL + 2 * 0.03)
    assert rough.verdict in ("lower bound", "retake")
    assert not rough.bound_degc > 90.0
