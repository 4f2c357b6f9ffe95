"""With no power every channel shows the same: one that is off is found, sound ones are left alone."""

from __future__ import annotations

import math

import numpy as np
import pytest

from irspot.board import Site
from irspot.crosscheck import Logger, equality_check
from irspot.series import Series

SITE = Site("b", 0.0, 0.0, type="K", tolerance_class=1, wire_mm=0.13, attachment="tape")
LOGGER = Logger(0.5, 1.0)


def channels(off_k: list[float], rng: np.random.Generator):
    t = np.arange(0.0, 120.0)
    cold_k = rng.uniform(-1.0, 1.0)
    return [
        (
            Series(f"b{n}", "bead", "degC", t, 23.0 + cold_k + off + rng.normal(0, 0.1, t.size), np.full(t.size, 0.1)),
            SITE,
        )
        for n, off in enumerate(off_k)
    ]


def test_a_channel_that_is_off_is_found_and_no_other() -> None:
    rng = np.random.default_rng(0)
    found = equality_check(channels([0.2, -0.3, 5.0, 0.1, 0.0], rng), LOGGER, 0.0, 119.0)
    assert [check.agrees for check in found] == [True, True, False, True, True]
    assert found[2].flags == ("channel-off",)
    assert found[2].off_k == pytest.approx(5.0, abs=0.3)


def test_allowed_by_hand() -> None:
    quiet = [(Series(f"b{n}", "bead", "degC", np.arange(3.0), np.full(3, 23.0), np.zeros(3)), SITE) for n in range(4)]
    u = math.sqrt(1.5**2 / 3 + 0.5**2 / 3)
    expected = 2.0 * u * math.sqrt(1.0 + math.pi / 2.0 / 3.0)
    assert equality_check(quiet, LOGGER, 0.0, 2.0)[0].allowed_k == pytest.approx(expected, rel=1e-9)


def test_channels_within_their_tolerances_are_seldom_blamed() -> None:
    rng = np.random.default_rng(1)
    blamed = 0
    for _ in range(300):
        off = (rng.uniform(-1.5, 1.5, 5) + rng.uniform(-0.5, 0.5, 5)).tolist()
        blamed += sum(not check.agrees for check in equality_check(channels(off, rng), LOGGER, 0.0, 119.0))
    assert blamed / 1500 <= 0.05


def test_nothing_to_hold_against() -> None:
    rng = np.random.default_rng(2)
    alone = equality_check(channels([0.0], rng), LOGGER, 0.0, 119.0)
    assert alone[0].agrees is None
    later = equality_check(channels([0.0, 0.0], rng), LOGGER, 500.0, 600.0)
    assert [check.agrees for check in later] == [None, None]
    assert later[0].flags == ()
