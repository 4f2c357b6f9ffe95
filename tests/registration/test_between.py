"""From a photo to a frame by way of the board: against OpenCV and scikit-image, and against poses in space."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from skimage.transform import ProjectiveTransform

from irspot.camera import Optics
from irspot.errors import UsageError
from irspot.placing import CornersPx
from irspot.registration import place
from irspot.registration.between import frame_to_photo, photo_to_frame
from irspot.synthetic.demo import true_corners_px
from irspot.synthetic.demo_photos import demo_photos
from irspot.synthetic.demo_runs import DEMO_CAMERA, demo_scene
from irspot.synthetic.view import project

(PHOTO,) = demo_photos()
SCENE = demo_scene(PHOTO.run)
BOARD = SCENE.board.board


def placements(optics: Optics = DEMO_CAMERA.optics):
    """The demo's photo and its frame, placed by their true corners."""
    frame = place(BOARD, (640, 512), optics, CornersPx(true_corners_px(SCENE)), top="up")
    return place(BOARD, PHOTO.scene.size_px, Optics(), CornersPx(PHOTO.corners_px), top="up"), frame


def test_composition_is_that_of_opencv_and_scikit_image():
    photo, frame = placements(Optics())
    matrix = frame.matrix @ np.linalg.inv(photo.matrix)
    xy = np.random.default_rng(3).uniform((180.0, 60.0), (780.0, 670.0), (200, 2))
    found = photo_to_frame(xy, photo, frame)
    by_opencv, _ = cv2.findHomography(np.array(PHOTO.corners_px), np.array(true_corners_px(SCENE)))
    np.testing.assert_allclose(found, cv2.perspectiveTransform(xy[None], by_opencv)[0], atol=1e-6)
    np.testing.assert_allclose(found, ProjectiveTransform(matrix)(xy), atol=1e-9)
    np.testing.assert_allclose(frame_to_photo(found, frame, photo), xy, atol=1e-6)


def test_places_on_the_board_land_where_the_thermal_camera_truly_sees_them():
    photo, frame = placements()
    at_mm = np.random.default_rng(4).uniform((0.0, 0.0), (244.0, 244.0), (300, 2))
    on_face = np.column_stack([at_mm, np.zeros(300)])
    in_photo = project(on_face, PHOTO.scene.pose, "front", PHOTO.scene.optics, PHOTO.scene.size_px)
    in_frame = project(on_face, SCENE.pose, "front", DEMO_CAMERA.optics, (640, 512))
    np.testing.assert_allclose(photo_to_frame(in_photo, photo, frame), in_frame, atol=1e-3)
    np.testing.assert_allclose(frame_to_photo(in_frame, frame, photo), in_photo, atol=3e-3)


def test_a_zone_drawn_on_the_photo_lands_on_its_parts_in_the_frame():
    """Corners of the chipset's zone, as somebody would click them in the photo at the height of the board."""
    photo, frame = placements()
    zone = next(zone for zone in BOARD.zones if zone.id == "lan")
    drawn = photo.to_px(zone.shape.array_mm)
    np.testing.assert_allclose(photo_to_frame(drawn, photo, frame), frame.to_px(zone.shape.array_mm), atol=1e-6)


def test_front_and_rear_do_not_meet():
    photo, frame = placements()
    with pytest.raises(UsageError, match="different sides"):
        photo_to_frame(np.zeros((1, 2)), photo, replace(frame, side="rear"))


def test_places_behind_a_camera_are_no_places():
    """A photo whose horizon (w = 1 - x / 100 mm) runs across the board: beyond it there is nothing to be seen."""
    photo, frame = placements()
    steep = photo.matrix.copy()
    steep[2] = [-0.01, 0.0, 1.0]
    in_frame = frame.to_px(np.array([[50.0, 120.0], [150.0, 120.0]]))
    found = frame_to_photo(in_frame, frame, replace(photo, matrix=steep))
    assert np.isfinite(found[0]).all()
    assert np.isnan(found[1]).all()
