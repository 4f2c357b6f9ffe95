"""Plane geometry against exact values and shapely."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from irspot.shapes import (
    BORDER_MM,
    Circle,
    Polygon,
    centroid,
    crossing_edges,
    distance_to_border,
    in_polygon,
    rectangle,
    signed_area,
)

REFERENCE = Path(__file__).parent / "reference"


def rows(name: str) -> list[dict[str, str]]:
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def points(text: str) -> np.ndarray:
    return np.array([[float(n) for n in pair.split()] for pair in re.findall(r"\(([^)]*)\)", text)])


AREAS = [row for row in rows("polygon_area_centroid.csv") if "minus" not in row["vertices"]]
VERTICES = {row["name"]: points(row["vertices"]) for row in AREAS}


@pytest.mark.parametrize("row", AREAS, ids=[row["name"] for row in AREAS])
def test_published_areas_and_centroids(row: dict[str, str]) -> None:
    vertices = points(row["vertices"])
    assert signed_area(vertices) == pytest.approx(float(row["signed_area"]), rel=1e-9, abs=1e-12)
    if row["centroid_x"]:
        wanted = (float(row["centroid_x"]), float(row["centroid_y"]))
        assert centroid(vertices) == pytest.approx(wanted, rel=1e-9, abs=1e-9)
        assert crossing_edges(vertices) is None
    else:
        assert np.all(np.isnan(centroid(vertices)))
        assert crossing_edges(vertices) is not None


def test_an_area_with_a_hole_is_the_difference() -> None:
    row = next(row for row in rows("polygon_area_centroid.csv") if "minus" in row["vertices"])
    whole, hole = (points(part) for part in row["vertices"].split("minus"))
    area, gap = signed_area(whole), signed_area(hole)
    assert area - gap == pytest.approx(float(row["signed_area"]))
    middle = (np.array(centroid(whole)) * area - np.array(centroid(hole)) * gap) / (area - gap)
    assert middle == pytest.approx([float(row["centroid_x"]), float(row["centroid_y"])], rel=1e-9)


INSIDE = rows("point_in_polygon.csv")


@pytest.mark.parametrize("row", INSIDE, ids=[f"{r['polygon']} {r['x']},{r['y']}" for r in INSIDE])
def test_published_points_in_polygons(row: dict[str, str]) -> None:
    found = in_polygon(VERTICES[row["polygon"]], np.array([float(row["x"])]), np.array([float(row["y"])]))
    assert found[0] == (row["exact"] != "outside")


@st.composite
def simple_polygons(draw: st.DrawFn) -> np.ndarray:
    """Star-shaped round a middle, so they never cross themselves; convex and concave ones."""
    count = draw(st.integers(3, 12))
    turns = draw(st.lists(st.floats(0.2, 1.0), min_size=count, max_size=count))
    angle = np.cumsum(turns) * 2.0 * np.pi / np.sum(turns)
    # With three corners one gap may exceed half a turn, and the middle lies outside: still simple.
    radius = np.array(draw(st.lists(st.floats(1.0, 60.0), min_size=count, max_size=count)))
    vertices = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    vertices += np.array(draw(st.tuples(st.floats(-100, 400), st.floats(-100, 400))))
    return vertices[::-1] if draw(st.booleans()) else vertices


@given(vertices=simple_polygons(), seed=st.integers(0, 2**32 - 1))
def test_as_shapely_says(vertices: np.ndarray, seed: int) -> None:
    other = shapely.Polygon(vertices)
    assume(other.is_valid and other.area > 1e-3)
    assert abs(signed_area(vertices)) == pytest.approx(other.area, rel=1e-9)
    assert (signed_area(vertices) > 0) == other.exterior.is_ccw
    assert centroid(vertices) == pytest.approx((other.centroid.x, other.centroid.y), rel=1e-7, abs=1e-7)
    assert Polygon(tuple(map(tuple, vertices.tolist()))).box_mm == pytest.approx(other.bounds)
    rng = np.random.default_rng(seed)
    low, high = vertices.min(axis=0) - 5.0, vertices.max(axis=0) + 5.0
    xy = rng.uniform(low, high, (200, 2))
    away = shapely.distance(other.exterior, shapely.points(xy)) > 2.0 * BORDER_MM
    expected = shapely.contains_xy(other, xy[:, 0], xy[:, 1])
    assert np.array_equal(in_polygon(vertices, *xy.T)[away], expected[away])
    for x, y in xy[:5]:
        assert distance_to_border(vertices, x, y) == pytest.approx(
            other.exterior.distance(shapely.Point(x, y)), abs=1e-9
        )


@given(vertices=simple_polygons())
def test_the_border_belongs_to_the_polygon(vertices: np.ndarray) -> None:
    polygon = Polygon(tuple(map(tuple, vertices.tolist())))
    border = polygon.border_points(1.5)
    assert np.all(polygon.contains(*border.T))
    gaps = np.hypot(*(border - np.roll(border, -1, axis=0)).T)
    assert gaps.max() <= 1.5 + 1e-9
    for corner in vertices:
        assert np.hypot(*(border - corner).T).min() < 1e-12


@given(
    vertices=st.lists(st.tuples(st.integers(-8, 8), st.integers(-8, 8)), min_size=3, max_size=8, unique=True).map(
        lambda corners: np.array(corners, dtype=np.float64)
    )
)
def test_crossing_edges_as_shapely_says(vertices: np.ndarray) -> None:
    simple = shapely.LinearRing(vertices).is_simple
    assert (crossing_edges(vertices) is None) == simple


def test_the_crossing_edges_are_named() -> None:
    bow_tie = np.array([[0.0, 0.0], [2.0, 2.0], [2.0, 0.0], [0.0, 2.0]])
    assert crossing_edges(bow_tie) == (0, 2)


def test_circles_hold_their_border_and_box() -> None:
    circle = Circle(20.0, 240.0, 2.0)
    assert circle.box_mm == (18.0, 238.0, 22.0, 242.0)
    assert np.array_equal(
        circle.contains([22.0, 22.001, 20.0, 18.5], [240.0, 240.0, 240.0, 241.5]), [True, False, True, False]
    )
    border = circle.border_points(0.1)
    assert len(border) >= 126
    assert np.all(circle.contains(*border.T))
    assert shapely.Polygon(border).area == pytest.approx(np.pi * 4.0, rel=1e-3)


def test_rectangles_run_counter_clockwise_from_the_lower_left() -> None:
    assert rectangle(14.0, 210.0, 16.0, 70.0).vertices_mm == (
        (14.0, 210.0),
        (30.0, 210.0),
        (30.0, 280.0),
        (14.0, 280.0),
    )
    assert signed_area(rectangle(1.0, 2.0, 3.0, 4.0).array_mm) == 12.0


def test_places_without_numbers_lie_in_nothing() -> None:
    nan = np.array([np.nan, 1.0])
    assert not Circle(0.0, 0.0, 9.0).contains(nan, nan[::-1]).any()
    assert not rectangle(-5, -5, 20, 20).contains(nan, nan[::-1]).any()
