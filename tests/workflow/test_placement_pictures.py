"""Pictures of placing from frames: what is said of a placement, and that a refusal's picture follows its frame."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

import irspot
from irspot.camera import Camera
from irspot.errors import PlacementRefused
from irspot.frame import Frame, degc_frame
from irspot.placing import AUTO, CornersPx
from irspot.registration.placement import Placement
from irspot.synthetic.placement_scenes import hopeless_scene
from irspot.workflow.placement_pictures import placed_png, refused_png, what_holds
from tests.rendering.scenes import board_of, placed, warm_frame


def size_of(png: bytes) -> tuple[int, int]:
    with Image.open(io.BytesIO(png)) as picture:
        return picture.size


@pytest.mark.parametrize(
    ("change", "wanted"),
    [
        ({"method": "corners"}, "corners, given by hand"),
        ({"method": "points"}, "marks, given by hand"),
        ({"method": "auto", "share_held": 0.8}, "found by its outline"),
        ({"method": "auto", "share_held": 0.8, "marks": ("a", "b")}, "outline and 2 marks"),
        ({"method": "auto", "marks": ("a", "b", "c")}, "3 marks alone"),
        ({"method": "auto"}, "found in the frame"),
        ({"method": "photo"}, "photo of the same view"),
    ],
)
def test_a_picture_says_what_holds_the_placement(change, wanted: str) -> None:
    placement: Placement = replace(placed(), **change)
    assert wanted in what_holds(placement)
    assert size_of(placed_png(degc_frame(warm_frame()), board_of(2), placement, top="up", size=(640, 360))) == (
        640,
        360,
    )


def refusal_of(frame: Frame, board, **how) -> PlacementRefused:
    with pytest.raises(PlacementRefused) as refused:
        irspot.place(frame, board, **how)
    return refused.value


def test_a_refusals_picture_is_the_same_each_time_and_differs_with_the_frame() -> None:
    pictures = []
    for seed in (2000, 2000, 2001):
        scene = hopeless_scene(seed, kind="two-boards", size_px=(320, 240))
        frame = degc_frame(scene.degc, camera=Camera(name="trial", optics=scene.optics))
        refusal = refusal_of(frame, scene.board, side=scene.side, top=scene.top)
        pictures.append(refused_png(frame, scene.board, AUTO, refusal, side=scene.side, top=scene.top, size=(640, 360)))
    assert pictures[0] == pictures[1]
    assert pictures[0] != pictures[2]


def test_frames_without_numbers_and_points_far_out_are_drawn() -> None:
    empty = degc_frame(np.full((120, 160), np.nan, np.float32))
    board = board_of(1)
    refusal = refusal_of(empty, board, top="up")
    assert size_of(refused_png(empty, board, AUTO, refusal, side="front", top="up", size=(640, 360))) == (640, 360)
    far = ((-900.0, 4.0), (5000.0, 4.0), (30.0, 1e6), (20.0, 20.0))
    refusal = refusal_of(empty, board, corners_px=far)
    assert refusal.cause == "outside"
    drawn = refused_png(empty, board, CornersPx(far), refusal, side="front", top=None, size=(640, 360))
    assert size_of(drawn) == (640, 360)
