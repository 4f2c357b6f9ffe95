"""Edges where they were drawn, the way they run, and nothing in noise."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, map_coordinates

from irspot.registration.edge_map import WAYS, edge_map, noise_of, read, without_gaps
from tests.registration.outline_frames import noisy


def edge_frame(shape, turn_deg: float, offset_px: float, *, low=21.3, high=34.7, blur=1.2):
    """Draw one straight edge with `high` along the normal; the foot of the frame's middle is `offset_px` away."""
    fine = 2
    y, x = (np.mgrid[: shape[0] * fine, : shape[1] * fine] + 0.5) / fine - 0.5
    turn = np.deg2rad(turn_deg)
    middle = (np.array(shape[::-1]) - 1) / 2.0
    off = (x - middle[0]) * np.cos(turn) + (y - middle[1]) * np.sin(turn) - offset_px
    image = low + (high - low) * np.clip(off * fine + 0.5, 0.0, 1.0)
    image = gaussian_filter(image, blur * fine, mode="nearest")
    return image.reshape(shape[0], fine, shape[1], fine).mean(axis=(1, 3)).astype(np.float32)


SIZES = {(121, 157): 0.5, (251, 323): 1.0, (499, 643): 2.0, (767, 1021): 3.0}


@pytest.mark.parametrize(("shape", "scale"), SIZES.items())
@pytest.mark.parametrize("turn_deg", [3.0, 52.0, -128.0])
def test_crests_lie_on_the_edge_and_face_the_warm_side(shape, scale: float, turn_deg: float) -> None:
    offset = 7.37
    edges = edge_map(noisy(edge_frame(shape, turn_deg, offset), 0.05, 1), 0.05)
    assert edges.scale == scale
    turn = np.deg2rad(turn_deg)
    normal = np.array([np.cos(turn), np.sin(turn)])
    off = (edges.points_px - (np.array(shape[::-1]) - 1) / 2.0) @ normal - offset
    inner = np.all((edges.points_px > 8) & (edges.points_px < np.array(shape[::-1]) - 9), axis=1)
    inner &= edges.weights > 0.5
    assert inner.sum() > 0.6 * min(shape) / scale
    assert np.abs(np.median(off[inner])) < 0.05 * max(1.0, scale)
    assert np.quantile(np.abs(off[inner]), 0.95) < 0.3 * max(1.0, scale)
    assert np.quantile(edges.normals[inner] @ normal, 0.05) > 0.98
    np.testing.assert_allclose(np.hypot(*edges.normals.T), 1.0, rtol=1e-5)


@pytest.mark.parametrize("turn_deg", [0.0, 45.0, 90.0, 135.0, -165.0])
def test_edges_are_told_apart_by_the_way_they_run(turn_deg: float) -> None:
    edges = edge_map(edge_frame((251, 323), turn_deg, 4.0), 0.02)
    assert edges.ways.shape == (WAYS, *edges.strength.shape)
    totals = edges.ways[:, 20:-20, 20:-20].sum(axis=(1, 2))
    own = round(turn_deg / (180.0 / WAYS)) % WAYS
    apart = np.abs((np.arange(WAYS) - own + WAYS // 2) % WAYS - WAYS // 2)
    assert totals.argmax() == own
    assert totals[apart >= 3].max() < 0.02 * totals[own]


def test_the_sign_of_an_edge_does_not_matter() -> None:
    degc = noisy(edge_frame((251, 323), 23.0, -11.0), 0.05, 2)
    one, other = edge_map(degc, 0.05), edge_map(55.0 - degc, 0.05)
    np.testing.assert_allclose(one.strength, other.strength, atol=1e-3)
    np.testing.assert_allclose(one.ways, other.ways, atol=2e-3)


@pytest.mark.parametrize(
    ("shape", "noise_k", "most"),
    [((121, 157), 0.15, 1e-4), ((251, 323), 0.02, 1e-4), ((499, 643), 0.15, 1e-4)],
)
@pytest.mark.parametrize("blur_px", [0.0, 2.5])
def test_noise_alone_has_hardly_an_edge(shape, noise_k: float, most: float, blur_px: float) -> None:
    degc = noisy(np.full(shape, 23.0, np.float32), noise_k, 3)
    assert (edge_map(degc, noise_k, blur_px).strength > 0.15).mean() < most


def test_a_wide_edge_is_found_by_a_wide_filter() -> None:
    """Of an edge blurred by 2.4 px in a small frame, twice interpolated."""
    degc = noisy(edge_frame((121, 157), 31.0, 5.0, low=22.0, high=25.0, blur=2.4), 0.15, 4)
    plain, knowing = edge_map(degc, 0.15), edge_map(degc, 0.15, 2.4)
    best = [edges.strength[20:-20, 20:-20].max(axis=1) for edges in (plain, knowing)]
    assert np.quantile(best[1], 0.05) > 0.6
    assert np.quantile(best[1], 0.05) > np.quantile(best[0], 0.05) + 0.1


@pytest.mark.parametrize("noise_k", [0.02, 0.15])
def test_noise_is_estimated_beside_slopes_and_edges(noise_k: float) -> None:
    y, x = np.mgrid[:251, :323]
    degc = edge_frame((251, 323), 31.0, 5.0) + (0.05 * x - 0.02 * y + 2e-5 * x * y).astype(np.float32)
    assert noise_of(noisy(degc, noise_k, 4)) == pytest.approx(noise_k, rel=0.05)


def test_frames_too_small_for_an_estimate_have_no_noise() -> None:
    assert noise_of(np.ones((2, 9), np.float32)) == 0.0


def test_gaps_are_filled_by_their_neighbours_and_large_ones_by_the_median() -> None:
    degc = np.arange(21 * 30, dtype=np.float32).reshape(21, 30)
    assert without_gaps(degc) is degc
    whole = degc.copy()
    degc[4, 6] = degc[4, 7] = np.nan
    degc[10:21, 15:30] = np.nan
    filled = without_gaps(degc)
    known = np.isfinite(degc)
    np.testing.assert_array_equal(filled[known], degc[known])
    square = whole[2:7, 4:9].sum() - whole[4, 6] - whole[4, 7]
    assert filled[4, 6] == pytest.approx(square / 23.0, rel=1e-5)
    assert filled[18, 25] == np.float32(np.median(degc[known]))
    assert np.isfinite(filled).all()
    assert np.isnan(without_gaps(np.full((3, 4), np.nan, np.float32))).all()


@pytest.mark.parametrize("count", [0, 1, 1023, 1024, 1025, 40_000])
def test_planes_are_read_between_pixels_whatever_the_number_of_places(count: int) -> None:
    random = np.random.default_rng(count)
    plane = random.uniform(20.0, 40.0, (41, 53)).astype(np.float32)
    x, y = random.uniform(-3.0, 56.0, count), random.uniform(-3.0, 44.0, count)
    wanted = map_coordinates(plane.astype(np.float64), [y, x], order=1, mode="nearest")
    # OpenCV tells 32 places apart between two pixels, 1/64 px at most from the place asked for.
    np.testing.assert_allclose(read(plane, x, y), wanted, atol=2.0 * 20.0 / 64.0)
    whole = read(plane, np.rint(x).clip(0, 52), np.rint(y).clip(0, 40))
    np.testing.assert_array_equal(whole, plane[np.rint(y).clip(0, 40).astype(int), np.rint(x).clip(0, 52).astype(int)])
