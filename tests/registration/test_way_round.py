"""Symmetries of outlines, and the image side that tops face."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.registration.way_round import TOP_DEGREES, faces, facing, one_way_of_each, symmetries, top_direction
from irspot.synthetic.view import Pose
from tests.registration.outline_frames import BOARD, NOTCHED, view

SHIFTED = np.array([31.0, -17.0])
HALF_TURN_ONLY = np.array([[0, 0], [90, 0], [90, 50], [150, 50], [150, 120], [60, 120], [60, 70], [0, 70]], float)
PINWHEEL = np.array(
    [[-20, -60], [20, -60], [20, -20], [60, -20], [60, 20], [20, 20], [20, 60], [-20, 60], [-20, 20], [-60, 20],
     [-60, -20], [-20, -20]], float,
)  # fmt: skip


@pytest.mark.parametrize(
    ("outline", "wanted"),
    [
        ([[0, 0], [305, 0], [305, 244], [0, 244]], (0, 2)),  # ATX, 305 x 244 mm
        ([[0, 0], [170, 0], [170, 170], [0, 170]], (0, 1, 2, 3)),  # Mini-ITX, 170 x 170 mm
        ([[0, 0], [170, 0], [170, 168], [0, 168]], (0, 1, 2, 3)),  # square to what a frame shows
        ([[0, 0], [170, 0], [170, 150], [0, 150]], (0, 2)),
        (NOTCHED.array_mm, (0,)),
        ([[0, 0], [100, 0], [50, 80]], (0,)),
        (HALF_TURN_ONLY, (0, 2)),
        (PINWHEEL, (0, 1, 2, 3)),
    ],
)
def test_symmetries_are_quarters_of_a_turn(outline, wanted) -> None:
    vertices = np.array(outline, np.float64)
    assert symmetries(vertices) == wanted
    assert symmetries(vertices + SHIFTED) == wanted
    assert symmetries(np.roll(vertices[::-1], 1, axis=0)) == wanted


def matrix(roll_deg: float, side="front"):
    return view(Pose(400.0, (106.5, 65.5), 14.0, -9.0, roll_deg), side=side).matrix()


@pytest.mark.parametrize("side", ["front", "rear"])
@pytest.mark.parametrize(("roll", "top"), [(0.0, "up"), (90.0, "right"), (180.0, "down"), (-90.0, "left")])
def test_the_top_faces_where_the_camera_was_rolled(roll: float, top, side) -> None:
    matrices = np.stack([matrix(roll + more, side) for more in (-20.0, 0.0, 20.0, 90.0, 180.0, 270.0)])
    np.testing.assert_array_equal(facing(matrices, BOARD.array_mm, top), [True, True, True, False, False, False])
    assert facing(matrices, BOARD.array_mm, None).all()


@pytest.mark.parametrize("roll", [0.0, 37.0, 122.0, -151.0])
def test_top_directions_are_unit_vectors_along_the_boards_height(roll: float) -> None:
    level = view(Pose(400.0, (50.0, 20.0), roll_deg=roll)).matrix()
    turn = np.deg2rad(roll)
    np.testing.assert_allclose(top_direction(level[None], BOARD.array_mm), [[np.sin(turn), -np.cos(turn)]], atol=1e-12)


def test_between_two_sides_both_may_be_named() -> None:
    level = view(Pose(400.0, (106.5, 65.5), roll_deg=45.0)).matrix()[None]
    assert TOP_DEGREES > 45.0
    assert [bool(facing(level, BOARD.array_mm, top)[0]) for top in ("up", "right", "down", "left")] == [
        True, True, False, False,
    ]  # fmt: skip


@pytest.mark.parametrize("outline", [BOARD.array_mm, np.array([[0, 0], [170, 0], [170, 170], [0, 170]], float)])
def test_of_ways_that_look_the_same_one_or_two_are_kept(outline) -> None:
    turns = symmetries(outline)
    for first in np.arange(0.0, 360.0, 7.0):
        rolls = [first + 90.0 * quarter for quarter in turns]
        kept = one_way_of_each(np.stack([matrix(roll) for roll in rolls]), outline, None)
        assert 1 <= kept.sum() <= 2
    every = np.stack([matrix(roll) for roll in (0.0, 90.0, 180.0, 270.0)])
    assert one_way_of_each(every, NOTCHED.array_mm, None).all()


def test_ways_that_look_different_are_kept_beside_the_one_that_was_said() -> None:
    every = np.stack([matrix(roll) for roll in (0.0, 90.0, 180.0, 270.0)])
    square = np.array([[0, 0], [170, 0], [170, 170], [0, 170]], float)
    assert one_way_of_each(every, NOTCHED.array_mm, "up").all()
    assert one_way_of_each(every, BOARD.array_mm, "up").tolist() == [True, True, False, True]
    assert one_way_of_each(every, square, "right").tolist() == [False, True, False, False]
    assert [faces(np.cos(np.deg2rad(turn))) for turn in (0.0, 49.0, 51.0, 90.0)] == [True, True, False, False]
