"""Places of a list carried to the board, and back from known turns; points that contradict the list."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from irspot.layout.part import Part, Size
from irspot.layout.placing import Placing, body, corner_plane, plane_by_points
from irspot.layout.plane import Plane, affine, misses, shifted, similarity
from irspot.shapes import centroid, rectangle, signed_area

FAR = st.floats(-300.0, 300.0)


@given(turn=st.floats(0.0, 360.0), dx=FAR, dy=FAR, scale=st.floats(0.5, 2.0), mirror=st.booleans())
def test_a_known_similarity_is_found(turn: float, dx: float, dy: float, scale: float, mirror: bool) -> None:
    c, s = scale * math.cos(math.radians(turn)), scale * math.sin(math.radians(turn))
    y = -1.0 if mirror else 1.0
    known = Plane(c, -s * y, dx, s, c * y, dy)
    points = np.array([[0.0, 0.0], [80.0, 10.0], [20.0, 60.0]])
    found = similarity(points, known.carry(points), mirror=mirror)
    np.testing.assert_allclose(found.carry(points), known.carry(points), atol=1e-9)
    assert found.scale == pytest.approx(scale)
    assert found.mirrors == mirror


def test_a_known_affine_mapping_is_found_and_its_residual_is_that_of_the_point_off() -> None:
    known = Plane(1.1, 0.2, 5.0, -0.1, 0.9, -7.0)
    points = np.array([[0.0, 0.0], [80.0, 0.0], [0.0, 60.0], [80.0, 60.0]])
    target = known.carry(points)
    np.testing.assert_allclose(misses(affine(points, target), points, target), 0.0, atol=1e-9)
    target[3] += [0.0, 4.0]
    # Four corners of a rectangle share a corner's error evenly: each is missed by a quarter of it.
    np.testing.assert_allclose(misses(affine(points, target), points, target), 1.0, atol=1e-9)


@pytest.mark.parametrize("turn", [0.0, 17.0, 45.0, 90.0, 180.0, 270.0, -30.0])
def test_a_body_has_its_middle_size_and_turn(turn: float) -> None:
    shape = body(30.0, 40.0, turn, Size(6.0, 4.0))
    assert centroid(shape.array_mm) == pytest.approx((30.0, 40.0))
    assert signed_area(shape.array_mm) == pytest.approx(24.0)
    along = np.array([math.cos(math.radians(turn)), math.sin(math.radians(turn))])
    assert np.ptp(shape.array_mm @ along) == pytest.approx(6.0)


@pytest.mark.parametrize(
    ("rear", "x", "turn"), [("as-listed", 30.0, 20.0), ("mirrored", 70.0, -20.0), ("negated", -30.0, -20.0)]
)
def test_the_rear_is_turned_over_as_stated(rear: str, x: float, turn: float) -> None:
    part = Part("C1", 30.0, 40.0, 20.0, "rear")
    shape = Placing(shifted(0.0, 0.0), rear, 100.0).shape(part, Size(6.0, 4.0))  # type: ignore[arg-type]
    np.testing.assert_allclose(
        sorted(shape.array_mm.tolist()), sorted(body(x, 40.0, turn, Size(6.0, 4.0)).array_mm.tolist()), atol=1e-8
    )
    front = Placing(shifted(0.0, 0.0), rear, 100.0).shape(Part("C1", 30.0, 40.0), Size(6.0, 4.0))  # type: ignore[arg-type]
    assert front == body(30.0, 40.0, 0.0, Size(6.0, 4.0))


def test_corners_of_the_outline_are_origins() -> None:
    outline = rectangle(0.0, 0.0, 100.0, 70.0)
    assert corner_plane("lower-left", outline).at(1.0, 2.0) == (1.0, 2.0)
    assert corner_plane("upper-right", outline).at(-1.0, -2.0) == (99.0, 68.0)


SOURCE = np.array([[10.0, 10.0], [90.0, 15.0], [20.0, 60.0]])


def test_points_give_turn_and_move_with_bodies_along_the_board() -> None:
    quarter = Plane(0.0, -1.0, 70.0, 1.0, 0.0, 0.0)
    plane, words = plane_by_points(SOURCE, quarter.carry(SOURCE), ["A", "B", "C"], "mm")
    assert plane is not None
    assert (plane.a, plane.b, plane.d, plane.e) == (0.0, -1.0, 1.0, 0.0)
    assert "turned by 90.00°" in words


@pytest.mark.parametrize(
    ("target", "says"),
    [
        (
            SOURCE * 0.0254,
            "0.0254 times as far apart on the board as in the list, read in mm: the list is in mil, --unit mil",
        ),
        (SOURCE * 3.0, "3 times as far apart on the board as in the list, read in mm: check their places"),
        (SOURCE * [-1.0, 1.0], "turned over: it is seen from behind"),
        (SOURCE + np.array([[0.0, 0.0], [0.0, 0.0], [0.0, 3.0]]), "'C' is missed by"),
        (SOURCE * 0.0 + 1.0, "times as far apart"),
    ],
)
def test_points_that_contradict_the_list_are_refused(target: np.ndarray, says: str) -> None:
    plane, words = plane_by_points(SOURCE, target, ["A", "B", "C"], "mm")
    assert plane is None
    assert says in words


def test_points_in_one_place_are_refused() -> None:
    plane, words = plane_by_points(SOURCE[:1].repeat(2, axis=0), SOURCE[:2], ["A", "B"], "mm")
    assert plane is None
    assert "one place" in words
