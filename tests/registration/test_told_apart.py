"""An outline shows its way round where the places that a turn would change are held by edges."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.registration.mark_ways import unlike_turns
from irspot.registration.outline_score import outline_points
from irspot.registration.told_apart import shows_its_way
from irspot.shapes import rectangle
from tests.registration.outline_frames import NOTCHED

VERTICES = NOTCHED.array_mm
POINTS = outline_points(VERTICES, 480)
ALL = np.ones(len(POINTS.xy_mm), bool)
# The corner cut out of it, 50 x 71 mm at the upper right, and its counterpart at the lower left.
CUT = (POINTS.edge == 2) | (POINTS.edge == 3)
COUNTERPART = (POINTS.xy_mm[:, 0] < 50.0) & (POINTS.xy_mm[:, 1] < 71.0)


def test_an_outline_held_all_around_shows_its_way():
    assert shows_its_way(VERTICES, POINTS.xy_mm, ALL, ALL)


def test_without_edges_where_a_turn_changes_it_an_outline_does_not():
    assert not shows_its_way(VERTICES, POINTS.xy_mm, ALL, ALL & ~CUT & ~COUNTERPART)
    assert not shows_its_way(VERTICES, POINTS.xy_mm, ALL & ~CUT & ~COUNTERPART, ALL)


def test_one_of_the_two_places_is_enough():
    assert shows_its_way(VERTICES, POINTS.xy_mm, ALL, ALL & ~CUT)


@pytest.mark.parametrize(("width", "turns"), [(200.0, 0), (170.0, 0)])
def test_rectangles_have_no_such_places(width, turns):
    outline = rectangle(0.0, 0.0, width, 170.0).array_mm
    assert len(unlike_turns(outline)) == turns
    assert shows_its_way(outline, POINTS.xy_mm, ~ALL, ~ALL)


def test_turns_that_change_an_outline_keep_its_box():
    (turn,) = unlike_turns(VERTICES)
    assert turn.quarters == 2
    turned = turn.carried(VERTICES)
    np.testing.assert_allclose(turned.min(axis=0), VERTICES.min(axis=0))
    np.testing.assert_allclose(turned.max(axis=0), VERTICES.max(axis=0))
