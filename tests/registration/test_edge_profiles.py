"""Edges are found along normals where they were drawn, and nowhere else."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.registration.edge_profiles import edges_along, profiles_of
from irspot.registration.outline_score import carried_outline, outline_points
from tests.registration.outline_frames import BENT, BOARD, SIZE, SLANTED, TILTED, frame_of, noisy, view

POINTS = outline_points(BOARD.array_mm, 200)


@pytest.mark.parametrize("moved_px", [-2.3, 0.0, 1.7])
@pytest.mark.parametrize("pose", [TILTED, SLANTED])
def test_an_edge_is_as_far_along_the_normal_as_the_place_was_moved(pose, moved_px: float) -> None:
    seen = view(pose, BENT)
    places, normals = carried_outline(POINTS, seen.matrix()[None], BENT, SIZE)
    profiles = profiles_of(noisy(frame_of(seen), 0.02, 1), 0.02, 1.3)
    found = edges_along(profiles, places - moved_px * normals, normals, 4.0)
    assert found.offset.shape == found.present.shape == found.seen.shape == (1, len(POINTS.edge))
    assert found.seen.all()
    # What fades with distance: of edges far from the place those are left out that are no sharper than the fading.
    assert found.present.mean() > (0.95 if moved_px == 0.0 else 0.3)
    near = np.abs(found.offset[found.present] - moved_px)
    assert np.median(near) < 0.15
    assert np.quantile(near, 0.9) < 0.35


def test_out_of_view_and_behind_the_camera_nothing_is_seen() -> None:
    places = np.array([[5.0, 120.0], [0.5, 120.0], [160.0, 250.0], [np.nan, 3.0], [400.0, 120.0], [160.0, 120.0]])
    normals = np.tile([1.0, 0.0], (6, 1))
    normals[5] = np.nan
    found = edges_along(profiles_of(frame_of(view()), 0.05, 1.3), places, normals, 3.0)
    assert found.seen.tolist() == [True, False, False, False, False, False]
    assert not found.present[1:].any()


@pytest.mark.parametrize("noise_k", [0.02, 0.15])
def test_noise_alone_has_hardly_an_edge(noise_k: float) -> None:
    places, normals = carried_outline(POINTS, view().matrix()[None], BENT, SIZE)
    flat = noisy(np.full((251, 323), 23.0, np.float32), noise_k, 2)
    found = edges_along(profiles_of(flat, noise_k, 1.3), places, normals, 3.0)
    assert found.present.mean() < 0.02


def test_of_two_edges_the_nearer_of_equal_steps_is_taken() -> None:
    x = np.arange(80.0)
    degc = np.tile(20.0 + 5.0 * (x > 30.5) + 5.0 * (x > 37.5), (60, 1)).astype(np.float32)
    profiles = profiles_of(degc, 0.01, 1.0)
    found = edges_along(profiles, np.array([[32.0, 30.0], [36.0, 30.0]]), np.array([[1.0, 0.0], [1.0, 0.0]]), 6.0)
    np.testing.assert_allclose(found.offset, [-1.5, 1.5], atol=0.1)
