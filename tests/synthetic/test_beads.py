"""Soaks by another way: the truth that cross-checks are judged by."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.synthetic.beads import Soak, TrueBead, bead_degc, imaged, logged


def test_a_step_of_load_is_answered_by_two_exponentials() -> None:
    soak = Soak(((100.0, 40.0),), tau_s=300.0, fast_share=0.25, fast_tau_s=50.0, ambient_degc=20.0)
    t = np.array([0.0, 100.0, 400.0, 1e6])
    slow, fast = 30.0 * (1 - np.exp(-1.0)), 10.0 * (1 - np.exp(-6.0))
    assert soak.surface_degc(t) == pytest.approx([20.0, 20.0, 20.0 + slow + fast, 60.0])


def test_loads_add_up_and_the_air_drifts() -> None:
    soak = Soak(((0.0, 40.0), (1e5, 0.0)), tau_s=300.0, ambient_degc=20.0, drift_k_per_h=1.0)
    t = np.array([9e4, 2e5])
    assert soak.surface_degc(t) - soak.air_degc(t) == pytest.approx([40.0, 0.0], abs=1e-9)
    assert soak.air_degc(np.array([3600.0]))[0] == pytest.approx(21.0)


def test_a_bead_that_comes_off_falls_towards_the_air() -> None:
    soak = Soak(((0.0, 50.0),), tau_s=100.0, fast_share=0.0, ambient_degc=20.0)
    bead = TrueBead(low_share=0.1, detached_s=2000.0, air_tau_s=5.0, air_share=0.0)
    found = bead_degc(soak, bead, np.array([1999.0, 2000.0, 2005.0, 2500.0]))
    assert found == pytest.approx([65.0, 65.0, 20.0 + 45.0 * np.exp(-1.0), 20.0], abs=0.01)


def test_a_lagged_bead_runs_behind_a_ramp_by_its_lag() -> None:
    soak = Soak((), ambient_degc=20.0, drift_k_per_h=3600.0)
    found = bead_degc(soak, TrueBead(low_share=0.0, lag_s=8.0), np.array([50.0, 60.0]))
    assert found == pytest.approx([20.0 + 42.0, 20.0 + 52.0], abs=0.2)


def test_logs_carry_their_own_clock_and_noise() -> None:
    soak, t = Soak(), np.arange(0.0, 3000.0)
    log = logged(soak, TrueBead(noise_k=0.2), t, np.random.default_rng(0), 77.0)
    assert log.time_s[0] == 77.0
    left = log.value - bead_degc(soak, TrueBead(), t)
    assert float(left.std()) == pytest.approx(0.2, rel=0.05)
    image = imaged(soak, t, np.random.default_rng(0), noise_k=0.1, gain=1.1)
    rise = soak.surface_degc(t) - 23.0
    assert float(np.std(image.value - 23.0 - 1.1 * rise)) == pytest.approx(0.1, rel=0.05)
