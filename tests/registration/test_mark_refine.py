"""Marks join a placement by their uncertainty, and not where they contradict it."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.camera import Optics
from irspot.registration.mark_refine import Sighting, entry_slopes, join, px_per_mm
from irspot.registration.placement import Placement

SIZE = (640, 480)
PLAIN = Optics(SIZE)
BENT = Optics(SIZE, 700.0, distortion=(-0.2, 0.05, 0.001, -0.002, 0.0))
TILTED = np.array([[2.0, 0.1, 80.0], [0.05, -1.7, 430.0], [1e-4, 4e-4, 1.0]])
FLAT = np.array([[2.0, 0.0, 80.0], [0.0, -2.0, 430.0], [0.0, 0.0, 1.0]])
MARKS = np.array([[20.0, 20.0], [180.0, 30.0], [170.0, 120.0], [30.0, 110.0], [100.0, 60.0]])


def placed(matrix, optics=PLAIN):
    return Placement(matrix, "front", optics, SIZE, "auto", 0.1, 0.05, 300)


def shifted_by(x, u_x):
    """A covariance that leaves the shift along x open by u_x and everything else by very little."""
    covariance = np.eye(8) * 1e-18
    covariance[2, 2] = u_x**2
    return covariance


def seen_at(placement, shift, u_px=0.1):
    places = placement.to_px(MARKS) + shift
    return tuple(Sighting(f"m{k}", MARKS[k], places[k], u_px) for k in range(len(MARKS)))


@pytest.mark.parametrize("optics", [PLAIN, BENT])
def test_slopes_are_what_small_changes_do(optics):
    here = placed(TILTED, optics)
    slopes = entry_slopes(here, MARKS)
    for entry in range(8):
        step = np.zeros(9)
        step[entry] = 1e-7
        there = placed(TILTED + step.reshape(3, 3), optics)
        np.testing.assert_allclose(
            slopes[:, entry], (there.to_px(MARKS) - here.to_px(MARKS)).ravel() / 1e-7, rtol=2e-3, atol=2e-2
        )
    wide = here.to_px(MARKS + np.array([1e-3, 0.0])) - here.to_px(MARKS)
    np.testing.assert_allclose(px_per_mm(here, MARKS)[:, :, 0], wide / 1e-3, rtol=1e-3, atol=1e-3)


def test_marks_move_what_the_outline_left_open():
    placement = placed(FLAT)
    joined = join(placement, shifted_by(0.0, 0.4), seen_at(placement, np.array([0.6, 0.0])), 1.6)
    # Weighted mean: outline (2 x 0.4)² against marks (0.1² + 0.1²) / 5; seen straight down, holes are not slanted.
    weight = 0.64 / (0.64 + 0.02 / 5)
    assert joined.matrix[0, 2] - FLAT[0, 2] == pytest.approx(0.6 * weight, abs=1e-6)
    np.testing.assert_allclose(np.delete(joined.matrix.ravel(), 2), np.delete(FLAT.ravel(), 2), atol=1e-9)
    assert np.sqrt(joined.covariance[2, 2]) == pytest.approx(np.sqrt(0.02 / 5), rel=0.01)
    assert joined.used == ("m0", "m1", "m2", "m3", "m4")
    assert joined.left_out == ()


def test_marks_hardly_move_what_the_outline_holds():
    placement = placed(FLAT)
    joined = join(placement, shifted_by(0.0, 0.005), seen_at(placement, np.array([0.1, 0.0])), 1.6)
    assert abs(joined.matrix[0, 2] - FLAT[0, 2]) < 0.006


def test_a_mark_that_is_off_is_left_out_and_named():
    placement = placed(FLAT)
    sightings = list(seen_at(placement, np.array([0.3, 0.0])))
    wrong = sightings[2]
    sightings[2] = Sighting(wrong.id, wrong.xy_mm, wrong.xy_px + np.array([0.0, 2.5]), wrong.u_px)
    joined = join(placement, shifted_by(0.0, 0.4), tuple(sightings), 1.6)
    assert joined.left_out == ("m2",)
    assert joined.used == ("m0", "m1", "m3", "m4")
    assert joined.matrix[0, 2] - FLAT[0, 2] == pytest.approx(0.3, abs=0.01)


def test_holes_seen_aslant_do_not_pull_a_placement():
    placement = placed(TILTED)
    # All off by what a hole through 1.6 mm could be: half of its thickness, seen at this tilt.
    axes, lengths, _ = np.linalg.svd(px_per_mm(placement, MARKS)[4])
    slant = axes[:, 1] * 0.5 * 1.6 * lengths[0] * np.sqrt(1.0 - (lengths[1] / lengths[0]) ** 2)
    covariance = np.diag([0.0, 0.0, 0.05**2, 0.0, 0.0, 0.05**2, 0.0, 0.0]) + 1e-18 * np.eye(8)
    held = join(placement, covariance, seen_at(placement, slant), 1.6)
    thin = join(placement, covariance, seen_at(placement, slant), 0.0)
    moved = [np.hypot(*(joined.matrix - TILTED)[:2, 2]) for joined in (held, thin)]
    assert np.hypot(*slant) > 0.4
    assert moved[0] < 0.15
    assert moved[1] > 2.0 * moved[0] or thin.left_out
