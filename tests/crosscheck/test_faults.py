"""Beads that come off are found within three samples, and boards that only cool are left alone."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.crosscheck import Witnesses, bead_fault, masked, sampled_slowly, witnesses_of
from irspot.series import Series
from irspot.synthetic.beads import Soak, TrueBead, logged


def any_soak(rng: np.random.Generator) -> tuple[Soak, float]:
    """Loads that are switched on, changed and off, on boards of 3 to 25 minutes with parts of half a minute or more."""
    on = rng.uniform(30.0, 300.0)
    loads, at = [(on, rng.uniform(20.0, 70.0))], on
    for _ in range(rng.integers(0, 4)):
        at += rng.uniform(60.0, 900.0)
        loads.append((at, float(rng.choice([0.0, rng.uniform(5.0, 70.0)]))))
    soak = Soak(
        tuple(loads),
        tau_s=rng.uniform(180.0, 1500.0),
        fast_share=rng.uniform(0.0, 0.5),
        fast_tau_s=rng.uniform(30.0, 120.0),
        drift_k_per_h=rng.uniform(-2.0, 2.0),
    )
    return soak, on


def false_alarms(count: int) -> float:
    alarms = 0
    for seed in range(count):
        rng = np.random.default_rng(seed)
        soak, _ = any_soak(rng)
        t = np.arange(0.0, rng.uniform(1200.0, 5400.0), rng.choice([1.0, 2.0, 5.0, 10.0]))
        bead = logged(soak, TrueBead(rng.uniform(0.0, 0.2), rng.uniform(0.03, 0.3)), t, rng)
        alarms += bead_fault(bead, Witnesses(23.0)) is not None
    return alarms / count


def found_in_time(count: int) -> float:
    """Share of detachments from 20 K and more over ambient that are told by their third sample, at the right moment."""
    right, asked = 0, 0
    for seed in range(count):
        rng = np.random.default_rng(10_000 + seed)
        soak, on = any_soak(rng)
        step_s = float(rng.choice([1.0, 2.0, 5.0, 10.0]))
        length_s = rng.uniform(1200.0, 5400.0)
        t = np.arange(0.0, length_s, step_s)
        off_s = rng.uniform(on + 60.0, length_s - 60.0)
        bead = TrueBead(
            rng.uniform(0.0, 0.2), rng.uniform(0.03, 0.3), 0.0, off_s, rng.uniform(2.0, 10.0), rng.uniform(0.0, 0.2)
        )
        if soak.surface_degc(np.array([off_s]))[0] < 43.0:
            continue
        fault = bead_fault(logged(soak, bead, t, rng), Witnesses(23.0))
        first_s = float(t[t > off_s][0])
        asked += 1
        right += (
            fault is not None
            and fault.kind == "detached"
            and fault.found_s <= first_s + 2.01 * step_s
            and abs(fault.from_s - first_s) <= 1.01 * step_s
        )
    assert asked > count / 4
    return right / asked


def test_no_false_alarms_where_loads_come_and_go() -> None:
    assert false_alarms(120) < 0.01


def test_detachment_is_found_within_three_samples() -> None:
    assert found_in_time(150) >= 0.95


@pytest.mark.full
def test_many_soaks_without_a_false_alarm_and_with_detachments() -> None:
    assert false_alarms(2000) < 0.01
    assert found_in_time(2000) >= 0.97


def series(value: np.ndarray, step_s: float = 1.0, name: str = "b1") -> Series:
    return Series(
        name, "bead", "degC", np.arange(len(value)) * step_s, np.asarray(value, float), np.full(len(value), 0.1)
    )


def held(count: int, degc: float = 70.0, noise_k: float = 0.1, seed: int = 0) -> np.ndarray:
    return degc + np.random.default_rng(seed).normal(0.0, noise_k, count)


def test_masked_from_the_moment_on_and_nothing_deleted() -> None:
    value = held(200)
    value[120:] = 24.0 + 46.0 * np.exp(-np.arange(1, 81) / 5.0)
    bead = series(value)
    fault = bead_fault(bead, Witnesses(23.0))
    assert fault is not None
    assert fault.kind == "detached"
    assert fault.from_s == 120.0
    assert fault.found_after <= 3
    kept = masked(bead, fault)
    assert kept.time_s.size == 200
    assert np.array_equal(kept.value[:120], value[:120])
    assert np.isnan(kept.value[120:]).all()
    assert np.array_equal(bead.value, value), "what was logged stays as it was"


def test_what_other_beads_or_the_image_show_as_well_is_no_fault() -> None:
    value = held(200)
    value[120:] = 24.0 + 46.0 * np.exp(-np.arange(1, 81) / 12.0)
    bead, other = series(value), series(value * 0.9 + 5.0, name="b2")
    assert bead_fault(bead, Witnesses(23.0)) is not None
    assert bead_fault(bead, Witnesses(23.0, witnesses_of(bead, [bead, other], []))) is None


def test_a_small_part_whose_power_falls_is_no_fault() -> None:
    value = held(200)
    value[120:] = 24.0 + 46.0 * np.exp(-np.arange(1, 81) / 14.0)
    power = Series("power", "power", "W", np.arange(200.0), np.where(np.arange(200) < 120, 90.0, 5.0), np.zeros(200))
    assert bead_fault(series(value), Witnesses(23.0)) is not None
    assert bead_fault(series(value), Witnesses(23.0, (), power)) is None
    fast = held(200)
    fast[120:] = 24.0 + 46.0 * np.exp(-np.arange(1, 81) / 2.0)
    assert bead_fault(series(fast), Witnesses(23.0, (), power)) is not None, "no part cools in two seconds"


def test_a_single_spike_is_no_fault_and_is_masked_where_nothing_shows_it() -> None:
    value = held(100)
    value[50] = 1372.0
    bead = series(value)
    assert bead_fault(bead, Witnesses(23.0)) is None
    assert np.flatnonzero(np.isnan(masked(bead, None).value)).tolist() == [50]
    value[50] = 45.0
    assert bead_fault(series(value), Witnesses(23.0)) is None


def test_values_that_no_bead_shows() -> None:
    value = held(100)
    value[60:] = 1372.0
    fault = bead_fault(series(value), Witnesses(23.0))
    assert fault is not None
    assert (fault.kind, fault.from_s) == ("implausible", 60.0)


def test_a_channel_that_stops() -> None:
    value = held(100)
    value[30:33] = np.nan
    assert bead_fault(series(value), Witnesses(23.0)) is None
    value[80:] = np.nan
    fault = bead_fault(series(value), Witnesses(23.0))
    assert fault is not None
    assert (fault.kind, fault.from_s) == ("lost", 80.0)


def test_noise_many_times_its_own() -> None:
    value = held(200)
    value[150:] += np.random.default_rng(3).normal(0.0, 4.0, 50)
    fault = bead_fault(series(value), Witnesses(23.0))
    assert fault is not None
    assert fault.kind in ("noisy", "step")
    assert 145.0 <= fault.from_s <= 165.0


@pytest.mark.parametrize("jump_k", [6.0, 15.0, -6.0])
def test_a_step_that_stays(jump_k: float) -> None:
    value = held(200)
    value[100:] += jump_k
    fault = bead_fault(series(value), Witnesses(23.0))
    assert fault is not None
    assert fault.kind == ("detached" if jump_k < 0.0 else "step")
    assert fault.from_s == 100.0
    assert fault.found_after <= 3


def test_switching_on_is_no_step() -> None:
    t = np.arange(0.0, 600.0, 10.0)
    value = 23.0 + 60.0 * -np.expm1(-np.maximum(t - 95.0, 0.0) / 30.0)
    assert bead_fault(series(value + held(60, 0.0, 0.05), 10.0), Witnesses(23.0)) is None


def test_without_an_ambient_the_lowest_value_will_do() -> None:
    value = np.concatenate([held(100, 22.0), held(200), 24.0 + 46.0 * np.exp(-np.arange(1, 81) / 5.0)])
    value[100:160] = 22.0 + 48.0 * -np.expm1(-np.arange(60) / 15.0)
    fault = bead_fault(series(value))
    assert fault is not None
    assert fault.from_s == 300.0


def test_slow_logs_are_told() -> None:
    assert sampled_slowly(series(held(10), 30.0))
    assert not sampled_slowly(series(held(10), 10.0))
