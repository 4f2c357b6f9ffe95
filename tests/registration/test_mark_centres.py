"""Centres of marks are where the discs were rendered, within the uncertainty they state."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.registration.mark_centres import fit_centre
from tests.registration.mark_frames import disc_frame

ALL = np.ones((60, 60), bool)


@pytest.mark.parametrize("radius_px", [1.5, 3.0, 6.0])
@pytest.mark.parametrize("blur_px", [0.6, 1.2, 2.0])
def test_a_clean_disc_is_placed_to_a_few_hundredths(radius_px, blur_px):
    truth = np.array([30.37, 28.81])
    frame = disc_frame((60, 60), [(*truth, radius_px, -6.0)], blur_px=blur_px)
    found = fit_centre(
        frame, ALL, np.array([31.0, 29.5]), 2.0 * np.eye(2), radius_mm=0.45 * radius_px, blur_px=blur_px, noise_k=0.02
    )
    np.testing.assert_allclose(found.xy_px, truth, atol=0.03)


def test_a_slanted_disc_is_placed_as_well():
    truth = np.array([30.37, 28.81])
    frame = disc_frame((60, 60), [(*truth, 4.0, 6.0)], squeeze=0.7)
    slopes = np.diag([2.0, 1.4])
    found = fit_centre(frame, ALL, np.array([30.0, 28.0]), slopes, radius_mm=2.0, blur_px=1.0, noise_k=0.02)
    np.testing.assert_allclose(found.xy_px, truth, atol=0.03)
    assert found.radius_mm == pytest.approx(2.0, abs=0.1)
    assert found.contrast_k == pytest.approx(6.0, rel=0.1)


def test_the_stated_uncertainty_covers_noise():
    random = np.random.default_rng(7)
    misses = []
    for seed in range(150):
        truth = np.array([30.0, 30.0]) + random.uniform(-0.5, 0.5, 2)
        frame = disc_frame((60, 60), [(*truth, 3.0, 1.0)], noise_k=0.2, seed=seed)
        found = fit_centre(frame, ALL, np.array([30.0, 30.0]), 2.0 * np.eye(2), radius_mm=1.4, blur_px=1.0, noise_k=0.2)
        misses.append((found.xy_px - truth) / found.u_px)
    spread = float(np.sqrt(np.mean(np.square(misses))))
    assert 0.7 < spread < 1.2


def test_nothing_is_found_where_nothing_is_to_be_seen():
    even = np.full((60, 60), 30.0, np.float32)
    none = np.zeros((60, 60), bool)
    start, slopes = np.array([30.0, 30.0]), 2.0 * np.eye(2)
    assert fit_centre(even, none, start, slopes, radius_mm=1.4, blur_px=1.0, noise_k=0.05) is None
    assert fit_centre(even, ALL, start, slopes, radius_mm=1.4, blur_px=1.0, noise_k=0.05) is None
