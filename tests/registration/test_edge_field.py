"""Directions of edges, whatever their sense."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.filters import sobel_h, sobel_v

from irspot.registration.edge_field import edge_field


def step(angle_deg: float, size: int = 81) -> np.ndarray:
    """A step across the middle whose gradient points at an angle, clockwise from right."""
    y, x = np.mgrid[:size, :size] - size // 2
    away = x * np.cos(np.deg2rad(angle_deg)) + y * np.sin(np.deg2rad(angle_deg))
    return 50.0 + 30.0 * np.tanh(away / 2.0)


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 45.0, 90.0, 120.0])
def test_angles_are_doubled_and_lengths_are_shares(angle_deg: float):
    field = edge_field(step(angle_deg), 1.2)
    middle = field[40, 40]
    apart = np.angle(middle * np.exp(-2j * np.deg2rad(angle_deg)))
    assert abs(apart) < np.deg2rad(3.0)
    assert 0.7 < abs(middle) <= 1.0
    assert np.abs(field).max() <= 1.0


def test_a_negative_has_the_same_edges():
    image = np.random.default_rng(3).normal(30.0, 4.0, (60, 70))
    np.testing.assert_allclose(edge_field(image, 1.5), edge_field(100.0 - image, 1.5), atol=1e-4)


def test_brighter_contrast_does_not_count_more():
    image = np.random.default_rng(4).normal(30.0, 4.0, (60, 70))
    np.testing.assert_allclose(edge_field(image, 1.5), edge_field(7.0 * image, 1.5), atol=1e-3)


def test_directions_are_those_of_another_library():
    """scikit-image's Sobel filters on the same smoothed picture."""
    import cv2

    image = cv2.GaussianBlur(np.random.default_rng(5).normal(30.0, 4.0, (60, 70)).astype(np.float32), (0, 0), 4.0)
    field = edge_field(image, 1.0)
    smooth = cv2.GaussianBlur(image, (0, 0), 1.0)
    other = (sobel_v(smooth) + 1j * sobel_h(smooth)) ** 2
    inner = (slice(6, -6), slice(6, -6))
    strong = np.abs(other[inner]) > np.median(np.abs(other[inner]))
    apart = np.angle(field[inner] * np.conj(other[inner]))[strong]
    assert np.abs(apart).max() < 0.02


def test_an_even_picture_has_no_edges():
    assert np.abs(edge_field(np.full((30, 40), 21.0), 1.0)).max() < 1e-3
