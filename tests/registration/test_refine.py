"""Outlines are moved onto edges to a part of a pixel, and what is said about the error covers it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.camera import Optics
from irspot.registration.edge_profiles import profiles_of
from irspot.registration.outline_score import outline_points
from irspot.registration.refine import Refined, refine
from tests.registration.outline_frames import (
    BENT,
    BOARD,
    LENS,
    NOTCHED,
    SIZE,
    SLANTED,
    TILTED,
    carried,
    corner_slopes,
    frame_of,
    noisy,
    view,
)


def refined(degc, outline, matrix, optics: Optics, noise_k: float, count: int = 480) -> Refined | None:
    blur = optics.blur_px or 1.0
    reaches = (4.0 + blur, 2.0 + blur, 1.5 + blur, 1.5 + blur)
    points = outline_points(outline.array_mm, count)
    return refine(profiles_of(degc, noise_k, blur), points, matrix[None], optics, SIZE, reaches)[0]


def corner_errors(found: Refined, seen, outline):
    return carried(found.matrix, outline.array_mm) - carried(seen.matrix(), outline.array_mm)


NEAR = np.array([[1.004, -0.006, 2.1], [0.005, 0.997, -1.8], [0.0, 0.0, 1.0]])


@pytest.mark.parametrize("known_focal", [True, False])
@pytest.mark.parametrize(
    ("pose", "optics", "outline"), [(TILTED, LENS, BOARD), (TILTED, BENT, NOTCHED), (SLANTED, LENS, NOTCHED)]
)
def test_a_start_three_pixels_off_ends_on_the_edges(pose, optics: Optics, outline, known_focal: bool) -> None:
    seen = view(pose, optics)
    given = optics if known_focal or optics.distorted else replace(optics, focal_px=None)
    found = refined(noisy(frame_of(seen, outline), 0.1, 1), outline, NEAR @ seen.matrix(), given, 0.1)
    assert found is not None
    assert np.abs(corner_errors(found, seen, outline)).max() < 0.12
    assert found.share_held > 0.9
    assert found.seen.all()
    assert found.residual_px < 0.2


@pytest.mark.parametrize(
    ("pose", "optics", "outline", "step_k"),
    [
        (TILTED, LENS, BOARD, 1.5),
        (TILTED, replace(LENS, blur_px=2.5), BOARD, 3.0),
        (SLANTED, replace(LENS, blur_px=2.5), NOTCHED, 5.0),
        (SLANTED, LENS, NOTCHED, 1.5),
    ],
)
def test_corner_errors_are_covered_by_two_standard_uncertainties(pose, optics, outline, step_k: float) -> None:
    """About 95 % where noise decides; where the sampling of edges does, which is counted as noise, more."""
    seen = view(pose, optics)
    clean, noise_k, covered = frame_of(seen, outline, board_degc=24.0 + step_k), 0.15, []
    for seed in range(30):
        found = refined(noisy(clean, noise_k, seed), outline, seen.matrix(), optics, noise_k)
        slopes = corner_slopes(found.matrix, outline.array_mm)
        u_px = np.sqrt(np.einsum("ij,jk,ik->i", slopes, found.covariance, slopes))
        covered.append(np.abs(corner_errors(found, seen, outline).ravel()) < 2.0 * u_px)
    # 30 frames of some ten nearly independent errors each: 95 % is found to about 1.5 %.
    assert np.mean(covered) > 0.92


def test_twice_the_points_promise_no_more_where_noise_moves_them_together() -> None:
    seen = view(TILTED, replace(LENS, blur_px=2.5))
    degc = noisy(frame_of(seen, board_degc=27.0), 0.15, 3)
    spreads = []
    for count in (480, 960, 1920):
        found = refined(degc, BOARD, seen.matrix(), seen.optics, 0.15, count)
        slopes = corner_slopes(found.matrix, BOARD.array_mm)
        spreads.append(np.sqrt(np.trace(slopes @ found.covariance @ slopes.T)) / found.residual_px)
    np.testing.assert_allclose(spreads, spreads[0], rtol=0.05)


@pytest.mark.parametrize("degc", [np.full((251, 323), 23.0, np.float32), np.full((251, 323), np.nan, np.float32)])
def test_without_edges_nothing_is_held(degc) -> None:
    assert refined(degc, BOARD, view().matrix(), LENS, 0.05) is None


def test_outlines_are_moved_together_as_each_would_be_alone() -> None:
    seen = view(TILTED, BENT)
    points, start = outline_points(NOTCHED.array_mm, 240), seen.matrix()
    profiles = profiles_of(noisy(frame_of(seen, NOTCHED), 0.1, 5), 0.1, 1.3)
    away = np.array([[1.0, 0.0, 400.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]) @ start
    starts = np.stack([NEAR @ start, away, start])
    together = refine(profiles, points, starts, BENT, SIZE, (5.0, 3.0))
    alone = [refine(profiles, points, each[None], BENT, SIZE, (5.0, 3.0))[0] for each in starts]
    assert together[1] is None
    assert alone[1] is None
    for one, other in zip(together[::2], alone[::2], strict=True):
        np.testing.assert_allclose(one.matrix, other.matrix, rtol=1e-9, atol=1e-9)
        np.testing.assert_allclose(one.covariance, other.covariance, rtol=1e-6)
        np.testing.assert_array_equal(one.held, other.held)


def test_a_focal_length_that_is_a_little_wrong_does_no_harm_where_every_edge_shows() -> None:
    seen = view(TILTED)
    wrong = replace(LENS, focal_px=LENS.focal_px * 1.06)
    found = refined(noisy(frame_of(seen), 0.05, 6), BOARD, seen.matrix(), wrong, 0.05)
    assert np.abs(corner_errors(found, seen, BOARD)).max() < 0.15
