"""First-order responses against the step response's published values, and against an independent integration."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from irspot.soak.model import (
    lagged,
    lagged_twice,
    left_by_interval,
    left_by_slope,
    step_response,
    three_point_end,
    two_step_response,
)

REFERENCE = Path(__file__).parent.parent / "reference"


def rows(name: str) -> list[dict[str, str]]:
    # Each row names its source.
    return list(csv.DictReader((REFERENCE / name).read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize("row", [r for r in rows("first_order.csv") if r["quantity"].startswith("fraction")])
def test_share_reached_after_n_time_constants(row):
    n = float(row["n_time_constants"])
    reached = 100.0 * float(step_response(np.array(n * 420.0), 420.0))
    assert reached == pytest.approx(float(row["percent_reached"]), abs=6e-9)
    assert float(f"{reached:.1f}") == float(row["percent_reached_1dp"])


def test_time_constants_needed():
    for row in rows("first_order.csv"):
        if row["quantity"].startswith("time constants needed"):
            n, percent = float(row["n_time_constants"]), float(row["percent_reached"])
            assert 100.0 * step_response(np.array(n), 1.0) == pytest.approx(percent, abs=1e-6)


@pytest.mark.parametrize("row", rows("remaining_rise.csv"))
def test_what_a_criterion_leaves_undone(row):
    tau_s = 60.0 * float(row["tau_min"])
    words = row["criterion_just_met"].split()
    if "slope" in words:
        left = left_by_slope(float(words[0]) / 3600.0, tau_s)
    else:
        left = left_by_interval(float(words[0]), 60.0 * float(words[5]), tau_s)
    assert left == pytest.approx(float(row["remaining_rise_K"]), abs=6e-7)


@pytest.mark.parametrize("row", rows("three_point_extrapolation.csv"))
def test_three_point_extrapolation(row):
    # Readings are printed to 1e-8, end values to 1e-8 and to 1e-4.
    for given, wanted, digits in (
        ("readings_degC", "T_final_from_three", 5e-5),
        ("readings_rounded_0.1", "T_final_from_rounded", 6e-5),
    ):
        first, second, third = (float(text) for text in row[given].split(";"))
        assert three_point_end(first, second, third) == pytest.approx(float(row[wanted]), abs=digits)


def test_three_readings_on_a_line_have_no_end():
    assert np.isnan(three_point_end(10.0, 11.0, 12.0))


def test_lags_of_a_crooked_input_are_those_of_an_ode_solver():
    from scipy.integrate import solve_ivp

    time_s = np.array([0.0, 30.0, 100.0, 130.0, 400.0, 900.0])
    air = np.array([20.0, 21.0, 21.0, 19.5, 23.0, 22.0])
    taus = np.array([90.0, 700.0])

    def rates(t, state):
        now = np.interp(t, time_s, air)
        return [(now - state[0]) / 90.0, (now - state[1]) / 700.0, (state[0] - state[2]) / 700.0]

    solved = solve_ivp(rates, (0.0, 900.0), [20.0] * 3, t_eval=time_s, rtol=1e-10, atol=1e-10, max_step=5.0).y
    alone = lagged(time_s, air, taus)
    assert pytest.approx(solved[:2], abs=1e-6) == alone.T
    both = lagged_twice(alone[:, 0], alone[:, 1], taus[0], taus[1])
    assert both == pytest.approx(solved[2], abs=1e-6)


def test_two_time_constants_share_the_rise():
    time_s = np.array([-5.0, 0.0, 60.0, 1e6])
    shared = two_step_response(time_s, (60.0, 600.0), 0.25)
    wanted = 0.25 * (1.0 - np.exp(-1.0)) + 0.75 * (1.0 - np.exp(-0.1))
    assert shared == pytest.approx([0.0, 0.0, wanted, 1.0])
