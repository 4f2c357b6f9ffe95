"""The true view is among the hypotheses, whatever the tilt, the side and the outline."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.registration.distortion import undistort
from irspot.registration.edge_map import edge_map
from irspot.registration.hypotheses import hypotheses
from irspot.registration.lines import Lines, lines_of
from irspot.registration.outline_lines import four_lines
from irspot.synthetic.view import Pose
from tests.registration.outline_frames import (
    BENT,
    BOARD,
    LENS,
    NOTCHED,
    SIZE,
    SLANTED,
    TILTED,
    carried,
    frame_of,
    noisy,
    view,
)


def found(seen, outline, optics=None):
    """Hypotheses from a noisy frame, and how far the corners of each are from the truth, px."""
    optics = optics or seen.optics
    edges = edge_map(noisy(frame_of(seen, outline), 0.1, 1), 0.1)
    points = undistort(edges.points_px, optics, SIZE) if optics.distorted else edges.points_px
    lines = lines_of(edges, points, SIZE)
    every = hypotheses(lines, four_lines(outline.array_mm), SIZE, optics, mirrored=seen.side == "rear")
    truth = carried(seen.matrix(), outline.array_mm)
    apart = [np.hypot(*(carried(each, outline.array_mm) - truth).T).max() for each in every]
    return every, np.array(apart)


@pytest.mark.parametrize("side", ["front", "rear"])
@pytest.mark.parametrize("outline", [BOARD, NOTCHED])
@pytest.mark.parametrize(("pose", "optics"), [(TILTED, LENS), (TILTED, BENT), (SLANTED, LENS)])
def test_the_true_view_is_among_them(pose: Pose, optics, outline, side) -> None:
    every, apart = found(view(pose, optics, side), outline)
    assert apart.min() < 1.5
    hand = np.sign(np.linalg.det(every[:, :2, :2]))
    best = every[apart.argmin()]
    assert np.sign(np.linalg.det(best[:2, :2])) == (1.0 if side == "rear" else -1.0)
    assert np.all(hand[apart < 5.0] == hand[apart.argmin()])


def test_both_ways_round_of_a_rectangle_are_among_them() -> None:
    seen = view(TILTED)
    every, _ = found(seen, BOARD)
    turned = np.roll(carried(seen.matrix(), BOARD.array_mm), 2, axis=0)
    apart = [np.hypot(*(carried(each, BOARD.array_mm) - turned).T).max() for each in every]
    assert min(apart) < 1.5


def test_without_a_focal_length_the_true_view_is_among_more() -> None:
    seen = view(TILTED)
    known, _ = found(seen, NOTCHED)
    every, apart = found(seen, NOTCHED, replace(LENS, focal_px=None))
    assert apart.min() < 1.5
    assert len(every) >= len(known)


def test_views_of_another_shape_are_not_among_them() -> None:
    """A plate of twice the width cannot look like this one to a camera of this focal length."""
    seen = view(Pose(420.0, (106.5, 65.5), 3.0, 2.0, 10.0))
    wide = BOARD.array_mm * [2.0, 1.0]
    edges = edge_map(noisy(frame_of(seen), 0.1, 1), 0.1)
    lines = lines_of(edges, edges.points_px, SIZE)
    assert len(hypotheses(lines, four_lines(BOARD.array_mm), SIZE, LENS, mirrored=False)) > 0
    assert len(hypotheses(lines, four_lines(wide), SIZE, LENS, mirrored=False)) == 0


def test_no_lines_and_no_choices_give_no_hypotheses() -> None:
    none = Lines(np.empty((0, 2)), np.empty(0), np.array([161.0, 125.0]), 2.0, -200.0, np.empty((0, 201)))
    assert hypotheses(none, four_lines(BOARD.array_mm), SIZE, LENS, mirrored=False).shape == (0, 3, 3)
    assert hypotheses(none, (), SIZE, LENS, mirrored=False).shape == (0, 3, 3)
