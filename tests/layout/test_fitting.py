"""Mappings between boards: known ones are found, what boards of one family cannot differ by is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from irspot.layout.fitting import Fitted, NotFitted, carried, fitted, is_move
from irspot.layout.plane import Plane, shifted
from irspot.shapes import Circle, Polygon, rectangle, signed_area

POINTS = np.array([[5.0, 5.0], [95.0, 8.0], [90.0, 60.0], [8.0, 62.0]])
NAMES = ["a", "b", "c", "d"]


def turned(turn_deg: float, scale: float = 1.0, x: float = 12.5, y: float = -3.0) -> Plane:
    c, s = scale * math.cos(math.radians(turn_deg)), scale * math.sin(math.radians(turn_deg))
    return Plane(c, -s, x, s, c, y)


@pytest.mark.parametrize("count", [2, 3, 4])
@pytest.mark.parametrize(("turn", "scale"), [(0.0, 1.0), (90.0, 1.0), (17.3, 1.04), (180.0, 0.9)])
def test_a_known_similarity_is_found_from_two_points_on(count: int, turn: float, scale: float) -> None:
    known = turned(turn, scale)
    found = fitted(POINTS[:count], known.carry(POINTS[:count]), NAMES[:count], "similarity")
    assert isinstance(found, Fitted)
    np.testing.assert_allclose(found.plane.carry(POINTS), known.carry(POINTS), atol=1e-9)
    assert f"scale {scale:.4f}" in found.words
    assert "missed by up to 0.000 mm" in found.words
    assert any("one point more" in warning for warning in found.warnings) == (count == 2)
    assert any("parts of one kind" in warning for warning in found.warnings) == (scale != 1.0)


@pytest.mark.parametrize("count", [3, 4])
def test_a_known_affine_mapping_is_found_from_three_points_on(count: int) -> None:
    known = Plane(1.03, 0.02, 4.0, -0.01, 0.97, 9.0)
    found = fitted(POINTS[:count], known.carry(POINTS[:count]), NAMES[:count], "affine")
    assert isinstance(found, Fitted)
    np.testing.assert_allclose(found.plane.carry(POINTS), known.carry(POINTS), atol=1e-9)
    assert any("nothing tells" in warning for warning in found.warnings) == (count == 3)


def test_the_residual_is_stated() -> None:
    target = POINTS.copy()
    target[2] += [0.8, 0.0]
    found = fitted(POINTS, target, NAMES, "similarity")
    assert isinstance(found, Fitted)
    # A rigid motion takes up about half of one corner's error of four.
    assert 0.2 < float(found.words.split("missed by up to ")[1].split()[0]) < 0.8


@pytest.mark.parametrize(
    ("target", "kind", "says", "hint"),
    [
        (POINTS * [-1.0, 1.0], "similarity", "only turned over", "seen from the front"),
        (POINTS * [-1.0, 1.0], "affine", "only turned over", "seen from the front"),
        (POINTS * 2.0, "similarity", "differ in scale by 2.000", "check the points"),
        (POINTS + np.array([[0.0, 0.0]] * 3 + [[9.0, 0.0]]), "similarity", "'d' is missed by", "check its places"),
        (POINTS * [1.06, 0.95], "similarity", "is missed by", "or try --fit affine, which fits"),
        (POINTS * [1.4, 1.0], "affine", "differ in scale by 1.000 to 1.400", "check the points"),
    ],
)
def test_what_boards_of_a_family_cannot_differ_by_is_refused(
    target: np.ndarray, kind: str, says: str, hint: str
) -> None:
    found = fitted(POINTS, target, NAMES, kind)  # type: ignore[arg-type]
    assert isinstance(found, NotFitted)
    assert says in found.reason
    assert hint in found.hint


def test_too_few_points_and_points_on_a_line_are_refused() -> None:
    line = np.array([[0.0, 0.0], [50.0, 1.0], [100.0, 2.0]])
    for points, kind, says in (
        (POINTS[:1], "similarity", "one point tell"),
        (POINTS[:2], "affine", "2 points tell no affine mapping"),
        (line, "affine", "lie on one line"),
        (POINTS[:1].repeat(3, axis=0), "similarity", "lie in one place"),
    ):
        found = fitted(points, points, NAMES[: len(points)], kind)  # type: ignore[arg-type]
        assert isinstance(found, NotFitted)
        assert says in found.reason


def test_shapes_are_carried_with_their_area() -> None:
    plane = turned(30.0, 1.1)
    square = carried(rectangle(1.0, 2.0, 10.0, 4.0), plane)
    assert isinstance(square, Polygon)
    assert signed_area(square.array_mm) == pytest.approx(40.0 * 1.21)
    circle = carried(Circle(10.0, 20.0, 3.0), plane)
    assert isinstance(circle, Circle)
    assert circle.radius_mm == pytest.approx(3.3)
    assert (circle.x_mm, circle.y_mm) == pytest.approx(plane.at(10.0, 20.0))
    oval = carried(Circle(10.0, 20.0, 3.0), Plane(1.2, 0.0, 0.0, 0.0, 1.0, 0.0))
    assert isinstance(oval, Polygon)
    assert oval.box_mm == pytest.approx((8.4, 17.0, 15.6, 23.0))
    assert is_move(shifted(3.0, 4.0))
    assert not is_move(plane)
