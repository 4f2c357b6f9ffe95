"""The camera in space against OpenCV's projection, and its rays against its own projection."""

import cv2
import numpy as np
import pytest

from irspot.camera import Optics
from irspot.synthetic.view import Pose, bend, project, rays, rotation, sample_directions, straighten

SIZE = (63, 47)
BENT = Optics(focal_px=81.0, principal_px=(30.2, 24.7), distortion=(-0.21, 0.06, 0.004, -0.003, 0.01))
POSE = Pose(distance_mm=430.0, aim_mm=(118.0, 150.5), tilt_deg=6.0, turn_deg=-9.0, roll_deg=87.0)


def points():
    random = np.random.default_rng(3)
    return np.column_stack([random.uniform(-10, 254, 40), random.uniform(-10, 315, 40), random.uniform(-20, 40, 40)])


@pytest.mark.parametrize("side", ["front", "rear"])
def test_projection_agrees_with_opencv(side):
    xyz = points()
    # OpenCV knows no reflections: a point seen from behind is turned over first, its height counted towards the camera.
    turned = (xyz - [*POSE.aim_mm, 0.0]) * [1.0 if side == "front" else -1.0, -1.0, -1.0]
    unmirrored = rotation(POSE, "front") @ np.diag([1.0, -1.0, -1.0])
    matrix = np.array([[81.0, 0, 30.2], [0, 81.0, 24.7], [0, 0, 1]])
    expected, _ = cv2.projectPoints(
        turned, cv2.Rodrigues(unmirrored)[0], np.array([0, 0, POSE.distance_mm]), matrix, np.array(BENT.distortion)
    )
    np.testing.assert_allclose(project(xyz, POSE, side, BENT, SIZE), expected[:, 0], atol=1e-9)


def test_upright_pose_shows_the_top_up_and_the_rear_mirrored():
    straight = Pose(distance_mm=100.0, aim_mm=(10.0, 20.0))
    optics = Optics(focal_px=50.0)
    right_and_top = np.array([[14.0, 20.0, 0.0], [10.0, 26.0, 0.0]])
    front = project(right_and_top, straight, "front", optics, SIZE) - [31.0, 23.0]
    rear = project(right_and_top, straight, "rear", optics, SIZE) - [31.0, 23.0]
    np.testing.assert_allclose(front, [[2.0, 0.0], [0.0, -3.0]], atol=1e-12)
    np.testing.assert_allclose(rear, [[-2.0, 0.0], [0.0, -3.0]], atol=1e-12)


def test_roll_of_ninety_degrees_turns_the_top_right():
    pose = Pose(distance_mm=100.0, aim_mm=(0.0, 0.0), roll_deg=90.0)
    x, y = project(np.array([[0.0, 6.0, 0.0]]), pose, "front", Optics(focal_px=50.0), SIZE)[0] - [31.0, 23.0]
    assert (x, y) == pytest.approx((3.0, 0.0), abs=1e-12)


def test_higher_places_look_farther_out():
    straight = Pose(distance_mm=100.0, aim_mm=(0.0, 0.0))
    for side in ("front", "rear"):
        low, high = project(np.array([[8.0, 0.0, 0.0], [8.0, 0.0, 20.0]]), straight, side, Optics(focal_px=50.0), SIZE)
        # 8 mm at 100 mm and at 80 mm.
        assert abs(low[0] - 31.0) == pytest.approx(4.0)
        assert abs(high[0] - 31.0) == pytest.approx(5.0)


def test_straighten_undoes_bend():
    random = np.random.default_rng(8)
    ideal = random.uniform(-0.4, 0.4, (50, 2))
    np.testing.assert_allclose(straighten(bend(ideal, BENT.distortion), BENT.distortion), ideal, atol=1e-8)


@pytest.mark.parametrize("side", ["front", "rear"])
@pytest.mark.parametrize("height", [0.0, 12.5, -18.0])
def test_rays_meet_what_projection_shows(side, height):
    supersample = 3
    seen = rays(sample_directions(BENT, SIZE, supersample), POSE, side)
    rows, columns = np.array([0, 50, 97, 140]), np.array([188, 3, 77, 120])
    x = (seen.x_mm + height * seen.lean_x)[rows, columns]
    y = (seen.y_mm + height * seen.lean_y)[rows, columns]
    back = project(np.column_stack([x, y, np.full(4, height)]), POSE, side, BENT, SIZE)
    expected = np.column_stack([(columns + 0.5) / supersample - 0.5, (rows + 0.5) / supersample - 0.5])
    np.testing.assert_allclose(back, expected, atol=1e-5)


def test_a_camera_without_focal_length_is_refused():
    with pytest.raises(ValueError, match="focal_px"):
        project(points(), POSE, "front", Optics(), SIZE)
