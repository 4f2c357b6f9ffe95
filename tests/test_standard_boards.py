"""Standard sizes against the published specifications, as tests/reference/board_sizes.csv quotes them."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from irspot.standard_boards import STANDARD_BOARDS, StandardBoard, standard_board

REFERENCE = Path(__file__).parent / "reference"
INCH_MM = 25.4


def rows(name: str) -> list[dict[str, str]]:
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


SIZES = {row["form_factor"]: row for row in rows("board_sizes.csv")}


def test_every_published_size_is_known() -> None:
    assert {board.name for board in STANDARD_BOARDS} == set(SIZES)


@pytest.mark.parametrize("board", STANDARD_BOARDS, ids=lambda board: board.name)
def test_sizes_are_those_of_the_specifications(board: StandardBoard) -> None:
    row = SIZES[board.name]
    assert (board.long_mm, board.short_mm) == (float(row["width_mm_nominal"]), float(row["depth_mm_nominal"]))
    stated = [float(row[key].split()[0]) * INCH_MM for key in ("width_in", "depth_in")]
    # The Mini-ITX addendum states 170 mm, and 6.7 in (170.18 mm) as approximate.
    np.testing.assert_allclose([board.long_mm, board.short_mm], stated, atol=0.25)


def test_published_holes_lie_on_their_boards() -> None:
    """Holes are given from the rear corner of ATX, whose edge the smaller boards share."""
    for hole in rows("board_holes.csv"):
        board = standard_board(hole["form_factor"])
        x_mm, y_mm = float(hole["x_mm"]), float(hole["y_mm"])
        assert 0.0 < x_mm < board.long_mm, hole
        assert 0.0 < y_mm < board.short_mm, hole


def test_an_unknown_name_is_an_error() -> None:
    with pytest.raises(KeyError):
        standard_board("none")
