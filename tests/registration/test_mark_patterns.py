"""Among the views of a pattern of marks is the true one, whatever else is round."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.camera import Optics
from irspot.registration.homography import apply
from irspot.registration.mark_patterns import patterns, share_in_view
from irspot.shapes import rectangle
from irspot.synthetic.placement_views import BoardView
from irspot.synthetic.view import Pose

SIZE = (640, 480)
LENS = Optics(SIZE, 800.0, (322.0, 236.0))
OUTLINE = rectangle(0.0, 0.0, 200.0, 150.0).array_mm
MARKS = np.array([[8.0, 8.0], [190.0, 12.0], [150.0, 140.0], [20.0, 120.0], [100.0, 60.0], [60.0, 30.0]])


@pytest.mark.parametrize("side", ["front", "rear"])
@pytest.mark.parametrize("roll_deg", [0.0, 130.0])
@pytest.mark.parametrize("optics", [LENS, Optics(SIZE)], ids=["focal", "no-focal"])
def test_the_true_view_comes_first(side, roll_deg, optics):
    matrix = BoardView(Pose(420.0, (100.0, 75.0), 22.0, -15.0, roll_deg), side, LENS, SIZE).matrix()
    random = np.random.default_rng(4)
    things = np.concatenate([random.uniform([0, 0], SIZE, (8, 2)), apply(matrix, MARKS[:5])])
    things += random.normal(0.0, 0.05, things.shape)
    found = patterns(MARKS, things, OUTLINE, SIZE, optics, mirrored=side == "rear")
    np.testing.assert_allclose(apply(found.matrices[0], MARKS[:5]), apply(matrix, MARKS[:5]), atol=1.5)
    assert found.choices > 1
    assert 0.0 < found.plausible < 0.05


def test_a_view_of_the_other_side_is_none():
    matrix = BoardView(Pose(420.0, (100.0, 75.0), 22.0, -15.0, 10.0), "front", LENS, SIZE).matrix()
    found = patterns(MARKS, apply(matrix, MARKS), OUTLINE, SIZE, LENS, mirrored=True)
    for each in found.matrices:
        away = np.linalg.norm(apply(each, MARKS)[:, None] - apply(matrix, MARKS)[None], axis=2).min(axis=1)
        assert np.count_nonzero(away < 2.0) < 6


def test_fewer_than_four_give_no_view():
    assert len(patterns(MARKS[:3], MARKS, OUTLINE, SIZE, LENS, mirrored=False).matrices) == 0
    assert len(patterns(MARKS, MARKS[:3], OUTLINE, SIZE, LENS, mirrored=False).matrices) == 0


def test_marks_in_line_give_no_view():
    line = np.column_stack([np.arange(6) * 30.0 + 10.0, np.full(6, 20.0)])
    assert len(patterns(line, line, OUTLINE, SIZE, LENS, mirrored=False).matrices) == 0


def test_share_in_view_is_that_of_the_hull():
    half = np.array([[-100.5, 99.5], [99.5, 99.5], [99.5, 199.5], [-100.5, 199.5]])
    assert share_in_view(half, SIZE) == pytest.approx(0.5, abs=1e-4)
