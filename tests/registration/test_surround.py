"""What lies around an outline: bench, or the rest of a board whose part looks like it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.board import Board, Mark
from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.frame import Frame
from irspot.placing import AUTO
from irspot.registration import place_frame
from irspot.registration.placement import Placement
from irspot.registration.surround import may_be_a_part, stray
from irspot.shapes import rectangle
from irspot.synthetic.demo import demo_scene, demo_surface, photograph, true_corners_px
from irspot.synthetic.demo_runs import DEMO_CAMERA, DemoRun, demo_runs

BOARD = Board("Part", rectangle(0.0, 0.0, 120.0, 90.0))


def scene(around: str) -> np.ndarray:
    """A part of 180 x 140 px, 8 K above an even bench, or 2 K above a board that is warm here and cool there."""
    degc = np.full((240, 320), 22.0, np.float32)
    if around == "board":
        y, x = np.mgrid[0:240, 0:320]
        degc += (10.0 + 10.0 * np.sin(x / 45.0) * np.cos(y / 60.0)).astype(np.float32)
    degc[25:165, 100:280] += 8.0 if around == "bench" else 2.0
    return degc


CORNERS = np.array([(100.0, 165.0), (280.0, 165.0), (280.0, 25.0), (100.0, 25.0)])


def placed(share: float, marks: tuple[str, ...] = ()) -> Placement:
    matrix = np.array([[1.0, 0.0, 100.0], [0.0, -1.0, 165.0], [0.0, 0.0, 1.0]])
    return Placement(matrix, "front", Optics(), (320, 240), "auto", 0.1, 0.1, 100, share_held=share, marks=marks)


def test_a_bench_is_even_and_a_board_is_not() -> None:
    assert stray(scene("bench"), CORNERS) < 0.05
    assert stray(scene("board"), CORNERS) > 0.7
    assert stray(scene("bench"), CORNERS[::-1]) < 0.05, "whichever way the corners run"
    assert stray(scene("bench") - 40.0, CORNERS) < 0.05
    assert stray(np.full((240, 320), 22.0, np.float32), CORNERS) == float("inf")
    assert stray(scene("board"), CORNERS * 20.0) == 0.0, "next to nothing in view tells nothing"


def test_only_what_shows_in_part_is_doubted() -> None:
    assert may_be_a_part(scene("board"), placed(0.6), BOARD)
    assert may_be_a_part(scene("bench"), placed(0.6), BOARD), "so small"
    assert may_be_a_part(scene("board"), placed(0.6), Board("Middling", rectangle(0.0, 0.0, 180.0, 140.0)))
    middling = Board("Middling", rectangle(0.0, 0.0, 180.0, 140.0))
    assert not may_be_a_part(scene("bench"), placed(0.6), middling)
    assert not may_be_a_part(scene("board"), placed(0.9), BOARD)
    assert not may_be_a_part(scene("board"), placed(0.6, ("hole-a",)), BOARD)
    assert not may_be_a_part(scene("board"), replace(placed(0.6), share_held=None), BOARD)
    large = Board("Large", rectangle(0.0, 0.0, 300.0, 220.0))
    assert not may_be_a_part(scene("board"), placed(0.6), large)


def askew(run: DemoRun, tilt_deg: float, turn_deg: float) -> tuple[Frame, np.ndarray]:
    made = demo_scene(run)
    pose = replace(
        made.pose, tilt_deg=tilt_deg, turn_deg=turn_deg, roll_deg=0.0, distance_mm=1.08 * made.pose.distance_mm
    )
    made = replace(made, pose=pose, error_share=0.0, seed=11)
    return Frame(photograph(made, demo_surface(run)), DEMO_CAMERA, run.id), np.array(true_corners_px(made))


@pytest.mark.parametrize("tilt_deg", [18.0, 21.0, 23.0])
def test_sockets_and_heatsinks_of_a_board_are_not_taken_for_it(tilt_deg: float) -> None:
    """Views of the demo's large boards without marks in which parts of them have the outline's form."""
    for run in (run for run in demo_runs() if run.side == "front" and run.board == "p5"):
        board = replace(demo_scene(run).board.board, marks=())
        for turn_deg in (-6.0, 1.0):
            frame, true = askew(run, tilt_deg, turn_deg)
            found = placed_or_none(frame, board)
            error_px = 0.0 if found is None else np.abs(found.to_px(board.outline.array_mm) - true).max()
            assert error_px < 3.0


def placed_or_none(frame: Frame, board: Board) -> Placement | None:
    try:
        return place_frame(frame, board, AUTO, side="front", top="up")
    except PlacementRefused:
        return None


def test_marks_in_the_board_file_are_asked_first() -> None:
    assert not may_be_a_part(scene("board"), placed(0.6, ("a",)), replace(BOARD, marks=(Mark("a", 5.0, 5.0),)))
