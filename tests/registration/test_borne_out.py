"""Outlines that only seem to be the board's: where not one of its marks shows, it is not there."""

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
from irspot.registration.borne_out import contradicted
from irspot.registration.placement import Placement
from irspot.shapes import rectangle
from irspot.synthetic.demo import demo_scene, demo_surface, photograph, true_corners_px
from irspot.synthetic.demo_runs import DEMO_CAMERA, demo_runs

MARKS = tuple(Mark(f"h{n}", x, y) for n, (x, y) in enumerate([(5, 5), (95, 5), (95, 65), (5, 65), (50, 35)]))
BOARD = Board("b", rectangle(0.0, 0.0, 100.0, 70.0), marks=MARKS)
MATRIX = np.array([[1.5, 0.0, 20.0], [0.0, -1.5, 130.0], [0.0, 0.0, 1.0]])
PLACED = Placement(MATRIX, "front", Optics(), (200, 150), "auto", 0.1, 0.07, 300, share_held=0.6)


def test_an_outline_in_part_with_no_mark_where_all_should_show_is_contradicted() -> None:
    assert contradicted(PLACED, BOARD)


@pytest.mark.parametrize(
    "placement",
    [
        replace(PLACED, marks=("h0",)),
        replace(PLACED, share_held=0.95),
        replace(PLACED, share_held=None),
        replace(PLACED, matrix=MATRIX + np.array([[0, 0, 110.0], [0, 0, 0], [0, 0, 0]])),
    ],
    ids=["one shows", "the outline shows", "not by the outline", "marks out of view"],
)
def test_otherwise_it_is_not(placement: Placement) -> None:
    assert not contradicted(placement, BOARD)


def test_few_marks_may_all_be_hidden() -> None:
    assert not contradicted(PLACED, replace(BOARD, marks=MARKS[:3]))


def of_the_demo(run_id: str, tilt: float, turn: float, seed: int) -> float:
    """Largest error of a corner of a board of the demo, seen askew; 0 where it is refused."""
    run = next(run for run in demo_runs() if run.id == run_id)
    scene = demo_scene(run)
    pose = replace(scene.pose, tilt_deg=tilt, turn_deg=turn, roll_deg=0.0, distance_mm=1.08 * scene.pose.distance_mm)
    scene = replace(scene, pose=pose, error_share=0.0, seed=seed)
    frame = Frame(photograph(scene, demo_surface(run)), DEMO_CAMERA, run.id)
    board = scene.board.board
    try:
        placement = place_frame(frame, board, AUTO, side=run.side, top="up")
    except PlacementRefused:
        return 0.0
    return float(np.abs(placement.to_px(board.outline.array_mm) - np.array(true_corners_px(scene))).max())


@pytest.mark.parametrize(
    ("run_id", "tilt", "turn", "seed"),
    [("p5-stock-front", 20.0, -6.0, 7708), ("k7-overclock-front", 20.0, 0.0, 2)],
)
def test_sockets_and_heatsinks_of_a_board_seen_askew_are_not_taken_for_its_outline(run_id, tilt, turn, seed) -> None:
    assert of_the_demo(run_id, tilt, turn, seed) < 3.0


@pytest.mark.full
def test_boards_of_the_demo_seen_askew_are_never_misplaced() -> None:
    views = [(tilt, turn, 8800 + n) for n, (tilt, turn) in enumerate((t, u) for t in (14, 18, 22) for u in (-8, 0, 8))]
    errors = [of_the_demo(run.id, *map(float, view[:2]), view[2]) for run in demo_runs() for view in views]
    print(f"{np.count_nonzero(errors)} of {len(errors)} placed, worst corner {max(errors):.2f} px")
    assert max(errors) < 3.0
