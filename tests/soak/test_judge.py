"""What a soak came to: drift, steadiness, time to go, interruptions, load that was not held."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from irspot.camera import NO_CAMERA
from irspot.run_flags import RUN_FLAGS, not_comparable, sorted_run_flags
from irspot.series import Series
from irspot.soak.drift import drift_of
from irspot.soak.judge import SoakReading, Surroundings, hottest, judge_soak, sentence
from irspot.soak.power import held, power_flags
from irspot.study import Load, Run


def zone(
    value: np.ndarray, step_s: float = 10.0, noise_k: float = 0.05, seed: int = 1, shared_k: float = 0.8
) -> Series:
    rng = np.random.default_rng(seed)
    time_s = np.arange(value.size) * step_s
    noisy = value + rng.normal(0.0, noise_k, value.size)
    return Series("ps", "zone", "degC", time_s, noisy, np.full(value.size, noise_k), shared_k)


def rise(minutes: float, tau_s: float = 480.0, to_k: float = 50.0) -> np.ndarray:
    return 22.0 + to_k * (1.0 - np.exp(-np.arange(0.0, 60.0 * minutes + 1.0, 10.0) / tau_s))


def test_a_soak_to_its_end():
    found = judge_soak(zone(rise(60.0)), Surroundings("1 K in 15 min", ambient_degc=22.0))
    assert (found.steady, found.comparable) == ("yes", "yes")
    assert found.flags == ("ambient-assumed-steady",)
    assert found.remaining_s == found.steady_in_s == found.to_go_s == 0.0
    assert found.within_1k_s == pytest.approx(480.0 * math.log(50.0), abs=120.0)
    assert found.last_degc == pytest.approx(72.0, abs=0.15)
    assert found.end_degc == pytest.approx(72.0, abs=0.15)
    # The camera's limit is in both, and told apart.
    assert found.U_end_k == pytest.approx(math.hypot(found.U_end_fit_k, 1.6))
    assert found.U_last_k == pytest.approx(1.6, abs=0.02)
    # In the middle of its ten minutes the slope is 50 / tau exp(-t / tau).
    slope = 3600.0 * 50.0 / 480.0 * math.exp(-3300.0 / 480.0)
    assert abs(found.drift_k_per_h - slope) <= found.U_drift_k_per_h
    assert sentence(found).startswith("usable now: ps 72")
    assert sentence(found).endswith("steady")


def test_a_run_stopped_early_keeps_its_last_value_and_its_projection_apart():
    found = judge_soak(zone(rise(15.0)), Surroundings("1 K in 15 min", ambient_degc=22.0))
    truth = rise(15.0)[-1]
    assert "stopped-early" in found.flags
    assert found.last_degc == pytest.approx(truth, abs=0.2)
    assert abs(found.end_degc - 72.0) <= found.U_end_fit_k
    assert math.isnan(found.within_1k_s)
    assert abs(found.remaining_s - (480.0 * math.log(50.0) - 900.0)) <= found.U_remaining_s + 60.0
    assert found.steady == "no"
    # 1 K in the last 15 min: 50 exp(-t / tau) (exp(900 / tau) - 1) = 1.
    met_s = 480.0 * math.log(50.0 * math.expm1(900.0 / 480.0))
    assert found.steady_in_s == pytest.approx(met_s - 900.0, abs=180.0)
    assert sentence(found).startswith("not yet: ps ")
    assert sentence(found).endswith("min to go")


def test_drift_is_the_slope_with_its_uncertainty():
    time_s = np.arange(0.0, 1200.0, 10.0)
    inside = 0
    for seed in range(60):
        found = drift_of(zone(40.0 + 3.0 / 3600.0 * time_s, noise_k=0.1, seed=seed))
        inside += abs(found.k_per_h - 3.0) <= found.U_k_per_h
        assert found.over_s == 600.0
    # Of 60 at 95 %, fewer than 51 are in one time of two thousand.
    assert inside >= 51


def test_one_wild_sample_does_not_turn_a_drift():
    value = np.full(61, 50.0)
    value[55] = 90.0
    assert abs(drift_of(zone(value, noise_k=0.02)).k_per_h) < 0.3
    assert math.isnan(drift_of(zone(value[:3])).k_per_h)


def test_a_run_watched_before_the_load_begins_where_it_rises():
    cold = np.full(60, 22.0)
    found = judge_soak(zone(np.concatenate([cold, rise(40.0)])), Surroundings("2 K/h"))
    assert found.from_s == pytest.approx(600.0, abs=60.0)
    assert abs(found.end_degc - 72.0) <= max(found.U_end_fit_k, 0.3)
    assert "interrupted" not in found.flags


@pytest.mark.parametrize("seed", range(4))
def test_a_zone_that_does_not_warm_is_judged_by_all_its_samples(seed):
    found = judge_soak(zone(np.full(181, 24.0), noise_k=0.2, seed=seed), Surroundings("2 K/h", ambient_degc=23.0))
    assert found.from_s < 60.0
    assert "interrupted" not in found.flags
    assert abs(found.end_degc - 24.0) <= max(found.U_end_fit_k, 0.1)


def test_an_interrupted_run_is_kept_and_marked():
    first = rise(20.0)
    down = 22.0 + (first[-1] - 22.0) * np.exp(-np.arange(10.0, 300.0, 10.0) / 480.0)
    back = 72.0 - (72.0 - down[-1]) * np.exp(-np.arange(10.0, 2400.0, 10.0) / 480.0)
    found = judge_soak(zone(np.concatenate([first, down, back])), Surroundings("2 K/h"))
    assert "interrupted" in found.flags
    assert found.comparable == "no"
    assert found.from_s == pytest.approx(1490.0, abs=60.0)
    assert abs(found.end_degc - 72.0) <= max(found.U_end_fit_k, 0.3)


def test_what_was_hardly_watched_says_so():
    short = judge_soak(zone(rise(1.0)))
    assert set(short.flags) == {"ambient-assumed-steady", "end-unknown", "rule-assumed", "rule-not-judged"}
    assert short.steady == ""
    assert math.isnan(short.end_degc)
    assert short.last_degc > 22.0
    assert "not known" in sentence(short)
    nothing = judge_soak(zone(np.full(20, np.nan)))
    assert nothing.samples == 0
    assert math.isnan(nothing.last_degc)


def test_the_air_of_the_last_sample_is_reported():
    time_s = np.arange(0.0, 2401.0, 10.0)
    air = Series("air", "ambient", "degC", time_s, 22.0 + time_s / 2400.0, np.full(time_s.size, 0.05))
    found = judge_soak(zone(rise(40.0) + time_s / 2400.0), Surroundings("2 K/h", air))
    assert found.ambient_degc == pytest.approx(23.0, abs=0.05)
    assert "ambient-assumed-steady" not in found.flags


def test_the_hottest_are_told_of():
    readings = [SoakReading("a", "zone", 50.0, end_degc=90.0), SoakReading("b", "zone", 60.0), SoakReading("c", "zone")]
    assert [r.zone for r in hottest(readings, 3)] == ["a", "b"]


LOAD = Load("stock", intended_power_w=200.0, power_point="wall", power_tolerance_percent=2.0, clock_tolerance_ghz=0.05)
RUN = Run("r", "b", "stock", "front", (), NO_CAMERA, power_point="wall")


def power(value: np.ndarray, unit: str = "W") -> Series:
    rng = np.random.default_rng(0)
    noisy = value * (1.0 + rng.normal(0.0, 0.002, value.size))
    kind = "power" if unit == "W" else "clock"
    return Series("p", kind, unit, np.arange(value.size) * 5.0, noisy, np.full(value.size, 0.1))


def test_a_load_that_was_held():
    value = np.concatenate([np.full(20, 15.0), np.full(400, 201.0), np.full(10, 15.0)])
    found = held(power(value), 4.0)
    assert found.plateau == pytest.approx(201.0, abs=0.5)
    assert found.on_s == 100.0
    assert found.flags == ()
    assert power_flags(RUN, LOAD, power(value)) == ()


def test_throttling_is_found_with_its_time():
    value = np.concatenate([np.full(200, 200.0), np.full(200, 185.0)])
    found = held(power(value), 4.0)
    assert found.sag_s == pytest.approx(1000.0, abs=60.0)
    assert power_flags(RUN, LOAD, power(value)) == ("throttled",)
    clock = power(np.concatenate([np.full(200, 4.8), np.full(200, 4.5)]), "GHz")
    assert power_flags(RUN, LOAD, clock=clock) == ("throttled",)
    dip = np.full(400, 200.0)
    dip[100:102] = 150.0
    assert power_flags(RUN, LOAD, power(dip)) == ()


def test_a_gap_is_an_interruption():
    value = np.concatenate([np.full(100, 200.0), np.full(20, 5.0), np.full(300, 200.0)])
    found = held(power(value), 4.0)
    assert (found.gap_s, found.on_s) == (500.0, 600.0)
    assert power_flags(RUN, LOAD, power(value)) == ("interrupted",)


def test_power_off_its_intended_value_at_the_same_point_only():
    assert power_flags(replace(RUN, power_w=203.9), LOAD) == ()
    assert power_flags(replace(RUN, power_w=204.1), LOAD) == ("power-off-intended",)
    assert power_flags(replace(RUN, power_w=204.1, power_point="supply"), LOAD) == ("power-elsewhere",)
    assert power_flags(RUN, LOAD, power(np.full(100, 230.0))) == ("power-off-intended",)
    assert power_flags(RUN, LOAD) == ()
    assert power_flags(RUN, LOAD, power(np.array([1.0, 2.0]))) == ()


def test_run_flags_explain_themselves():
    assert list(RUN_FLAGS) == sorted(RUN_FLAGS)
    assert all(flag.reason.endswith(".") and flag.remedy.endswith(".") for flag in RUN_FLAGS.values())
    assert not_comparable(RUN_FLAGS) == ("interrupted", "power-elsewhere", "power-off-intended", "throttled")
    with pytest.raises(KeyError):
        sorted_run_flags(["throtled"])
