"""Surface truth: interpolation, bodies on faces, and what is uppermost."""

import numpy as np
import pytest

from irspot.shapes import Circle, rectangle
from irspot.synthetic.parts import Part
from irspot.synthetic.surface import Field, body_of, face_rises, mean_under, profile, surface_of

from .scenes import heater, small_board


def plane_field():
    rows, columns = np.indices((7, 11))
    return Field(2.0 + 0.3 * (columns + 0.5) * 2.5 - 0.7 * (rows + 0.5) * 1.5, (1.5, 2.5))


def test_a_plane_is_interpolated_exactly():
    field = plane_field()
    x, y = np.array([1.25, 3.3, 20.0, 26.2]), np.array([0.75, 9.7, 4.4, 8.1])
    np.testing.assert_allclose(field.at(x, y), 2.0 + 0.3 * x - 0.7 * y, rtol=1e-12)


def test_beyond_the_outermost_centres_the_field_is_constant():
    field = plane_field()
    assert field.at(-5.0, 4.0) == field.at(1.25, 4.0)
    assert field.at(10.0, 99.0) == field.at(10.0, 9.75)


def test_profile_is_one_at_the_hot_spot_and_falls_to_its_share():
    part = heater(box=(40.0, 15.0, 10.0, 8.0), hot_at=(0.3, 0.6), edge_share=0.4)
    assert profile(part, 43.0, 19.8) == pytest.approx(1.0)
    # One standard deviation (0.35 of the width) away.
    assert profile(part, 46.5, 19.8) == pytest.approx(0.4 + 0.6 * np.exp(-0.5))


def test_a_body_stands_at_its_level_plus_power_times_resistance():
    part = heater(watts=2.0, k_per_w=4.0, follow=0.5, own_rise_k=3.0, edge_share=1.0)
    rise = Field(np.full((40, 60), 12.0), (1.0, 1.0))
    body = body_of(part, rise, "on", 20.0)
    assert body.degc(44.0, 18.0) == pytest.approx(20.0 + 3.0 + 0.5 * 12.0 + 8.0)
    assert body_of(part, rise, "off", 20.0).degc(44.0, 18.0) == pytest.approx(20.0 + 3.0 + 0.5 * 12.0)


def test_mean_under_a_body_is_the_mean_of_the_plane_at_its_middle():
    assert mean_under(rectangle(4.0, 2.0, 10.0, 5.0), plane_field()) == pytest.approx(2.0 + 0.3 * 9.0 - 0.7 * 4.5)


def test_grid_shows_the_uppermost_body_and_the_bare_face_beside_it():
    low = Part("low", rectangle(10.0, 10.0, 20.0, 20.0), 1.0, 0.9, follow=0.0, own_rise_k=30.0)
    tall = Part("tall", Circle(20.0, 20.0, 4.0), 9.0, 0.9, follow=0.0, own_rise_k=50.0)
    board = small_board([tall, low])
    surface = surface_of(board, face_rises(board, "on")["front"], "on", "front", 20.0)
    xs, ys = np.array([5.0, 10.0, 15.9, 16.0, 20.0, 30.0, 30.1]), np.array([9.9, 20.0, 30.0])
    np.testing.assert_allclose(
        surface.on_grid(xs, ys),
        [
            [20.0] * 7,
            [20.0, 50.0, 50.0, 70.0, 70.0, 50.0, 20.0],
            [20.0, 50.0, 50.0, 50.0, 50.0, 50.0, 20.0],
        ],
    )


def test_a_part_heats_its_own_face_most_and_the_other_through_the_board():
    board = small_board([heater(side="rear", k_per_w=0.0)])
    rises_k = face_rises(board, "on")
    front, rear = rises_k["front"].at(45.0, 20.0), rises_k["rear"].at(45.0, 20.0)
    assert rear > front > rises_k["front"].at(5.0, 5.0) > 0.0
    assert not np.any(face_rises(board, "off")["rear"].values)
