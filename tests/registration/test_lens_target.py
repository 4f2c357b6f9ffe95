"""Dots and corners found in rendered thermal frames, held against where the camera in space has them."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.camera import Optics
from irspot.registration.lens_target import Target, find_target

from .lens_scenes import poses_of, target_frame, true_places

DOTS, CHECKER = Target("dots", 7, 5, 20.0), Target("checker", 8, 6, 25.0)
SIZE = (321, 251)
LENS = Optics(focal_px=420.0, distortion=(-0.22, 0.07, 0.0, 0.0, 0.0))


def misses(found, truth):
    """Distance of every found point to the true one, in whatever order the target was counted."""
    apart = np.hypot(*(found[:, None, :] - truth[None, :, :]).transpose(2, 0, 1))
    assert sorted(apart.argmin(axis=1)) == list(range(len(truth))), "each point once"
    return apart.min(axis=1)


@pytest.mark.parametrize("target", [DOTS, CHECKER], ids=["dots", "checker"])
@pytest.mark.parametrize("contrast_k", [9.0, -9.0])
@pytest.mark.parametrize("number", [0, 3, 5])
def test_points_are_found_to_a_tenth_of_a_pixel(target, contrast_k, number):
    view = poses_of(target, 420.0, SIZE)[number]
    frame = target_frame(target, view, LENS, SIZE, contrast_k=contrast_k, noise_k=0.1, seed=number)
    found = find_target(frame, target)
    assert found is not None
    assert np.sqrt(np.mean(misses(found, true_places(target, view, LENS, SIZE)) ** 2)) < 0.12


def test_points_come_in_the_order_of_the_grid():
    view = poses_of(DOTS, 420.0, SIZE)[1]
    found = find_target(target_frame(DOTS, view, LENS, SIZE), DOTS).reshape(5, 7, 2)
    truth = true_places(DOTS, view, LENS, SIZE).reshape(5, 7, 2)
    ways = [truth, truth[::-1], truth[:, ::-1], truth[::-1, ::-1]]
    assert min(np.abs(found - way).max() for way in ways) < 0.3


def test_a_hot_thing_beside_the_target_and_dead_strokes_do_not_hide_it():
    view = poses_of(DOTS, 420.0, SIZE)[2]
    frame = target_frame(DOTS, view, LENS, SIZE, contrast_k=5.0)
    frame[:30, :40] = 140.0
    found = find_target(frame, DOTS)
    assert found is not None
    assert np.sqrt(np.mean(misses(found, true_places(DOTS, view, LENS, SIZE)) ** 2)) < 0.12


@pytest.mark.parametrize("target", [DOTS, CHECKER], ids=["dots", "checker"])
def test_what_is_not_there_is_not_found(target):
    view = poses_of(target, 420.0, SIZE)[0]
    noise = 25.0 + np.random.default_rng(4).normal(0.0, 0.05, SIZE[::-1])
    assert find_target(noise, target) is None
    assert find_target(np.full(SIZE[::-1], 25.0), target) is None
    frame = target_frame(target, view, LENS, SIZE)
    low, high = true_places(target, view, LENS, SIZE).min(axis=0), true_places(target, view, LENS, SIZE).max(axis=0)
    cut = frame.copy()
    cut[:, : int(low[0] + 0.2 * (high[0] - low[0]))] = 25.0
    assert find_target(cut, target) is None, "part of it is hidden"
