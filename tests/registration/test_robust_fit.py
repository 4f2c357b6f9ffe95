"""Robust least squares over many problems, held against NumPy's for each of them."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.registration.robust_fit import fitted

COUNT, UNKNOWNS = 90, 4


def problems(seed: int, sigma: float, number: int = 5):
    random = np.random.default_rng(seed)
    slopes = random.normal(size=(number, COUNT, UNKNOWNS)) * [1.0, 10.0, 0.01, 300.0]
    truth = random.normal(size=(number, UNKNOWNS)) / [1.0, 10.0, 0.01, 300.0]
    observed = np.einsum("knp,kp->kn", slopes, truth) + random.normal(0.0, sigma, (number, COUNT))
    return slopes, observed, truth


def test_good_observations_give_what_least_squares_give() -> None:
    slopes, observed, _ = problems(1, 1e-3)
    present = np.ones(observed.shape, bool)
    present[:, ::7] = False
    fit = fitted(slopes, observed, present)
    assert fit.sound.all()
    for k in range(len(slopes)):
        # Deviations below the floor of 0.05 leave the biweight flat to a part in a thousand.
        wanted = np.linalg.lstsq(slopes[k][present[k]], observed[k][present[k]], rcond=None)[0]
        np.testing.assert_allclose(fit.step[k] * [1.0, 10.0, 0.01, 300.0], wanted * [1.0, 10.0, 0.01, 300.0], atol=2e-5)
    assert not fit.weight[~present].any()
    np.testing.assert_array_equal(fit.deviation, 0.05)


def test_a_third_of_stray_observations_hardly_moves_it() -> None:
    slopes, observed, truth = problems(2, 0.2)
    observed[:, ::3] += 8.0
    fit = fitted(slopes, observed, np.ones(observed.shape, bool))
    assert np.abs((fit.step - truth) * [1.0, 10.0, 0.01, 300.0]).max() < 0.2
    assert fit.weight[:, ::3].max() == 0.0
    assert 0.15 < fit.deviation.mean() < 0.35


def test_the_covariance_covers_the_errors() -> None:
    slopes, observed, truth = problems(3, 0.3, 200)
    fit = fitted(slopes, observed, np.ones(observed.shape, bool))
    u = np.sqrt(np.einsum("kpp->kp", fit.spread))
    # 800 errors: 95.4 % are found to 0.7 %.
    assert 0.92 < np.mean(np.abs(fit.step - truth) < 2.0 * u) < 0.98


@pytest.mark.parametrize("fault", ["few", "dependent", "empty"])
def test_what_is_not_held_is_said_to_be_unsound_and_spoils_no_other(fault: str) -> None:
    slopes, observed, _ = problems(4, 0.1, 3)
    present = np.ones(observed.shape, bool)
    alone = fitted(slopes[::2], observed[::2], present[::2])
    if fault == "few":
        present[1, 12:] = False
    elif fault == "dependent":
        slopes[1, :, 2] = 3.0 * slopes[1, :, 0]
    else:
        present[1] = False
    fit = fitted(slopes, observed, present)
    assert fit.sound.tolist() == [True, False, True]
    np.testing.assert_allclose(fit.step[::2], alone.step)
