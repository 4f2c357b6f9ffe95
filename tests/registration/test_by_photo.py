"""A frame placed by a photo of the same view: how far off, how uncertain, and refused where the two do not belong."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.frame import Frame, degc_frame
from irspot.photo import Photo
from irspot.placing import CornersPx
from irspot.registration import place
from irspot.registration.by_photo import place_frame_by, turn_of
from irspot.registration.spread import steps_px
from irspot.synthetic.demo import demo_surface, true_corners_px
from irspot.synthetic.demo_runs import DEMO_CAMERA, demo_runs, demo_scene
from irspot.synthetic.photo_look import BENCHES, MASKS, Look
from irspot.synthetic.photo_scenes import PhotoScene, take_photo
from irspot.synthetic.sensor import photograph
from irspot.synthetic.view import Pose

RUNS = {run.id: run for run in demo_runs()}


def frame_of(run_id: str) -> Frame:
    run = RUNS[run_id]
    return Frame(photograph(demo_scene(run), demo_surface(run)), DEMO_CAMERA, run_id)


def photo_beside(run_id: str, seed: int, angle_deg: float = 4.0, roll_deg: float = 0.0) -> PhotoScene:
    """A photo from beside the thermal camera."""
    scene, random = demo_scene(RUNS[run_id]), np.random.default_rng(seed)
    tilt, turn, roll = random.uniform(-angle_deg, angle_deg, 3)
    pose = Pose(
        scene.pose.distance_mm * random.uniform(1.0, 1.2),
        (scene.pose.aim_mm[0] + 5.0, scene.pose.aim_mm[1] - 4.0),
        scene.pose.tilt_deg + tilt,
        scene.pose.turn_deg + turn,
        scene.pose.roll_deg + roll + roll_deg,
    )
    look = Look(
        mask=MASKS[random.choice(list(MASKS))], bench=BENCHES["mat"], light=tuple(random.uniform(-0.8, 0.8, 2).tolist())
    )
    return PhotoScene(
        scene.board, scene.side, pose, Optics(focal_px=1100.0), (900, 700), look, scene.surroundings, 1, seed
    )


def placed_photo(scene: PhotoScene):
    """The photo, and the board placed in it by its true corners."""
    corners = CornersPx(tuple((float(x), float(y)) for x, y in scene.corners_px))
    return Photo(take_photo(scene)), place(scene.board.board, scene.size_px, Optics(), corners, side=scene.side)


def off_px(placement, run_id: str) -> float:
    scene = demo_scene(RUNS[run_id])
    corners = placement.to_px(scene.board.board.outline.array_mm)
    return float(np.hypot(*(corners - np.array(true_corners_px(scene))).T).max())


@pytest.mark.parametrize(
    ("run_id", "seed"), [("k7-stock-front", 40), ("t3-overclock-front", 47), ("h2-stock-rear", 42)]
)
def test_parts_alone_place_a_frame_within_three_px(run_id: str, seed: int):
    """Nothing is said about the frame: neither corners nor which way the top faces."""
    photo, placed = placed_photo(photo_beside(run_id, seed))
    board = demo_scene(RUNS[run_id]).board.board
    found = place_frame_by(frame_of(run_id), board, photo, placed)
    assert found.method == "photo"
    assert found.side == RUNS[run_id].side
    assert off_px(found, run_id) < 3.0
    assert found.residual_px < 2.0
    steps = steps_px(found, board.outline.array_mm)
    u_corner = np.sqrt((steps**2).sum(axis=(0, 2)))
    assert (u_corner > 0.3).all()
    assert (u_corner < 2.5).all()


def test_a_board_whose_edge_does_not_show_is_placed_all_the_same():
    """Bench and rim of the board painted over at one temperature: only what lies well inside is left."""
    import cv2

    run_id = "k7-overclock-front"
    frame, scene = frame_of(run_id), demo_scene(RUNS[run_id])
    corners = np.array(true_corners_px(scene))
    inner = corners.mean(axis=0) + 0.97 * (corners - corners.mean(axis=0))
    mask = np.zeros(frame.shape, np.uint8)
    cv2.fillPoly(mask, [np.rint(inner).astype(np.int32)], 1)
    stored = np.where(cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 2.0) > 0.5, frame.stored, 0).astype(float)
    rim = float(np.median(stored[stored > 0]))
    hidden = replace(frame, stored=np.where(stored > 0, stored, rim).astype(np.uint16))
    photo, placed = placed_photo(photo_beside(run_id, 43, 3.0))
    found = place_frame_by(hidden, scene.board.board, photo, placed)
    assert off_px(found, run_id) < 3.0


def test_a_photo_held_sideways_is_turned_by_what_is_said_of_the_frame():
    run_id = "p5-stock-front"
    photo, placed = placed_photo(photo_beside(run_id, 44, 3.0, roll_deg=90.0))
    board = demo_scene(RUNS[run_id]).board.board
    assert RUNS[run_id].top == "right"
    assert turn_of(placed, board, "right") == 270.0
    assert turn_of(placed, board, "down") == 0.0
    assert turn_of(placed, board, None) == 0.0
    found = place_frame_by(frame_of(run_id), board, photo, placed, top="right")
    assert off_px(found, run_id) < 3.0


def test_photo_and_frame_of_different_boards_are_refused():
    photo, placed = placed_photo(photo_beside("h2-stock-front", 45))
    with pytest.raises(PlacementRefused) as refusal:
        place_frame_by(frame_of("k7-stock-front"), demo_scene(RUNS["h2-stock-front"]).board.board, photo, placed)
    assert refusal.value.cause in ("content", "residual")
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize("what", ["even", "noise", "empty", "ramp"])
def test_frames_without_content_are_refused(what: str):
    photo, placed = placed_photo(photo_beside("h2-stock-front", 46))
    random = np.random.default_rng(1)
    degc = {
        "even": np.full((240, 320), 22.0),
        "noise": 22.0 + 0.1 * random.standard_normal((240, 320)),
        "empty": np.full((240, 320), np.nan),
        "ramp": np.tile(np.linspace(20.0, 60.0, 320), (240, 1)),
    }[what]
    with pytest.raises(PlacementRefused, match=r"content|nothing"):
        place_frame_by(degc_frame(degc), demo_scene(RUNS["h2-stock-front"]).board.board, photo, placed)
