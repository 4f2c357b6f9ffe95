"""Lines that outlines are recognised by."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.registration.outline_lines import four_lines
from tests.registration.outline_frames import BOARD, NOTCHED


def as_set(normals, offsets):
    """Lines whichever way their normals point."""
    signs = np.where((normals[:, 0] < -1e-9) | ((np.abs(normals[:, 0]) <= 1e-9) & (normals[:, 1] < 0.0)), -1.0, 1.0)
    return {tuple(np.round([*(n * s), o * s], 6) + 0.0) for n, o, s in zip(normals, offsets, signs, strict=True)}


def test_a_rectangle_has_one_choice_its_four_sides() -> None:
    ((normals, offsets),) = four_lines(BOARD.array_mm)
    assert as_set(normals, offsets) == {(1, 0, 0), (1, 0, 213), (0, 1, 0), (0, 1, 131)}
    assert abs(normals[0] @ normals[1]) == pytest.approx(1.0)
    assert abs(normals[2] @ normals[3]) == pytest.approx(1.0)
    assert abs(normals[0] @ normals[2]) < 1e-9


def test_a_notched_outline_has_its_longest_sides_first() -> None:
    choices = four_lines(NOTCHED.array_mm)
    assert as_set(*choices[0]) == {(0, 1, 0), (0, 1, 131), (1, 0, 0), (1, 0, 140)}
    # y = 60 and y = 131, 71 of 131 mm apart, hold a placement as well; x = 140 and x = 190 lie too near.
    assert {(1, 0, 140), (1, 0, 190)} not in [as_set(*each) & {(1, 0, 140), (1, 0, 190)} for each in choices]
    assert any({(0, 1, 60), (0, 1, 131)} <= as_set(*each) for each in choices)


@pytest.mark.parametrize("turn_deg", [0.0, 30.0, 77.0, 179.0])
def test_every_line_is_one_of_the_outlines_edges_however_it_is_turned(turn_deg: float) -> None:
    turn = np.deg2rad(turn_deg)
    vertices = NOTCHED.array_mm @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    choices = four_lines(vertices)
    assert len(choices) == len(four_lines(NOTCHED.array_mm))
    for normals, offsets in choices:
        np.testing.assert_allclose(np.hypot(*normals.T), 1.0)
        on = np.abs(vertices @ normals.T - offsets) < 1e-9
        assert np.all(np.any(on & np.roll(on, -1, axis=0), axis=0)), "two neighbouring corners lie on every line"


def test_nearly_parallel_sides_are_a_pair_and_a_triangle_has_none() -> None:
    assert len(four_lines(np.array([[0.0, 0.0], [200.0, 12.0], [196.0, 130.0], [3.0, 121.0]]))) == 1
    assert four_lines(np.array([[0.0, 0.0], [100.0, 0.0], [50.0, 80.0]])) == ()
