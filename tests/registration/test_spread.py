"""The stated uncertainty of places against placements drawn at random: points set wrongly, outlines found in noise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.board import Board, Mark
from irspot.camera import Optics
from irspot.constants import EDGE_U_PX
from irspot.placing import CornersPx, PointsPx
from irspot.registration import place
from irspot.registration.find_board import find_board
from irspot.registration.placement import Placement
from irspot.registration.spread import largest_u, mapping_covariance, place_covariances_px, point_u_px, steps_px
from irspot.shapes import rectangle
from irspot.synthetic.view import project
from tests.registration.outline_frames import BENT, SIZE, TILTED, frame_of, noisy, view

BOARD = Board("spread", rectangle(0.0, 0.0, 213.0, 131.0))
MARKS = tuple(Mark(f"m{n}", x, y) for n, (x, y) in enumerate([(7, 9), (205, 12), (199, 122), (11, 118), (100, 60)]))
PLACES = np.array([[0.0, 0.0], [213.0, 131.0], [106.0, 65.0], [30.0, 100.0]])


def corners_of(optics: Optics, points_mm: np.ndarray, height_mm: float = 0.0) -> np.ndarray:
    return project(np.column_stack([points_mm, np.full(len(points_mm), height_mm)]), TILTED, "front", optics, SIZE)


def by_corners(optics: Optics, off: np.ndarray) -> Placement:
    corners = corners_of(optics, BOARD.outline.array_mm) + off
    return place(BOARD, SIZE, optics, CornersPx(tuple(map(tuple, corners.tolist()))))


def by_marks(optics: Optics, off: np.ndarray) -> Placement:
    board = replace(BOARD, marks=MARKS)
    places = corners_of(optics, np.array([[m.x_mm, m.y_mm] for m in MARKS])) + off
    points = tuple((mark.id, x, y) for mark, (x, y) in zip(MARKS, places.tolist(), strict=True))
    return place(board, SIZE, optics, PointsPx(points))


@pytest.mark.parametrize(("how", "count"), [(by_corners, 4), (by_marks, 5)])
def test_points_set_by_hand_scatter_places_as_stated(how, count: int) -> None:
    random = np.random.default_rng(41)
    stated = place_covariances_px(how(BENT, np.zeros((count, 2))), PLACES)
    found = np.array([how(BENT, random.normal(0.0, 0.5, (count, 2))).to_px(PLACES) for _ in range(1500)])
    for k in range(len(PLACES)):
        scattered = np.cov(found[:, k].T)
        # 1,500 draws know a variance to 4 %.
        np.testing.assert_allclose(scattered, stated[k], rtol=0.15, atol=0.05 * np.trace(stated[k]))


def test_a_raised_place_scatters_with_the_pose() -> None:
    random = np.random.default_rng(42)
    height = 35.0
    true = by_corners(BENT, np.zeros((4, 2)))
    stated = place_covariances_px(true, PLACES, height)
    flat = place_covariances_px(true, PLACES)
    found = np.array(
        [by_corners(BENT, random.normal(0.0, 0.5, (4, 2))).raised(height).to_px(PLACES) for _ in range(400)]
    )
    for k in range(len(PLACES)):
        np.testing.assert_allclose(np.cov(found[:, k].T), stated[k], rtol=0.3, atol=0.15 * np.trace(stated[k]))
    assert np.all(np.trace(stated, axis1=1, axis2=2) > 1.3 * np.trace(flat, axis1=1, axis2=2))


def test_without_a_focal_length_height_changes_nothing() -> None:
    corners = ((10.3, 240.0), (303.2, 233.1), (299.0, 8.4), (18.7, 4.9))
    bare = place(BOARD, SIZE, Optics(), CornersPx(corners))
    np.testing.assert_array_equal(place_covariances_px(bare, PLACES, 30.0), place_covariances_px(bare, PLACES))


def test_outlines_found_in_noise_lie_within_twice_what_is_stated() -> None:
    """Corners of found boards against the truth, in units of their stated uncertainty along each axis."""
    seen = view(optics=BENT)
    truth = seen.to_px(BOARD.outline.array_mm)
    still = frame_of(seen)
    misses = []
    for seed in range(12):
        found = find_board(noisy(still, 0.3, seed), BOARD, BENT, top="up", noise_k=0.3)
        u_px = np.sqrt(np.diagonal(place_covariances_px(found, BOARD.outline.array_mm), axis1=1, axis2=2))
        misses.append((found.to_px(BOARD.outline.array_mm) - truth) / u_px)
        assert found.share_held is not None
        assert 0.5 < found.share_held <= 1.0
    assert np.mean(np.abs(misses) < 2.0) >= 0.95


def test_what_a_search_says_of_itself_is_not_all() -> None:
    found = find_board(frame_of(view(optics=BENT)), BOARD, BENT, top="up")
    u_px = found.u_px_at(BOARD.outline.array_mm)
    assert np.all(u_px > 0.9 * EDGE_U_PX)
    assert np.all(u_px < 2.0 * EDGE_U_PX)


def test_misfits_larger_than_stated_widen() -> None:
    off = np.array([[4.0, 0.0], [-4.0, 0.0], [4.0, 0.0], [-4.0, 0.0], [0.0, 4.0]])
    crooked = by_marks(BENT, off)
    # Five points leave two degrees of freedom.
    assert point_u_px(crooked) == pytest.approx(crooked.residual_px * np.sqrt(5.0 / 2.0))
    assert point_u_px(by_marks(BENT, np.zeros((5, 2)))) == 0.5
    assert point_u_px(by_corners(BENT, np.zeros((4, 2)))) == 0.5


def test_the_largest_direction_counts() -> None:
    turn = np.array([[np.cos(0.4), -np.sin(0.4)], [np.sin(0.4), np.cos(0.4)]])
    covariance = turn @ np.diag([9.0, 4.0]) @ turn.T
    assert largest_u(covariance[None])[0] == pytest.approx(3.0)


def test_where_nothing_is_known_nothing_is_stated() -> None:
    bare = Placement(np.diag([1.0, -1.0, 1.0]), "front", Optics(), SIZE, "corners", 0.0, 0.0, 4)
    assert mapping_covariance(bare) is None
    assert steps_px(bare, PLACES) is None
    assert np.isnan(bare.u_px_at(PLACES)).all()


def test_a_corner_of_four_is_as_uncertain_as_the_point_set_there() -> None:
    straight = place(BOARD, SIZE, Optics(), CornersPx(((10.0, 200.0), (300.0, 200.0), (300.0, 20.0), (10.0, 20.0))))
    np.testing.assert_allclose(straight.u_px_at(BOARD.outline.array_mm), 0.5, rtol=1e-3)
