"""Clocks set apart by a known time are found again, with an uncertainty that holds; what tells nothing is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from irspot.crosscheck import ClockOffset, NoClock, clock_offset, given_offset, on_camera_clock
from irspot.crosscheck.even_steps import Grid
from irspot.series import Series
from irspot.synthetic.beads import Soak, TrueBead, imaged, logged


def seen(seed: int, *, lag_s: float = 0.0, least_rise_k: float = 25.0):
    """One soak with its bead on a logger of another clock, both sampled every second or faster."""
    rng = np.random.default_rng(seed)
    offset_s, length_s = rng.uniform(-120.0, 120.0), rng.uniform(900.0, 2400.0)
    soak = Soak(
        ((rng.uniform(60.0, 300.0), rng.uniform(least_rise_k, 60.0)),),
        tau_s=rng.uniform(180.0, 1200.0),
        fast_share=rng.uniform(0.0, 0.4),
        fast_tau_s=rng.uniform(30.0, 90.0),
    )
    bead = TrueBead(rng.uniform(0.0, 0.1), rng.uniform(0.03, 0.2), lag_s)
    image = imaged(soak, np.arange(0.0, length_s, rng.choice([0.5, 1.0])), rng, rng.uniform(0.03, 0.12))
    log = logged(soak, bead, np.arange(-200.0, length_s + 90.0, rng.choice([0.5, 1.0])), rng, offset_s)
    return offset_s, image, log


def on_the_imaged_side(count: int) -> None:
    errors_s, in_u = [], []
    for seed in range(count):
        offset_s, image, log = seen(seed)
        found = clock_offset(image, log, same_side=True)
        assert isinstance(found, ClockOffset), f"{seed}: {found}"
        errors_s.append(found.offset_s - offset_s)
        in_u.append(abs(errors_s[-1]) <= 2.0 * found.u_s)
    assert max(map(abs, errors_s)) <= 2.0
    assert np.mean(in_u) >= 0.9


def behind_the_board(count: int) -> None:
    in_u, lag_in_u = [], []
    for seed in range(count):
        lag_s = float(np.random.default_rng(900 + seed).uniform(15.0, 120.0))
        offset_s, image, log = seen(seed, lag_s=lag_s)
        found = clock_offset(image, log, same_side=False)
        assert isinstance(found, ClockOffset), f"{seed}: {found}"
        in_u.append(abs(found.offset_s - offset_s) <= 2.0 * found.u_s)
        lag_in_u.append(abs(found.lag_s - lag_s) <= 2.0 * found.u_lag_s)
    assert np.mean(in_u) >= 0.9
    assert np.mean(lag_in_u) >= 0.85


def test_offsets_are_recovered_within_two_seconds() -> None:
    on_the_imaged_side(6)


def test_behind_the_board_the_lag_is_fitted_and_the_uncertainty_holds() -> None:
    behind_the_board(2)


def elsewhere_in_the_zone(count: int) -> None:
    """The bead's place warms up with other time constants than what the image shows."""
    errors_s, in_u = [], []
    for seed in range(count):
        rng = np.random.default_rng(seed)
        offset_s, length_s = rng.uniform(-120.0, 120.0), rng.uniform(900.0, 2400.0)
        soak = Soak(
            ((rng.uniform(60.0, 300.0), rng.uniform(25.0, 60.0)),),
            tau_s=rng.uniform(180.0, 1200.0),
            fast_share=rng.uniform(0.1, 0.4),
            fast_tau_s=rng.uniform(30.0, 90.0),
        )
        share, tau_s = soak.fast_share * rng.uniform(0.6, 1.4), soak.tau_s * rng.uniform(0.9, 1.1)
        image = imaged(soak, np.arange(0.0, length_s), rng)
        there = replace(soak, fast_share=share, tau_s=tau_s)
        log = logged(there, TrueBead(), np.arange(-200.0, length_s + 90.0), rng, offset_s)
        found = clock_offset(image, log, same_side=True)
        if isinstance(found, ClockOffset):
            errors_s.append(abs(found.offset_s - offset_s))
            in_u.append(errors_s[-1] <= 2.0 * found.u_s)
    assert len(errors_s) >= 0.9 * count
    assert max(errors_s) <= 6.0
    assert np.mean(in_u) >= 0.9


def test_other_time_constants_at_the_bead_do_not_move_the_clock_by_more_than_is_said() -> None:
    elsewhere_in_the_zone(4)


@pytest.mark.full
def test_many_other_time_constants_at_the_bead() -> None:
    elsewhere_in_the_zone(100)


@pytest.mark.full
def test_many_offsets_are_recovered_within_two_seconds() -> None:
    on_the_imaged_side(150)


