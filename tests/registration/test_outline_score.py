"""Outlines carried into frames, and how well edges there support them."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.registration.edge_map import edge_map
from irspot.registration.outline_score import (
    carried_outline,
    carried_through,
    outline_points,
    outline_scores,
    strengths_at,
)
from irspot.synthetic.view import Pose
from tests.registration.outline_frames import BENT, BOARD, NOTCHED, SIZE, TILTED, frame_of, noisy, view


@pytest.mark.parametrize("count", [7, 120, 481])
def test_points_are_spread_by_length_and_keep_off_corners(count: int) -> None:
    vertices = NOTCHED.array_mm
    points = outline_points(vertices, count)
    sides = np.roll(vertices, -1, axis=0) - vertices
    lengths = np.hypot(*sides.T)
    number = np.bincount(points.edge, minlength=6)
    np.testing.assert_array_equal(number, np.maximum(2, np.rint(count * lengths / lengths.sum())))
    apart = points.xy_mm - vertices[points.edge]
    unit = sides[points.edge] / lengths[points.edge][:, None]
    share = np.einsum("ij,ij->i", apart, unit) / lengths[points.edge]
    np.testing.assert_allclose(points.along, unit)
    np.testing.assert_allclose(apart[:, 0] * unit[:, 1] - apart[:, 1] * unit[:, 0], 0.0, atol=1e-9)
    for edge in range(6):
        np.testing.assert_allclose(share[points.edge == edge], (np.arange(number[edge]) + 0.5) / number[edge])


@pytest.mark.parametrize("side", ["front", "rear"])
def test_outlines_are_carried_as_the_camera_sees_them(side) -> None:
    seen, points = view(TILTED, BENT, side), outline_points(NOTCHED.array_mm, 90)
    places, normals = carried_outline(points, seen.matrix()[None], BENT, SIZE)
    np.testing.assert_allclose(places[0], seen.to_px(points.xy_mm), atol=1e-9)
    np.testing.assert_allclose(carried_through(points.xy_mm, seen.matrix()[None], BENT, SIZE), places, atol=1e-12)
    direction = seen.to_px(points.xy_mm + 0.01 * points.along) - seen.to_px(points.xy_mm - 0.01 * points.along)
    direction /= np.hypot(*direction.T)[:, None]
    np.testing.assert_allclose(np.hypot(*normals[0].T), 1.0)
    assert np.abs(np.einsum("ij,ij->i", normals[0], direction)).max() < 2e-3


def test_what_lies_behind_the_camera_has_no_place() -> None:
    matrix = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [-0.01, 0.0, 1.0]])
    points = outline_points(BOARD.array_mm, 100)
    places, _ = carried_outline(points, matrix[None], view().optics, SIZE)
    np.testing.assert_array_equal(np.isfinite(places[0, :, 0]), points.xy_mm[:, 0] < 100.0)


def test_the_true_outline_scores_far_above_its_neighbours() -> None:
    seen, points = view(TILTED, BENT), outline_points(NOTCHED.array_mm, 200)
    edges = edge_map(noisy(frame_of(seen, NOTCHED), 0.1, 1), 0.1)
    shifts = [np.array([[1.0, 0.0, dx], [0.0, 1.0, dy], [0.0, 0.0, 1.0]]) for dx, dy in [(0, 0), (9, -8), (-7, 6)]]
    matrices = np.stack([shift @ seen.matrix() for shift in shifts])
    score, in_view = outline_scores(edges, points, matrices, BENT, SIZE)
    assert score[0] > 0.9
    assert score[1:].max() < 0.25
    np.testing.assert_array_equal(in_view, 1.0)


def test_edges_that_run_across_do_not_count() -> None:
    stripes = np.where((np.mgrid[:251, :323][1] // 4) % 2 == 0, 25.0, 35.0).astype(np.float32)
    edges = edge_map(stripes, 0.05)
    matrix = view(Pose(400.0, (106.5, 65.5))).matrix()[None]
    points = outline_points(BOARD.array_mm, 200)
    strength = strengths_at(edges, points, matrix, view().optics, SIZE)[0]
    level = points.along[:, 0] != 0.0
    assert np.nanmax(strength[level]) == 0.0


def test_points_out_of_view_count_in_neither() -> None:
    seen = view(Pose(400.0, (30.0, 68.0)))
    points = outline_points(BOARD.array_mm, 200)
    places = seen.to_px(points.xy_mm)
    edges = edge_map(noisy(frame_of(seen), 0.1, 2), 0.1)
    strength = strengths_at(edges, points, seen.matrix()[None], seen.optics, SIZE)[0]
    score, in_view = outline_scores(edges, points, seen.matrix()[None], seen.optics, SIZE)
    inside = np.all((places > 1.0) & (places < np.array(SIZE) - 2.0), axis=1)
    assert 0.5 < inside.mean() < 0.95
    np.testing.assert_array_equal(np.isfinite(strength), inside)
    assert in_view[0] == pytest.approx(inside.mean())
    assert score[0] == pytest.approx(strength[inside].mean(), rel=1e-5)
    assert score[0] > 0.9
