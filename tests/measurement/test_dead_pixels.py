"""Dead pixels: found where they stand alone, never where heat does."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.measurement.dead_pixels import declared_dead, found_dead

SHAPE = (61, 83)


def scene(seed: int, noise_k: float) -> np.ndarray:
    """A slope with a warm, blurred block, and noise."""
    y, x = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    block = 25.0 / (1.0 + np.exp(-(12.0 - np.hypot(x - 50, y - 20)) / 0.8))
    noise = np.random.default_rng(seed).normal(0.0, noise_k, SHAPE)
    return (30.0 + 0.08 * x + 0.11 * y + block + noise).astype(np.float32)


def spot(x0: float, y0: float, blur_px: float, height_k: float) -> np.ndarray:
    """A point of heat under a Gaussian point spread, as it falls on the pixels' centres: the sharpest picture of it."""
    y, x = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    return height_k * np.exp(-((x - x0) ** 2 + (y - y0) ** 2) / (2.0 * blur_px**2))


def found(image: np.ndarray, noise_k: float = 0.05, blur_px: float | None = None) -> np.ndarray:
    return found_dead(image.astype(np.float32), np.isfinite(image), noise_k=noise_k, blur_px=blur_px)


@pytest.mark.parametrize("blur_px", [0.5, 0.6, 0.8, 1.2])
@pytest.mark.parametrize("declared", [False, True])
def test_real_small_hot_spots_stay(blur_px: float, declared: bool) -> None:
    rng = np.random.default_rng(int(100 * blur_px))
    for trial in range(400):
        noise_k = rng.choice([0.02, 0.05, 0.1])
        # Every fourth right on a pixel, where a spot is sharpest; from faint to glowing, hot and cold.
        offset = (0.0, 0.0) if trial % 4 == 0 else rng.uniform(-0.5, 0.5, 2)
        height_k = rng.choice([-1.0, 1.0]) * 10 ** rng.uniform(0.3, 2.3)
        image = scene(trial, noise_k) + spot(20 + offset[0], 40 + offset[1], blur_px, height_k)
        assert not found(image, noise_k, blur_px if declared else None)[38:43, 18:23].any(), (trial, height_k)


@pytest.mark.parametrize("kind", ["edge", "line", "slanted line", "line end", "corner", "checker"])
def test_edges_lines_and_corners_stay(kind: str) -> None:
    """Sharp structure seen through a lens of half a pixel, computed on a grid eight times finer."""
    fine = 8
    y, x = np.mgrid[0 : SHAPE[0] * fine, 0 : SHAPE[1] * fine] / fine
    shapes = {
        "edge": x > 30.3,
        "line": np.abs(x - 30.2) < 0.4,
        "slanted line": np.abs(x - y - 5.3) < 0.4,
        "line end": (np.abs(x - 30.2) < 0.4) & (y > 25.1),
        "corner": (x > 30.3) & (y > 25.1),
        "checker": (np.floor(x / 3) + np.floor(y / 3)) % 2 == 0,
    }
    from scipy.ndimage import gaussian_filter

    sharp = gaussian_filter(30.0 + 60.0 * shapes[kind], 0.5 * fine)
    image = sharp[fine // 2 :: fine, fine // 2 :: fine] + np.random.default_rng(1).normal(0.0, 0.05, SHAPE)
    assert not found(image).any()


@pytest.mark.parametrize("excess_k", [-400.0, -30.0, -6.0, 6.0, 30.0, 400.0])
def test_single_dead_pixels_are_found(excess_k: float) -> None:
    rng = np.random.default_rng(9)
    hits = trials = 0
    for trial in range(300):
        image = scene(trial, 0.05)
        row, column = int(rng.integers(0, SHAPE[0])), int(rng.integers(0, SHAPE[1]))
        on_the_edge_of_the_block = abs(np.hypot(column - 50, row - 20) - 12) < 6
        in_a_corner = row in (0, SHAPE[0] - 1) and column in (0, SHAPE[1] - 1)
        if on_the_edge_of_the_block or in_a_corner:
            continue
        image[row, column] += excess_k
        marked = found(image)
        trials += 1
        hits += bool(marked[row, column])
        assert marked.sum() == marked[row, column], "nothing else may be marked"
    assert trials > 200
    assert hits >= 0.97 * trials


def test_a_dead_pixel_on_an_edge_is_found_if_it_is_far_off() -> None:
    image = scene(3, 0.05)
    image[20, 38] = 400.0
    assert np.argwhere(found(image)).tolist() == [[20, 38]]


def test_a_sharper_declared_lens_finds_no_more_than_half_a_pixel_allows() -> None:
    image = scene(1, 0.05) + spot(20, 40, 0.5, 80.0)
    assert not found(image, blur_px=0.1).any()
    # A soft lens cannot make so sharp a spot.
    assert np.argwhere(found(image, blur_px=1.5)).tolist() == [[40, 20]]


def test_noise_alone_and_blobs_are_not_found() -> None:
    marked = 0
    for seed in range(40):
        marked += int(found(scene(seed, 0.3), noise_k=0.05).sum())
    assert marked == 0
    image = scene(0, 0.05)
    image[30, 30:32] = 200.0
    assert not found(image).any()


def test_coarsely_stepped_frames_are_not_full_of_dead_pixels() -> None:
    image = np.round(scene(0, 0.1) / 0.5) * 0.5
    assert not found(image, noise_k=0.01).any()


def test_pixels_without_numbers_are_no_neighbours() -> None:
    image = scene(0, 0.05)
    image[10, 10] = 90.0
    image[10, 11] = np.nan
    image[40, 40] = np.nan
    assert np.argwhere(found(image)).tolist() == [[10, 10]]
    # With most of its neighbours gone there is too little to go by.
    image[9:12, 9:12] = np.nan
    image[10, 10], image[10, 9] = 90.0, 35.0
    assert not found(image).any()


def test_known_dead_neighbours_do_not_hide_one() -> None:
    image = scene(0, 0.05)
    image[30, 30], image[30, 31] = 200.0, 200.0
    sound = np.ones(SHAPE, dtype=bool)
    sound[30, 31] = False
    assert np.argwhere(found_dead(image, sound, noise_k=0.05)).tolist() == [[30, 30]]


def test_declared_pixels_are_x_y_and_may_lie_outside() -> None:
    dead = declared_dead(((12, 40), (82, 60), (83, 0), (0, 61), (-1, 5)), SHAPE)
    assert np.argwhere(dead).tolist() == [[40, 12], [60, 82]]
