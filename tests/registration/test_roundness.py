"""Round things are told from edges, boxes and noise, whatever their contrast."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.registration.roundness import RADII_MM, roundness, soft_disc
from tests.registration.mark_frames import disc_frame


@pytest.mark.parametrize("contrast", [-8.0, 8.0])
@pytest.mark.parametrize("radius_px", [2.0, 4.0, 9.0])
def test_a_disc_is_round_where_it_is(contrast, radius_px):
    frame = disc_frame((120, 90), [(60.0, 41.0, radius_px, contrast)], noise_k=0.05)
    found = roundness(frame, 0.5, 0.5, 0.05, RADII_MM)
    row, column = np.unravel_index(int(np.argmax(found.share)), found.share.shape)
    assert np.hypot(column - 60.0, row - 41.0) <= 1.5
    assert found.share[row, column] > 0.8
    assert found.radius[row, column] == pytest.approx(radius_px * 0.5, rel=0.3)
    assert found.contrast_k[row, column] == pytest.approx(contrast, rel=0.3)


def test_a_slope_and_an_edge_are_not_round():
    slope = np.add.outer(0.3 * np.arange(240.0), 0.2 * np.arange(260.0)).astype(np.float32)
    assert roundness(slope, 0.5, 0.5, 0.05, RADII_MM).share[110:-110, 110:-110].max() < 0.05
    edge = np.where(np.arange(100.0) < 50.0, 20.0, 40.0) * np.ones((80, 1))
    assert roundness(edge.astype(np.float32), 0.5, 0.5, 0.05, RADII_MM).share[20:-20, 20:-20].max() < 0.3


def test_noise_is_less_round_than_a_disc():
    noise = np.random.default_rng(3).normal(20.0, 0.1, (200, 200)).astype(np.float32)
    share = roundness(noise, 0.5, 0.5, 0.1, RADII_MM).share
    assert np.quantile(share, 0.99) < 0.5


def test_a_strip_is_less_round_than_a_disc_of_its_width():
    strip = np.full((80, 100), 30.0, np.float32)
    strip[36:44] += 8.0
    assert roundness(strip, 0.5, 0.5, 0.05, RADII_MM).share[40, 50] < 0.6


def test_the_soft_disc_is_an_edge_blurred_by_a_gaussian():
    # Against the normal distribution's own curve; 0.0095 is the known largest difference of its logistic neighbour.
    from scipy.stats import norm

    distance = np.linspace(0.0, 10.0, 401)
    np.testing.assert_allclose(soft_disc(distance, 5.0, 0.8), norm.cdf((5.0 - distance) / 0.8), atol=0.0096)
