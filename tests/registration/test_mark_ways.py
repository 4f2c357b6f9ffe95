"""Ways of laying a board into its outline, and which of them a pattern of marks can tell apart."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.registration.mark_ways import can_tell, ways_of
from irspot.shapes import rectangle

SQUARE = rectangle(0.0, 0.0, 170.0, 170.0).array_mm
OBLONG = rectangle(0.0, 0.0, 305.0, 244.0).array_mm
NEARLY = rectangle(0.0, 0.0, 200.0, 198.0).array_mm
BENT = np.array([[0.0, 0.0], [200.0, 0.0], [200.0, 60.0], [80.0, 60.0], [80.0, 150.0], [0.0, 150.0]])
ROOF = np.array([[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [100.0, 150.0], [0.0, 100.0]])


@pytest.mark.parametrize(
    ("outline", "turns", "flips"), [(SQUARE, 4, 4), (OBLONG, 2, 2), (NEARLY, 4, 4), (BENT, 1, 0), (ROOF, 1, 1)]
)
def test_outlines_look_the_same_in_as_many_ways_as_they_do(outline, turns, flips):
    ways = ways_of(outline)
    assert sum(not way.turned_over for way in ways) == turns
    assert sum(way.turned_over for way in ways) == flips
    assert np.array_equal(ways[0].matrix, np.eye(3))


@pytest.mark.parametrize("outline", [SQUARE, OBLONG, NEARLY])
def test_every_way_keeps_the_corners(outline):
    for way in ways_of(outline):
        apart = np.linalg.norm(way.carried(outline)[:, None] - outline[None], axis=2)
        assert apart.min(axis=1).max() < 1e-9


def test_quarters_turn_counter_clockwise_and_the_other_side_is_mirrored():
    by = {(way.quarters, way.turned_over): way for way in ways_of(SQUARE)}
    place = np.array([[150.0, 20.0]])
    np.testing.assert_allclose(by[1, False].carried(place), [[150.0, 150.0]])
    np.testing.assert_allclose(by[0, True].carried(place), [[20.0, 20.0]])


def tells(outline, marks):
    ways = [way for way in ways_of(outline) if not way.turned_over]
    return all(
        can_tell(one, other, np.reshape(marks, (-1, 2)).astype(float))
        for one in ways
        for other in ways
        if one is not other
    )


def test_patterns_that_are_symmetric_themselves_tell_nothing():
    assert not tells(OBLONG, [[10.0, 10.0], [295.0, 10.0], [295.0, 234.0], [10.0, 234.0]])
    assert not tells(SQUARE, [[10.0, 10.0], [160.0, 160.0], [60.0, 85.0], [110.0, 85.0]])
    assert not tells(OBLONG, [[10.0, 10.0], [295.0, 10.0], [295.0, 234.0], [10.0, 234.0], [50.0, 60.0]])


def test_two_marks_that_have_no_counterparts_tell_turns_apart():
    assert tells(OBLONG, [[10.0, 10.0], [295.0, 10.0]])
    assert tells(SQUARE, [[10.0, 10.0], [60.0, 30.0], [100.0, 140.0]])
    assert not tells(OBLONG, [[20.0, 10.0]])
    assert not tells(OBLONG, [])
