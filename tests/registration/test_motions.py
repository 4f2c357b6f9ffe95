"""Motions of a stiff board and of a free plane: slopes, planes, heights."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.registration.homography import apply
from irspot.registration.motions import FreeMotion, Motion, StiffMotion
from irspot.registration.rigid import camera_matrix
from irspot.synthetic.nudges import Bench, Nudge, random_bench

PLACES = np.array([[40.0, 30.0], [250.0, 60.0], [130.0, 200.0], [160.0, 120.0]])


def motions(bench: Bench) -> list[Motion]:
    view = bench.view
    corners = apply(view.matrix(), bench.outline.array_mm)
    middle = corners.mean(axis=0)
    reach = float(np.hypot(*(corners - middle).T).mean())
    camera = camera_matrix(view.optics, view.size_px)
    assert camera is not None
    return [StiffMotion.of(view.matrix(), camera, middle, reach), FreeMotion(middle, reach)]


@pytest.mark.parametrize("seed", range(4))
def test_slopes_are_the_derivatives_of_places(seed: int) -> None:
    for motion in motions(random_bench(seed, size_px=(320, 240))):
        by = np.random.default_rng(seed).normal(0.0, 1.0, motion.count)
        points = motion.points_of(PLACES, np.array([0.0, 5.0, 20.0, 0.0]))
        slopes = motion.slopes(by, points)
        for k, step in enumerate(1e-4 * np.eye(motion.count)):
            change = (motion.carried(by + step, points) - motion.carried(by - step, points)) / 2e-4
            # Turns are added as vectors, which is exact to first order only.
            assert np.allclose(slopes[..., k], change, atol=0.02 * max(1.0, np.abs(change).max()))


@pytest.mark.parametrize("seed", range(4))
def test_the_plane_goes_as_its_matrix_says_and_no_motion_leaves_all_in_place(seed: int) -> None:
    for motion in motions(random_bench(seed, size_px=(320, 240))):
        by = np.random.default_rng(seed).normal(0.0, 2.0, motion.count)
        flat = motion.points_of(PLACES, np.zeros(4))
        assert np.allclose(apply(motion.matrix(by), PLACES), motion.carried(by, flat), atol=1e-7)
        assert np.allclose(motion.carried(np.zeros(motion.count), flat), PLACES, atol=1e-9)
        assert np.allclose(motion.matrix(np.zeros(motion.count)), np.eye(3) * motion.matrix(by * 0.0)[2, 2], atol=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_a_raised_place_of_a_shifted_board_moves_further_as_the_camera_sees_it(seed: int) -> None:
    bench = random_bench(seed, size_px=(320, 240))
    stiff, height, at = motions(bench)[0], 30.0, bench.outline.array_mm[:1]
    lens = bench.view.optics
    nudge = Nudge((5.0, 2.0))
    after = bench.view_after(nudge)
    if lens.distorted:
        pytest.skip("places of the undistorted image are compared")
    flat = stiff.points_of(bench.view.to_px(bench.outline.array_mm), np.zeros(len(bench.outline.array_mm)))
    wanted = after.to_px(bench.outline.array_mm)
    by = np.zeros(6)
    for _ in range(20):
        off = (wanted - stiff.carried(by, flat)).ravel()
        by += np.linalg.lstsq(stiff.slopes(by, flat).reshape(-1, 6), off, rcond=None)[0]
    raised = stiff.points_of(bench.view.to_px(at, height), np.array([height]))
    assert np.allclose(stiff.carried(by, raised), after.to_px(at, height), atol=1e-5)
