"""Outlines are moved onto edges to a part of a pixel, and what is said about the error covers it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.camera import Optics
from irspot.registration.outline_score import outline_points
from irspot.registration.refine import Refined, edge_shifts, refine
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
    return refine(
        degc, outline_points(outline.array_mm, count), matrix, optics, SIZE,
        noise_k=noise_k, blur_px=blur, reaches_px=(4.0 + blur, 2.0 + blur, 1.5 + blur, 1.5 + blur),
    )  # fmt: skip


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


def with_false_edge(seen, moved_mm: float):
    """Draw a board that ends `moved_mm` beyond where its outline says, on the side x = 213."""
    from irspot.shapes import Polygon

    longer = Polygon(((0.0, 0.0), (213.0 + moved_mm, 0.0), (213.0 + moved_mm, 131.0), (0.0, 131.0)))
    return noisy(frame_of(seen, longer), 0.1, 4)


def shifts_of(degc, seen):
    points = outline_points(BOARD.array_mm, 480)
    found = refined(degc, BOARD, seen.matrix(), seen.optics, 0.1)
    return edge_shifts(degc, points, found, seen.optics, SIZE, noise_k=0.1, blur_px=seen.optics.blur_px)


def test_edges_that_are_the_boards_own_lie_where_the_others_say() -> None:
    shifts = shifts_of(frame_of(view(TILTED)), view(TILTED))
    assert len(shifts) == 4
    assert all(shift is not None and shift[0] < 0.5 for shift in shifts)


def test_a_false_edge_lies_elsewhere_than_the_others_say() -> None:
    seen = view(TILTED)
    own, false = shifts_of(with_false_edge(seen, 0.0), seen), shifts_of(with_false_edge(seen, 4.0), seen)
    assert false[1][0] > 2.0
    assert false[1][0] > 5.0 * own[1][0]


def test_without_a_focal_length_other_edges_say_nothing() -> None:
    seen = view(TILTED)
    bare = replace(LENS, focal_px=None)
    degc, points = frame_of(seen), outline_points(BOARD.array_mm, 480)
    found = refined(degc, BOARD, seen.matrix(), bare, 0.05)
    assert edge_shifts(degc, points, found, bare, SIZE, noise_k=0.05, blur_px=1.3) == (None,) * 4
