"""Stiff views: six numbers to a mapping and back, held against OpenCV, the synthetic camera and differences."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from irspot.camera import Optics
from irspot.registration.pose import pose_of
from irspot.registration.rigid import camera_matrix, mapping_of, mapping_slopes, misfit, nearest_view, tilt_deg
from irspot.synthetic.view import Pose
from tests.registration.outline_frames import BOARD, LENS, SIZE, SLANTED, TILTED, carried, view

CAMERA = np.array([[395.0, 0.0, 158.3], [0.0, 395.0, 127.9], [0.0, 0.0, 1.0]])
POSES = [TILTED, SLANTED, Pose(350.0, (106.5, 65.5)), Pose(380.0, (90.0, 70.0), 38.0, 2.0, 179.0)]


def test_the_camera_matrix_is_that_of_the_optics() -> None:
    np.testing.assert_array_equal(camera_matrix(LENS, SIZE), CAMERA)
    np.testing.assert_array_equal(
        camera_matrix(Optics(focal_px=300.0), (323, 250)), [[300.0, 0.0, 161.0], [0.0, 300.0, 124.5], [0.0, 0.0, 1.0]]
    )
    assert camera_matrix(Optics(), SIZE) is None


@pytest.mark.parametrize("side", ["front", "rear"])
@pytest.mark.parametrize("pose", POSES)
def test_an_exact_view_is_its_own_nearest_view(pose: Pose, side) -> None:
    matrix = view(pose, side=side).matrix()
    np.testing.assert_allclose(mapping_of(nearest_view(matrix, CAMERA), CAMERA), matrix, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("pose", POSES)
def test_opencv_projects_by_the_same_view(pose: Pose) -> None:
    six = nearest_view(view(pose).matrix(), CAMERA)
    flat = np.column_stack([BOARD.array_mm, np.zeros(4)])
    theirs = cv2.projectPoints(flat, six[:3], six[3:], CAMERA, None)[0][:, 0]
    np.testing.assert_allclose(carried(mapping_of(six, CAMERA), BOARD.array_mm), theirs, atol=1e-8)
    found, turn, shift = cv2.solvePnP(flat, theirs, CAMERA, None, flags=cv2.SOLVEPNP_ITERATIVE)
    assert found
    # Turns by nearly half a turn have two vectors: the rotations are what is the same.
    np.testing.assert_allclose(cv2.Rodrigues(six[:3])[0], cv2.Rodrigues(turn)[0], atol=1e-5)
    np.testing.assert_allclose(six[3:], shift[:, 0], rtol=1e-4, atol=1e-2)


@pytest.mark.parametrize("pose", POSES)
def test_the_pose_of_the_camera_is_the_same(pose: Pose) -> None:
    matrix = view(pose).matrix()
    six, found = nearest_view(matrix, CAMERA), pose_of(matrix, LENS, SIZE, "front")
    np.testing.assert_allclose(cv2.Rodrigues(six[:3])[0][:, :2], found.rotation[:, :2], atol=1e-6)
    np.testing.assert_allclose(six[3:], found.translation_mm, atol=1e-3)


def test_the_nearest_view_of_a_mapping_that_is_none_is_near_and_stiff() -> None:
    skew = view(TILTED).matrix() @ np.array([[1.01, 0.012, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    stiff = mapping_of(nearest_view(skew, CAMERA), CAMERA)
    assert 0.3 < np.abs(carried(stiff, BOARD.array_mm) - carried(skew, BOARD.array_mm)).max() < 4.0
    first, second = (np.linalg.inv(CAMERA) @ stiff)[:, :2].T
    assert np.linalg.norm(first) == pytest.approx(np.linalg.norm(second), rel=1e-12)
    assert abs(first @ second) < 1e-12 * (first @ first)


@pytest.mark.parametrize("pose", [*POSES, Pose(380.0, (90.0, 70.0), 0.0, 0.0, 180.0)])
def test_slopes_are_those_of_differences(pose: Pose) -> None:
    six = nearest_view(view(pose).matrix(), CAMERA)
    slopes = mapping_slopes(six, CAMERA)
    steps = np.array([1e-4, 1e-4, 1e-4, 0.02, 0.02, 0.02])
    for k, step in enumerate(steps):
        # Richardson's extrapolation of two differences: an error of the fourth order.
        wide, narrow = (
            (mapping_of(six + h * np.eye(6)[k], CAMERA) - mapping_of(six - h * np.eye(6)[k], CAMERA)) / (2.0 * h)
            for h in (2.0 * step, step)
        )
        wanted = ((4.0 * narrow - wide) / 3.0).ravel()[:8]
        np.testing.assert_allclose(slopes[:, k], wanted, rtol=1e-5, atol=1e-6 * np.abs(wanted).max())
    assert np.linalg.matrix_rank(slopes) == 6


def test_many_views_are_carried_as_each_alone() -> None:
    matrices = np.stack([view(pose).matrix() for pose in POSES])
    together = nearest_view(matrices, CAMERA)
    np.testing.assert_array_equal(together, [nearest_view(each, CAMERA) for each in matrices])
    np.testing.assert_allclose(mapping_of(together, CAMERA), matrices, rtol=1e-9, atol=1e-12)
    slopes = mapping_slopes(together, CAMERA)
    assert slopes.shape == (len(POSES), 8, 6)
    np.testing.assert_array_equal(slopes, [mapping_slopes(each, CAMERA) for each in together])


def test_only_views_of_a_stiff_plate_have_no_misfit() -> None:
    matrices = np.stack([view(pose, side=side).matrix() for pose in POSES for side in ("front", "rear")])
    middle = np.array([158.3, 127.9])
    np.testing.assert_allclose(misfit(matrices, 395.0, middle), 0.0, atol=1e-9)
    stretched = matrices @ np.diag([1.1, 1.0, 1.0])
    cosine, log_ratio = misfit(stretched, 395.0, middle)
    np.testing.assert_allclose(log_ratio, np.log(1.1), atol=1e-9)
    skew = matrices @ np.array([[1.0, 0.1, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    cosine, _ = misfit(skew, 395.0, middle)
    np.testing.assert_allclose(cosine, 0.1 / np.hypot(0.1, 1.0), atol=1e-9)


@pytest.mark.parametrize("side", ["front", "rear"])
@pytest.mark.parametrize(("tilt", "turn"), [(0.0, 0.0), (38.0, 0.0), (0.0, -52.0), (30.0, 20.0)])
def test_the_tilt_is_the_angle_between_axis_and_normal(tilt: float, turn: float, side) -> None:
    pose = Pose(400.0, (104.0, 68.0), tilt, turn, 77.0)
    wanted = np.rad2deg(np.arccos(np.cos(np.deg2rad(tilt)) * np.cos(np.deg2rad(turn))))
    matrix = view(pose, side=side).matrix()
    assert tilt_deg(matrix, LENS, SIZE) == pytest.approx(wanted, abs=1e-3)
    # Of eight focal lengths the nearest is up to a fifth off, and the tilt with it.
    assert tilt_deg(matrix, Optics(), SIZE) == pytest.approx(wanted, abs=8.0)