@pytest.mark.full
def test_many_lags_behind_the_board() -> None:
    behind_the_board(60)


def test_a_lag_taken_for_none_would_move_the_clock() -> None:
    offset_s, image, log = seen(3, lag_s=60.0)
    naive = clock_offset(image, log, same_side=True)
    assert isinstance(naive, NoClock) or abs(naive.offset_s - offset_s) > 10.0


def test_no_load_step_no_offset() -> None:
    rng = np.random.default_rng(0)
    flat = Soak(((0.0, 0.0),))
    t = np.arange(0.0, 900.0)
    found = clock_offset(imaged(flat, t, rng), logged(flat, TrueBead(), t, rng), same_side=True)
    assert isinstance(found, NoClock)
    assert "no load step" in found.reason


def test_a_step_that_only_the_log_has_seen_gives_no_offset() -> None:
    # One exponential from its middle on looks the same at any offset but for its size.
    rng = np.random.default_rng(1)
    soak = Soak(((100.0, 50.0),), tau_s=500.0, fast_share=0.0)
    image = imaged(soak, np.arange(400.0, 1500.0), rng)
    log = logged(soak, TrueBead(), np.arange(0.0, 1600.0), rng, 40.0)
    found = clock_offset(image, log, same_side=True)
    if isinstance(found, ClockOffset):
        assert abs(found.offset_s - 40.0) <= 3.0 * found.u_s
        assert found.u_s > 2.0
    else:
        assert found.reason


def test_loads_that_repeat_are_not_guessed_at() -> None:
    rng = np.random.default_rng(2)
    loads = tuple((100.0 + 150.0 * k, 20.0 * (1.0 - k % 2)) for k in range(14))
    soak = Soak(loads, tau_s=60.0, fast_share=0.0)
    image = imaged(soak, np.arange(700.0, 1600.0), rng, gain=1.0)
    log = logged(soak, TrueBead(), np.arange(0.0, 2200.0), rng, 20.0)
    found = clock_offset(image, log, same_side=True)
    assert isinstance(found, NoClock)
    assert "as well" in found.reason


def test_a_bead_that_does_not_follow_is_no_clock() -> None:
    rng = np.random.default_rng(4)
    t = np.arange(0.0, 1200.0)
    image = imaged(Soak(((200.0, 40.0),)), t, rng)
    wander = np.cumsum(rng.normal(0.0, 0.4, t.size))
    log = Series("x", "bead", "degC", t, 40.0 + wander, np.full(t.size, 0.1))
    assert isinstance(clock_offset(image, log, same_side=True), NoClock)


def test_too_few_values() -> None:
    rng = np.random.default_rng(5)
    t = np.arange(0.0, 1200.0)
    image = imaged(Soak(), t, rng)
    assert isinstance(clock_offset(image, logged(Soak(), TrueBead(), t[:5], rng), same_side=True), NoClock)


def test_gaps_and_slow_sampling_do_no_harm() -> None:
    rng = np.random.default_rng(6)
    soak = Soak(((200.0, 45.0), (1500.0, 0.0)), tau_s=400.0)
    t = np.arange(0.0, 2400.0, 10.0)
    image = imaged(soak, t[(t < 700.0) | (t > 900.0)], rng)
    log = logged(soak, TrueBead(), np.arange(-100.0, 2500.0, 5.0), rng, -77.0)
    found = clock_offset(image, log, same_side=True)
    assert isinstance(found, ClockOffset)
    assert found.offset_s == pytest.approx(-77.0, abs=max(2.0, 2.0 * found.u_s))


def test_the_bead_is_moved_onto_the_cameras_clock() -> None:
    log = Series("x", "bead", "degC", np.array([10.0, 11.0]), np.array([1.0, 2.0]), np.zeros(2), 0.3)
    moved = on_camera_clock(log, given_offset(4.0, 0.5))
    assert moved.time_s.tolist() == [6.0, 7.0]
    assert moved.u_shared == 0.3
    assert given_offset(4.0).given


def test_the_lag_is_that_of_a_first_order_element() -> None:
    ramp = Grid(0.0, 2.0, np.arange(400.0) * 0.5)
    # A ramp, lagged, runs the lag behind once it has begun: T - slope lag (1 - exp(-t / lag)).
    lagged = ramp.lagged(30.0)
    expected = ramp.value - 0.25 * 30.0 * (1.0 - np.exp(-ramp.time_s / 30.0))
    assert np.allclose(lagged.value, expected, atol=1e-9)
    assert ramp.lagged(0.0) is ramp
    assert math.isnan(ramp.at(np.array([-1.0]))[0])
