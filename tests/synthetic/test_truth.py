"""The search for the true maximum, on surfaces whose maximum is known."""

import numpy as np
import pytest

from irspot.board import ELSEWHERE
from irspot.shapes import Circle, rectangle
from irspot.synthetic.parts import Part
from irspot.synthetic.surface import Field, Surface, face_rises, surface_of
from irspot.synthetic.truth import hottest, zone_truths

from .scenes import heater, small_board


def cone(x_mm, y_mm, step_mm=0.25):
    """A face that falls by 1 K per mm from a tip that lies on a cell's centre."""
    rows, columns = round(40.0 / step_mm), round(60.0 / step_mm)
    y, x = ((np.indices((rows, columns)) + 0.5) * step_mm).astype(float)
    return Surface("front", 20.0, Field(90.0 - np.hypot(x - x_mm, y - y_mm), (step_mm, step_mm)), ())


def test_the_tip_is_found():
    truth = hottest("z", cone(17.125, 22.375), (rectangle(5.0, 5.0, 20.0, 30.0),), ())
    assert truth.max_degc == pytest.approx(90.0, abs=0.02)
    assert (truth.x_mm, truth.y_mm) == pytest.approx((17.125, 22.375), abs=0.02)


def test_outside_the_zone_the_nearest_border_is_hottest():
    truth = hottest("z", cone(40.125, 22.375), (rectangle(5.0, 5.0, 20.0, 30.0),), ())
    assert (truth.x_mm, truth.y_mm) == pytest.approx((25.0, 22.375), abs=0.15)
    assert truth.max_degc == pytest.approx(90.0 - 15.125, abs=0.02)


def test_excluded_shapes_do_not_count():
    truth = hottest("z", cone(17.125, 22.375), (rectangle(5.0, 5.0, 20.0, 30.0),), (Circle(17.125, 22.375, 4.0),))
    # All around the circle it is equally hot; which place is named does not matter.
    assert np.hypot(truth.x_mm - 17.125, truth.y_mm - 22.375) == pytest.approx(4.0, abs=0.03)
    assert truth.max_degc == pytest.approx(86.0, abs=0.03)


def test_zones_and_elsewhere_partition_the_board():
    hot_left = Part("a", rectangle(14.0, 14.0, 4.0, 4.0), 1.0, 0.9, follow=0.0, own_rise_k=50.0)
    hot_nowhere = Part("b", rectangle(28.0, 30.0, 4.0, 4.0), 1.0, 0.9, follow=0.0, own_rise_k=60.0)
    under_the_exclusion = Part("c", rectangle(9.0, 9.0, 2.0, 2.0), 1.0, 0.9, follow=0.0, own_rise_k=70.0)
    board = small_board([hot_left, hot_nowhere, under_the_exclusion])
    surface = surface_of(board, face_rises(board, "on")["front"], "on", "front", 20.0)
    found = {truth.zone: truth.max_degc for truth in zone_truths(board.board, surface)}
    assert found == pytest.approx({"left": 70.0, "right": 20.0, ELSEWHERE: 80.0})


def test_rear_zones_are_searched_on_the_rear():
    board = small_board([heater(box=(10.0, 10.0, 5.0, 5.0), side="rear")])
    surface = surface_of(board, face_rises(board, "on")["rear"], "on", "rear", 20.0)
    truths = zone_truths(board.board, surface)
    assert [truth.zone for truth in truths] == ["behind", ELSEWHERE]
    assert truths[0].x_mm == pytest.approx(12.5, abs=0.1)
