"""Poses held against OpenCV, scikit-image and the synthetic camera, which is a pose in space from the start."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from skimage.transform import ProjectiveTransform

from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.registration import homography
from irspot.registration.distortion import undistort
from irspot.registration.pose import camera_matrix, pose_of
from irspot.synthetic.view import Pose, project, rotation

SIZE = (643, 509)
LENS = Optics(focal_px=812.0, principal_px=(318.2, 257.9), distortion=(-0.21, 0.06, 0.0007, -0.0011, 0.0))
CORNERS_MM = np.array([[0.0, 0.0], [244.0, 0.0], [244.0, 305.0], [0.0, 305.0]])  # ATX, 305 x 244 mm
VIEWS = [
    Pose(620.0, (122.0, 152.5)),
    Pose(640.0, (110.0, 160.0), tilt_deg=25.0),
    Pose(700.0, (122.0, 140.0), tilt_deg=-40.0, roll_deg=33.0),
    Pose(650.0, (130.0, 152.0), tilt_deg=12.0, turn_deg=31.0, roll_deg=-170.0),
    Pose(560.0, (122.0, 152.5), tilt_deg=0.4, turn_deg=-0.3, roll_deg=90.0),
]


def truth_of(view: Pose, side):
    turned = rotation(view, side)
    shift = turned @ -np.array([*view.aim_mm, 0.0]) + np.array([0.0, 0.0, view.distance_mm])
    return turned, shift


def matrix_of(view: Pose, side, optics: Optics = LENS, noise_px: float = 0.0, seed: int = 0):
    """The homography of a view, fitted to its corners in the stored image."""
    flat = np.column_stack([CORNERS_MM, np.zeros(4)])
    stored = project(flat, view, side, optics, SIZE)
    stored = stored + noise_px * np.random.default_rng(seed).standard_normal((4, 2))
    return homography.fit(CORNERS_MM, undistort(stored, optics, SIZE)), stored


@pytest.mark.parametrize("side", ["front", "rear"])
@pytest.mark.parametrize("view", VIEWS)
def test_exact_views_give_the_pose_that_made_them(view, side):
    matrix, _ = matrix_of(view, side)
    pose = pose_of(matrix, LENS, SIZE, side)
    turned, shift = truth_of(view, side)
    np.testing.assert_allclose(pose.rotation, turned, atol=1e-6)
    np.testing.assert_allclose(pose.translation_mm, shift, atol=1e-3)
    assert pose.residual_px < 1e-5
    assert np.linalg.det(pose.rotation) == pytest.approx(1.0 if side == "front" else -1.0)
    tilt = np.degrees(np.arccos(np.cos(np.radians(view.tilt_deg)) * np.cos(np.radians(view.turn_deg))))
    assert pose.tilt_deg == pytest.approx(tilt, abs=1e-3)
    assert pose.eye_mm[2] == pytest.approx(float(-turned[:, 2] @ shift), abs=1e-3)
    assert pose.eye_mm[2] > 0.0


@pytest.mark.parametrize("side", ["front", "rear"])
@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("method", [cv2.SOLVEPNP_IPPE, cv2.SOLVEPNP_ITERATIVE])
def test_opencv_finds_the_same_pose(view, side, method):
    matrix, stored = matrix_of(view, side)
    pose = pose_of(matrix, LENS, SIZE, side, CORNERS_MM)
    camera, bend = camera_matrix(812.0, LENS, SIZE), np.array(LENS.distortion)
    # OpenCV knows rotations only: the rear is seen with x to the left.
    mirror = np.array([1.0 if side == "front" else -1.0, 1.0])
    solid = np.column_stack([CORNERS_MM * mirror, np.zeros(4)])
    found, turn, shift = cv2.solvePnP(solid, stored, camera, bend, flags=method)
    assert found
    axes = cv2.Rodrigues(turn)[0] @ np.diag([*mirror, 1.0])
    np.testing.assert_allclose(pose.rotation, axes, atol=2e-5)
    np.testing.assert_allclose(pose.translation_mm, shift[:, 0], rtol=1e-4, atol=2e-2)
    heights = np.array([5.0, 0.0, 35.0, 80.0])
    raised = np.column_stack([CORNERS_MM * mirror, heights])
    theirs, _ = cv2.projectPoints(raised, turn, shift, camera, None)
    for place, height, wanted in zip(CORNERS_MM, heights, theirs[:, 0], strict=True):
        mine = ProjectiveTransform(camera @ pose.plane(height))([place])[0]
        np.testing.assert_allclose(mine, wanted, atol=2e-2)


@pytest.mark.parametrize("side", ["front", "rear"])
def test_noisy_corners_give_opencvs_least_squares_pose(side):
    """With corners half a pixel off no pose is exact; both minimise the same distances (the lens being straight)."""
    straight = Optics(focal_px=812.0)
    camera = camera_matrix(812.0, straight, SIZE)
    for seed in range(20):
        matrix, stored = matrix_of(VIEWS[1], side, straight, noise_px=0.5, seed=seed)
        pose = pose_of(matrix, straight, SIZE, side, CORNERS_MM)
        solid = np.column_stack([CORNERS_MM * [1.0 if side == "front" else -1.0, 1.0], np.zeros(4)])
        _, turn, shift = cv2.solvePnP(solid, stored, camera, None, flags=cv2.SOLVEPNP_IPPE)
        turn, shift = cv2.solvePnPRefineLM(solid, stored, camera, None, turn, shift)
        theirs, _ = cv2.projectPoints(solid, turn, shift, camera, None)
        rms = float(np.sqrt(np.mean(np.sum((theirs[:, 0] - stored) ** 2, axis=1))))
        assert pose.residual_px == pytest.approx(rms, abs=2e-3)
        assert 0.0 < pose.residual_px < 1.5


def test_another_focal_length_is_noticed():
    matrix, _ = matrix_of(VIEWS[3], "front")
    wrong = Optics(focal_px=1624.0, principal_px=LENS.principal_px)
    assert pose_of(matrix, LENS, SIZE, "front", CORNERS_MM).residual_px < 1e-5
    assert pose_of(matrix, wrong, SIZE, "front", CORNERS_MM).residual_px > 3.0


def test_a_distant_small_board_has_a_rival_as_good():
    """Where perspective is too weak to tell which way a board is tilted, the rival's residual says so."""
    near, far = VIEWS[1], Pose(6000.0, (122.0, 152.5), tilt_deg=25.0)
    assert pose_of(matrix_of(near, "front")[0], LENS, SIZE, "front", CORNERS_MM).rival_residual_px > 5.0
    assert pose_of(matrix_of(far, "front")[0], LENS, SIZE, "front", CORNERS_MM).rival_residual_px < 0.5


def test_no_pose_without_focal_length_and_of_the_wrong_side():
    matrix, _ = matrix_of(VIEWS[0], "front")
    with pytest.raises(PlacementRefused, match="focal length") as refused:
        pose_of(matrix, Optics(), SIZE, "front")
    assert refused.value.cause == "optics"
    with pytest.raises(PlacementRefused, match="mirrored") as refused:
        pose_of(matrix, LENS, SIZE, "rear")
    assert refused.value.cause == "mirrored"
