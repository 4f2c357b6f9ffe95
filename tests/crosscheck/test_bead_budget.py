"""A bead's correction and budget, by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from irspot.board import Site
from irspot.crosscheck import Logger, bead_value

SITE = Site("b", 1.0, 2.0, type="K", tolerance_class=1, wire_mm=0.13, attachment="solder")


def test_by_hand() -> None:
    value = bead_value(90.0, SITE, Logger(0.6, 0.9), 23.0, 0.1)
    # IEC 60584-1: class 1 of type K is the larger of 1.5 K and 0.4 %.
    most = 20.0 * 0.5 * math.pi * math.sqrt(35.0 * 0.13e-3**3) * (math.sqrt(19.0) + math.sqrt(30.0)) * 67.0
    u = math.sqrt(1.5**2 / 3 + 0.6**2 / 3 + 0.9**2 / 3 + most**2 / 12 + 0.01)
    assert value.degc == pytest.approx(90.0 + most / 2, abs=1e-9)
    assert value.U_k == pytest.approx(2 * u, abs=1e-9)
    assert value.flags == ()


def test_the_interval_holds_the_surface_as_often_as_it_says() -> None:
    rng = np.random.default_rng(11)
    site = Site("b", 0.0, 0.0, type="T", tolerance_class=1, wire_mm=0.25, attachment="tape")
    held = 0
    for _ in range(1500):
        surface = rng.uniform(40.0, 110.0)
        factor = bead_value(surface, site, Logger(0.5, 0.5), 23.0).wire.most_k / (surface - 23.0)
        low = rng.uniform(0.0, 1.0) * factor * (surface - 23.0) / (1.0 + factor)
        read = surface - low + rng.uniform(-0.5, 0.5) + rng.uniform(-0.5, 0.5) + rng.uniform(-0.5, 0.5)
        value = bead_value(read, site, Logger(0.5, 0.5), 23.0)
        held += abs(value.degc - surface) <= value.U_k
    assert held / 1500 >= 0.94


def test_what_is_not_stated_is_assumed_and_flagged() -> None:
    bare = Site("b", 0.0, 0.0)
    value = bead_value(80.0, bare, Logger(), None)
    expected = {"ambient-assumed", "attachment-unknown", "class-assumed", "logger-assumed", "wire-gauge-assumed"}
    assert set(value.flags) == expected
    assert bead_value(80.0, SITE, Logger(0.5), 23.0).flags == ("cold-junction-included",)
    assert value.U_k > bead_value(80.0, SITE, Logger(0.5, 0.5), 23.0).U_k


def test_nothing_read_gives_nothing() -> None:
    value = bead_value(math.nan, SITE, Logger(0.5, 0.5), 23.0)
    assert math.isnan(value.degc)
    assert math.isnan(value.U_k)
