"""Synthetic photos: shapes lie where the pose says, and everything is decided by the scene."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from irspot.camera import Optics
from irspot.synthetic.demo_boards import demo_boards
from irspot.synthetic.photo_look import BENCHES, GOLD, MASKS, Look
from irspot.synthetic.photo_scenes import PhotoScene, take_photo
from irspot.synthetic.view import Pose, project

SMALL = PhotoScene(
    board=demo_boards()["h2"],
    side="front",
    pose=Pose(430.0, (124.0, 121.0), 9.0, -6.0, 4.0),
    optics=Optics(focal_px=500.0, distortion=(-0.04, 0.0, 0.0, 0.0, 0.0)),
    size_px=(420, 330),
    look=Look(bench=BENCHES["paper"], noise=0.005),
    seed=11,
)


def seen_at(scene: PhotoScene, x_mm: float, y_mm: float, height_mm: float = 0.0) -> tuple[int, int]:
    """Row and column at which a place shows."""
    at = np.array([[x_mm, y_mm, height_mm]])
    ((x, y),) = project(at, scene.pose, scene.side, scene.optics, scene.size_px)
    return round(y), round(x)


def test_the_board_ends_where_its_corners_say():
    """Dark mask on bright paper: along lines from the middle the step lies on the outline, to a pixel."""
    grey = cv2.cvtColor(take_photo(SMALL), cv2.COLOR_RGB2GRAY).astype(float)
    for edge_mm, out in (((120.0, 0.0), (0.0, -1.0)), ((244.0, 26.0), (1.0, 0.0)), ((195.0, 244.0), (0.0, 1.0))):
        inside, outside = (grey[seen_at(SMALL, edge_mm[0] + k * out[0], edge_mm[1] + k * out[1])] for k in (-2.5, 22.0))
        assert outside - inside > 60.0, edge_mm


def test_parts_stand_at_their_heights():
    photo = take_photo(replace(SMALL, look=Look(noise=0.0)))
    block = next(part for part in SMALL.board.parts if part.id == "water-block")
    x0, _, _, y1 = block.shape.box_mm
    on_top = photo[seen_at(SMALL, x0 + 4.0, y1 - 4.0, block.height_mm)].astype(float) / 255.0
    assert np.abs(on_top - on_top.mean()).max() < 0.06, "dark grey"
    assert on_top.mean() < 0.35


def test_holes_are_ringed_with_gold_and_a_rear_view_is_mirrored():
    for side, (x, y) in (("front", (165.10, 13.97)), ("rear", (165.10, 13.97))):
        scene = replace(SMALL, side=side, look=Look(noise=0.0, glare=0.0, gradient=(0.0, 0.0)))
        photo = take_photo(scene)
        red, green, blue = photo[seen_at(scene, x, y)].astype(float) / 255.0
        assert (red, green, blue) == pytest.approx(GOLD, abs=0.06)
    front, rear = (seen_at(replace(SMALL, side=side), 30.0, 100.0)[1] for side in ("front", "rear"))
    assert front < 210 < rear


def test_a_photo_is_decided_by_its_scene():
    first = take_photo(SMALL)
    np.testing.assert_array_equal(first, take_photo(SMALL))
    assert first.shape == (330, 420, 3)
    assert (first != take_photo(replace(SMALL, seed=12))).any()


def test_light_falls_from_one_side():
    """A place beside a tall part is darker where the light is behind the part."""
    block = next(part for part in SMALL.board.parts if part.id == "water-block")
    _, _, x1, y1 = block.shape.box_mm
    levels = []
    for light in ((0.5, 0.0), (-0.5, 0.0)):
        look = Look(light=light, shadow=0.4, noise=0.0, mask=MASKS["white"])
        row, column = seen_at(SMALL, x1 + 4.0, y1 - 20.0)
        levels.append(take_photo(replace(SMALL, look=look))[row - 2 : row + 3, column - 2 : column + 3].mean())
    assert levels[0] < 0.6 * levels[1]
