"""Placements carried along with a motion: where they end, how uncertain they are, what counts as a nudge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.camera import Optics
from irspot.registration.homography import apply
from irspot.registration.motions import FreeMotion
from irspot.registration.moved import Moved, carried_placement, motion_u_px, moved_between
from irspot.registration.placement import Placement

# 2 px a mm, seen a little aslant.
MATRIX = np.array([[2.0, 0.1, 60.0], [0.05, -2.0, 260.0], [1e-4, -2e-4, 1.0]])
CORNERS = np.array([[0.0, 0.0], [120.0, 0.0], [120.0, 90.0], [0.0, 90.0]])
MOTION = FreeMotion(apply(MATRIX, CORNERS).mean(axis=0), 150.0)
BY = np.array([6.0, -3.0, 4.0, 1.0, 0.5, -0.5, 1.0, -1.0])


def placement(covariance: np.ndarray | None = None) -> Placement:
    return Placement(MATRIX, "front", Optics(), (400, 300), "auto", 0.1, 0.05, 80, covariance=covariance)


def spread(draws: np.ndarray) -> np.ndarray:
    return np.cov(np.asarray(draws).reshape(len(draws), -1).T)


def test_places_go_where_the_motion_takes_them() -> None:
    carried = carried_placement(placement(), MOTION, BY, np.zeros((8, 8)))
    expected = apply(MOTION.matrix(BY), apply(MATRIX, CORNERS))
    assert np.allclose(carried.to_px(CORNERS), expected)
    assert carried.matrix[2, 2] == 1.0
    assert carried.covariance is None


def test_both_uncertainties_are_in_the_carried_placement() -> None:
    random = np.random.default_rng(0)
    # Entries of a mapping are uncertain by what moves places by some tenths of a px.
    root = random.normal(size=(8, 8)) * np.array([2e-4, 2e-4, 2e-2, 2e-4, 2e-4, 2e-2, 5e-7, 5e-7])[:, None]
    own = 0.01 * np.eye(8)
    found = carried_placement(placement(root @ root.T), MOTION, BY, own).covariance
    draws = []
    for _ in range(2000):
        off = MATRIX + np.append(root @ random.standard_normal(8), 0.0).reshape(3, 3)
        by = BY + 0.1 * random.standard_normal(8)
        warped = MOTION.matrix(by) @ off
        draws.append((warped / warped[2, 2]).ravel()[:8])
    assert found is not None
    assert np.allclose(np.sqrt(np.diag(found)), np.sqrt(np.diag(spread(np.array(draws)))), rtol=0.08)


def test_the_motions_own_uncertainty_at_places() -> None:
    random = np.random.default_rng(1)
    draws = [apply(MOTION.matrix(BY + 0.1 * random.standard_normal(8)) @ MATRIX, CORNERS) for _ in range(2000)]
    largest = [np.sqrt(np.linalg.eigvalsh(spread(np.array(draws)[:, k])).max()) for k in range(4)]
    assert np.allclose(motion_u_px(placement(), MOTION, BY, 0.01 * np.eye(8), CORNERS), largest, rtol=0.08)


def test_a_move_is_that_of_the_corner_that_moved_most() -> None:
    turned = replace(placement(), matrix=np.array([[2.0, 0.0, 0.0], [0.0, -2.0, 300.0], [0.0, 0.0, 1.0]]))
    # The upper right corner by 3 mm to the right, the others less.
    stretched = replace(turned, matrix=turned.matrix @ np.diag([1.025, 1.0, 1.0]))
    moved = moved_between(turned, stretched, CORNERS, np.full(4, 0.2))
    assert moved.mm == pytest.approx(3.0)
    assert moved.px == pytest.approx(6.0)
    assert moved.u_mm == pytest.approx(0.1)
    assert moved.is_nudge


def test_small_and_uncertain_moves_are_no_nudges() -> None:
    assert not Moved(px=0.7, mm=0.35, u_px=0.1, u_mm=0.05).is_nudge
    assert not Moved(px=1.0, mm=2.0, u_px=0.3, u_mm=0.6).is_nudge
    assert Moved(px=1.0, mm=0.5, u_px=0.1, u_mm=0.05).is_nudge
