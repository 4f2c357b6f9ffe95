"""The preview shows every zone at its place, front as seen from the front and rear turned over, in any size."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.board import Board, Zone
from irspot.rendering.layout_picture import NEW, OFF, OLD, layout_picture
from irspot.rendering.placed_picture import OUTLINE
from irspot.rendering.theme import Color
from irspot.shapes import rectangle

BOARD = Board("Stint S1", rectangle(0.0, 0.0, 100.0, 60.0), (Zone("old", rectangle(70.0, 40.0, 20.0, 10.0)),))


def middle_of(picture: np.ndarray, color: Color) -> tuple[float, float]:
    rows, found = np.nonzero(np.all(picture == color, axis=2))
    return float(0.5 * (found.min() + found.max())), float(0.5 * (rows.min() + rows.max()))


@pytest.mark.parametrize("size", [(1920, 1080), (1080, 1920), (800, 800)])
def test_the_picture_has_the_size_asked_for_and_all_colours(size: tuple[int, int]) -> None:
    new = (Zone("Q1", rectangle(10.0, 10.0, 20.0, 10.0)), Zone("Q2", rectangle(-40.0, 10.0, 20.0, 10.0)))
    picture = layout_picture(BOARD, new, facts=("unit mm",), refused="lies outside").array
    assert layout_picture(BOARD, new, size=size).size == size
    for color in (OUTLINE, NEW, OFF, OLD):
        assert np.all(picture == color, axis=2).any()


def test_front_and_rear_are_drawn_as_one_sees_them() -> None:
    new = (
        Zone("Q1", rectangle(5.0, 5.0, 20.0, 10.0)),
        Zone("Q2", rectangle(5.0, 45.0, 20.0, 10.0), side="rear"),
    )
    array = layout_picture(Board("S1", BOARD.outline), new).array
    # Without the column of words, whose keys show the same colours; the sides stand above each other.
    drawn = array[:, :720]
    middle = round(middle_of(drawn, OUTLINE)[1])
    front, rear = middle_of(drawn[:middle], NEW), middle_of(drawn[middle:], NEW)
    board_front, board_rear = middle_of(drawn[:middle], OUTLINE), middle_of(drawn[middle:], OUTLINE)
    assert front[0] < board_front[0], "left on the front"
    assert front[1] > board_front[1], "below"
    assert rear[0] > board_rear[0], "right, seen from behind"
    assert rear[1] < board_rear[1], "above"


def test_names_are_nothing_but_text() -> None:
    zone = Zone("Q1", rectangle(10.0, 10.0, 20.0, 10.0))
    picture = layout_picture(BOARD, (zone,), facts=("a\x1b[31m b\n c",), subtitle="x\u202ey")
    assert picture.size == (1920, 1080)
