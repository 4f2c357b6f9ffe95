"""Mappings fitted to marks: exact where marks are, with an uncertainty that covers what noise does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.camera import Optics
from irspot.registration.mark_pose import fit_marks
from irspot.registration.placement import Placement
from irspot.registration.spread import place_covariances_px
from irspot.synthetic.placement_views import BoardView
from irspot.synthetic.view import Pose

SIZE = (640, 480)
BENT = Optics(SIZE, 800.0, (322.0, 236.0), (-0.15, 0.02, 0.001, -0.001, 0.0))
MARKS = np.array([[8.0, 8.0], [190.0, 12.0], [150.0, 140.0], [20.0, 120.0], [100.0, 60.0], [60.0, 30.0]])
CORNERS = np.array([[0.0, 0.0], [200.0, 0.0], [200.0, 150.0], [0.0, 150.0]])


def truth(side="front", optics=BENT):
    view = BoardView(Pose(420.0, (100.0, 75.0), 22.0, -15.0, 131.0), side, BENT, SIZE)
    return view, Placement(view.matrix(), side, optics, SIZE, "auto", 0.0, 0.0, 4, held_mm=MARKS)


@pytest.mark.parametrize("side", ["front", "rear"])
@pytest.mark.parametrize("count", [4, 6])
def test_exact_marks_give_the_true_view(side, count):
    view, start = truth(side)
    off = replace(start, matrix=start.matrix * (1.0 + 0.004 * np.cos(np.arange(9.0)).reshape(3, 3)))
    off.matrix[2, 2] = 1.0
    fit = fit_marks(off, MARKS[:count], view.to_px(MARKS[:count]), np.full(count, 0.05), 0.0)
    np.testing.assert_allclose(fit.placement.to_px(CORNERS), view.to_px(CORNERS), atol=1e-4)
    assert fit.misses_px.max() < 1e-4
    assert fit.excess < 1e-4


def test_without_a_focal_length_four_marks_are_met_exactly():
    view, start = truth(optics=Optics(SIZE))
    seen = view.to_px(MARKS[:4]) + np.array([[0.3, 0.0], [0.0, -0.2], [0.1, 0.1], [0.0, 0.0]])
    fit = fit_marks(start, MARKS[:4], seen, np.full(4, 0.1), 0.0)
    np.testing.assert_allclose(fit.placement.to_px(MARKS[:4]), seen, atol=1e-3)
    assert fit.excess == 0.0


def test_the_corners_uncertainty_covers_noise():
    view, start = truth()
    random = np.random.default_rng(5)
    # Without a thickness there is no slant, so noise is all there is.
    scores = []
    for _ in range(150):
        seen = view.to_px(MARKS) + random.normal(0.0, 0.2, MARKS.shape)
        fit = fit_marks(start, MARKS, seen, np.full(6, 0.2), 0.0)
        miss = fit.placement.to_px(CORNERS) - view.to_px(CORNERS)
        spread = place_covariances_px(replace(fit.placement, held_mm=None), CORNERS)
        scores += [float(m @ np.linalg.solve(s, m)) for m, s in zip(miss, spread, strict=True)]
    # Two degrees of freedom; the covariance grows where misses exceed their due, so somewhat less than 2.
    assert 1.2 < np.mean(scores) < 2.2


def test_the_slant_of_holes_leaves_a_shift_open():
    view, start = truth()
    thin, thick = (fit_marks(start, MARKS, view.to_px(MARKS), np.full(6, 0.05), t) for t in (0.0, 1.6))
    u = [
        np.sqrt(np.trace(place_covariances_px(replace(fit.placement, held_mm=None), CORNERS)[0]))
        for fit in (thin, thick)
    ]
    # A quarter of 1.6 mm x sin(26 deg) at nearly 2 px a mm.
    assert u[0] < 0.15
    assert 0.25 < u[1] < 0.6


def test_marks_in_line_hold_nothing():
    view, start = truth(optics=Optics(SIZE))
    line = np.column_stack([np.arange(5) * 30.0 + 10.0, np.full(5, 20.0)])
    assert fit_marks(start, line, view.to_px(line), np.full(5, 0.1), 0.0) is None
