"""A board placed in a photo whose lens is known: places all over the board, against the pose that took it."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from irspot.api import place_photo
from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.photo import Photo
from irspot.placing import CornersPx, PointsPx
from irspot.registration.in_photo import place_in_photo
from irspot.synthetic.demo_boards import demo_boards
from irspot.synthetic.photo_look import BENCHES, Look
from irspot.synthetic.photo_scenes import PhotoScene, take_photo
from irspot.synthetic.view import Pose, project

SCENE = PhotoScene(
    board=demo_boards()["h2"],
    side="rear",
    pose=Pose(560.0, (126.0, 119.0), -7.0, 6.0, 3.0),
    optics=Optics(focal_px=900.0, distortion=(-0.12, 0.02, 0.001, -0.001, 0.0)),
    size_px=(840, 640),
    look=Look(bench=BENCHES["wood"]),
    supersample=1,
    seed=8,
)
BOARD = SCENE.board.board
PLACES_MM = np.random.default_rng(2).uniform((5.0, 5.0), (239.0, 239.0), (200, 2))


def true_px(places_mm: np.ndarray, scale: float = 1.0) -> np.ndarray:
    on_face = np.column_stack([places_mm, np.zeros(len(places_mm))])
    return (project(on_face, SCENE.pose, SCENE.side, SCENE.optics, SCENE.size_px) + 0.5) * scale - 0.5


def test_corners_and_a_known_lens_place_every_point():
    photo = Photo(np.zeros((640, 840, 3), np.uint8))
    corners = tuple((float(x), float(y)) for x, y in SCENE.corners_px)
    placement = place_in_photo(photo, BOARD, CornersPx(corners), side="rear", top="up", optics=SCENE.optics)
    np.testing.assert_allclose(placement.to_px(PLACES_MM), true_px(PLACES_MM), atol=0.02)
    plain = place_in_photo(photo, BOARD, CornersPx(corners), side="rear", top="up")
    assert np.abs(plain.to_px(PLACES_MM) - true_px(PLACES_MM)).max() > 1.0, "the lens matters"


def test_marks_place_a_photo():
    marks = np.array([(mark.x_mm, mark.y_mm) for mark in BOARD.marks])
    points = tuple((mark.id, float(x), float(y)) for mark, (x, y) in zip(BOARD.marks, true_px(marks), strict=True))
    photo = Photo(np.zeros((640, 840, 3), np.uint8))
    placement = place_in_photo(photo, BOARD, PointsPx(points), side="rear", optics=SCENE.optics)
    np.testing.assert_allclose(placement.to_px(PLACES_MM), true_px(PLACES_MM), atol=0.05)
    assert placement.method == "points"


@pytest.mark.parametrize("scale", [1, 3])
def test_a_known_lens_is_taken_into_account_when_a_board_is_found(scale: int):
    """At three times the size the photo is reduced for the search, its lens with it."""
    rgb = take_photo(SCENE)
    large = cv2.resize(rgb, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC) if scale > 1 else rgb
    middle = ((840 - 1) / 2.0 + 0.5) * scale - 0.5, ((640 - 1) / 2.0 + 0.5) * scale - 0.5
    lens = replace(SCENE.optics, focal_px=900.0 * scale, principal_px=middle)
    placement = place_photo(Photo(large), BOARD, side="rear", top="up", optics=lens)
    assert placement.size_px == (840 * scale, 640 * scale)
    off = placement.to_px(PLACES_MM) - true_px(PLACES_MM, scale)
    assert np.hypot(*off.T).max() < 0.8 * scale


def test_points_beyond_the_photo_are_refused_as_in_frames():
    photo = Photo(np.zeros((640, 840, 3), np.uint8), "k7.jpg")
    corners = ((10.0, 10.0), (9000.0, 20.0), (800.0, 600.0), (20.0, 600.0))
    with pytest.raises(PlacementRefused, match=r"k7\.jpg: corners_px: point 2 lies far outside"):
        place_in_photo(photo, BOARD, CornersPx(corners), side="rear")
