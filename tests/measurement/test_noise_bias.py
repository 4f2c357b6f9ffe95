"""How much too high the hottest of many pixels reads, against simulation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from irspot.measurement.noise_bias import expected_maximum, noise_bias_k


@pytest.mark.parametrize(
    ("count", "expected"),
    # Expected largest of n standard normal variables: H. L. Harter, Biometrika 48 (1961) 151, table 1 (from memory).
    [(1, 0.0), (2, 0.56419), (5, 1.16296), (10, 1.53875), (100, 2.50759)],
)
def test_order_statistics(count: int, expected: float) -> None:
    assert expected_maximum(np.zeros(count)) == pytest.approx(expected, abs=1e-2)


@given(spread=st.floats(0.1, 6.0), count=st.integers(2, 300))
def test_unequal_means(spread: float, count: int) -> None:
    means = -spread * np.linspace(0.0, 1.0, count) ** 2
    draws = means + np.random.default_rng(count).standard_normal((3000, count))
    assert expected_maximum(means) == pytest.approx(draws.max(axis=1).mean(), abs=0.1)


def bias_of(truth: np.ndarray, noise_k: float, draws: int = 120) -> tuple[float, float]:
    random = np.random.default_rng(1)
    found, true = [], []
    for _ in range(draws):
        values = (truth + noise_k * random.standard_normal(truth.shape)).astype(np.float32)
        found.append(noise_bias_k(values, np.ones(truth.shape, bool), noise_k))
        true.append(float(values.max() - truth.max()))
    return float(np.mean(found)), float(np.mean(true))


def test_a_thousand_pixels_of_a_tenth_of_a_kelvin_add_three_tenths() -> None:
    """This project's own calculation: 1,000 px of 0.1 K noise add 0.32 K; found is at least half of that, not more."""
    found, true = bias_of(np.full((25, 40), 50.0), 0.1)
    assert true == pytest.approx(0.324, abs=0.01)
    assert 0.5 * true < found < true + 0.02


@pytest.mark.parametrize("height_k", [3.0, 10.0, 40.0])
def test_a_summit_is_hardly_raised(height_k: float) -> None:
    y, x = np.mgrid[-15:16, -20:21]
    found, true = bias_of(50.0 - height_k * ((y / 15) ** 2 + (x / 20) ** 2), 0.1)
    assert found == pytest.approx(true, abs=0.04)


def test_nothing_to_correct() -> None:
    values = np.array([[40.0, 41.0], [42.0, np.nan]], np.float32)
    assert noise_bias_k(values, np.zeros((2, 2), bool), 0.1) == 0.0
    assert noise_bias_k(values, np.isfinite(values), 0.0) == 0.0
    assert 0.0 <= noise_bias_k(values, np.isfinite(values), 0.1) < 0.1
