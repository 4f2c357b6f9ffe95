"""A second board of the same outline is found on the first one's plane, wholly or partly in view, turned or not."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.board import Board
from irspot.errors import PlacementRefused
from irspot.registration.candidates import carried
from irspot.registration.edge_map import edge_map
from irspot.registration.find_board import find_board
from irspot.registration.twins import twins_of
from irspot.shapes import Polygon
from irspot.synthetic.placement_render import outline_coverage, sensed
from irspot.synthetic.view import Pose
from tests.registration.outline_frames import BENT, BLUR_PX, BOARD, NOTCHED, SIZE, frame_of, noisy, view


def pair(pose: Pose, outline: Polygon, other: Polygon, by_mm):
    """Draw two boards, the second of the outline `other` in the first one's millimetres, moved by `by_mm`."""
    seen = view(pose, BENT)
    heat = np.maximum(outline_coverage(seen, outline), outline_coverage(seen.shifted(by_mm), other))
    degc = sensed((24.0 + 17.0 * heat).astype(np.float32), BLUR_PX, 0.0, np.random.default_rng(0))
    return seen, noisy(degc, 0.1, 1)


def upside_down(outline: Polygon) -> Polygon:
    x0, y0, x1, y1 = outline.box_mm
    return Polygon(tuple((x0 + x1 - x, y0 + y1 - y) for x, y in outline.vertices_mm))


@pytest.mark.parametrize("aim_mm", [(104.0, 68.0), (150.0, 110.0), (60.0, 150.0)])
@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("outline", [BOARD, NOTCHED])
def test_a_second_board_is_among_the_twins(outline: Polygon, turned: bool, aim_mm) -> None:
    other = upside_down(outline) if turned else outline
    seen, degc = pair(Pose(540.0, aim_mm, 12.0, -8.0, 4.0), outline, other, (0.0, 160.0))
    found = twins_of(edge_map(degc, 0.1, BLUR_PX), seen.matrix(), outline.array_mm, BENT, SIZE)
    truth = carried(seen.shifted((0.0, 160.0)).matrix()[None], other.array_mm)[0]
    off = []
    for corners in carried(found, outline.array_mm):
        apart = np.linalg.norm(corners[:, None] - truth[None], axis=2)
        off.append(max(apart.min(axis=0).max(), apart.min(axis=1).max()))
    assert len(found) <= 4
    # Within the cells of the grid, 3 px, in x and y.
    assert min(off) < 5.0


def test_an_even_frame_has_no_twins() -> None:
    edges = edge_map(np.full(SIZE[::-1], 23.0, np.float32), 0.1, BLUR_PX)
    assert twins_of(edges, view().matrix(), BOARD.array_mm, BENT, SIZE).shape == (0, 3, 3)


def test_one_board_alone_is_placed_though_its_own_edges_make_parts_of_twins() -> None:
    seen = view(Pose(480.0, (104.0, 68.0), 12.0, -8.0, 4.0), BENT)
    placement = find_board(noisy(frame_of(seen), 0.1, 2), Board("plain", BOARD), BENT, top="up")
    assert np.abs(placement.to_px(BOARD.array_mm) - seen.to_px(BOARD.array_mm)).max() < 0.3


@pytest.mark.parametrize(("aim_y_mm", "in_view"), [(68.0, 0.51), (100.0, 0.6), (150.0, 1.0), (200.0, 1.0)])
def test_of_two_boards_neither_is_placed_though_one_is_partly_out_of_view(aim_y_mm: float, in_view: float) -> None:
    seen, degc = pair(Pose(520.0, (104.0, aim_y_mm), 12.0, -8.0, 4.0), BOARD, BOARD, (0.0, 160.0))
    border = seen.shifted((0.0, 160.0)).to_px(BOARD.border_points(4.0))
    assert np.mean(np.all((border >= 0) & (border <= np.array(SIZE) - 1), axis=1)) == pytest.approx(in_view, abs=0.05)
    with pytest.raises(PlacementRefused, match="two boards") as refusal:
        find_board(degc, Board("plain", BOARD), BENT, top="up")
    assert refusal.value.cause == "two"


def test_something_else_beside_a_board_is_no_twin() -> None:
    other = Polygon(((0.0, 0.0), (90.0, 0.0), (90.0, 60.0), (0.0, 60.0)))
    seen, degc = pair(Pose(480.0, (104.0, 100.0), 12.0, -8.0, 4.0), BOARD, other, (0.0, 160.0))
    placement = find_board(degc, Board("plain", BOARD), BENT, top="up")
    assert np.abs(placement.to_px(BOARD.array_mm) - seen.to_px(BOARD.array_mm)).max() < 0.3
