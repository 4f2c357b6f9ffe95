"""Places of a bar's colours: exact where equal steps show, whatever the bar's length."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.decoding.bar_levels import exact_levels
from irspot.decoding.lossy_bar import lossy_levels
from irspot.synthetic.color_frames import color_table, colored


def drawn(cmap: str, length: int, steps: int | None) -> np.ndarray:
    return colored((np.arange(length) + 0.5) / length, cmap, steps).astype(float)


@pytest.mark.parametrize("length", [168, 192, 226, 300, 336, 455])
@pytest.mark.parametrize("cmap", ["inferno", "turbo", "gnuplot2", "nipy_spectral", "gray"])
def test_places_of_256_steps_are_found_exactly(cmap: str, length: int) -> None:
    levels = exact_levels(drawn(cmap, length, 256))
    table = np.rint(color_table(cmap, 256))
    truth = np.array([np.mean(np.flatnonzero((table == color).all(axis=1)) + 0.5) / 256.0 for color in levels.colors])
    assert levels.fixed
    # Where a colour stands for two steps and the bar shows one of them, half a step is left.
    assert np.abs(levels.places - truth).max() <= 0.51 / 256.0
    assert np.mean(np.abs(levels.places - truth) < 1e-9) > 0.97


@pytest.mark.parametrize("steps", [7, 16, 32, 100])
def test_wide_steps_are_found(steps: int) -> None:
    levels = exact_levels(drawn("viridis", 336, steps))
    assert np.allclose(levels.places, (np.arange(steps) + 0.5) / steps)
    assert np.allclose(levels.widths, 1.0 / steps)


def test_a_smooth_bar_is_not_taken_for_steps() -> None:
    levels = exact_levels(drawn("turbo", 336, None))
    assert np.allclose(levels.places, (np.arange(336) + 0.5) / 336.0)
    assert not levels.fixed


def test_even_changes_are_not_taken_for_more_steps_than_there_are() -> None:
    """A drawing library's own rule where a step begins is half a pixel off: no 256 steps fit, but 302 would."""
    begins = np.floor(np.arange(1, 256) * 558 / 256 + 0.5).astype(int)
    number = np.searchsorted(begins, np.arange(558), side="right")
    levels = exact_levels(np.rint(color_table("gnuplot2", 256))[number])
    assert np.abs(levels.places * 256.0 - np.arange(256) - 0.5).max() < 0.3
    assert np.allclose(levels.widths[1:-1] * 256.0, 1.0)


def test_a_mixed_pixel_at_an_end_does_not_make_other_steps_fit() -> None:
    """Its colour keeps the pace, so that only its place gives it away; 982 steps would fit every change."""
    begins = np.floor(np.arange(1, 256) * 1240 / 256 + 0.5).astype(int)
    number = np.searchsorted(begins, np.arange(1240), side="right")
    line = np.rint(color_table("nipy_spectral", 256))[number][1:-1]
    line[-1] = 0.95 * line[-2]
    levels = exact_levels(np.rint(line))
    table = np.rint(color_table("nipy_spectral", 256))
    truth = [np.mean(np.flatnonzero((table == color).all(axis=1)) + 0.5) for color in levels.colors[1:-1]]
    assert np.abs(levels.places[1:-1] * 256.0 - truth).max() < 0.05


@pytest.mark.parametrize("cut", [(1, 0), (0, 1), (1, 1)])
def test_a_missed_end_pixel_does_not_shift_even_steps(cut: tuple[int, int]) -> None:
    line = drawn("inferno", 462, 256)
    levels = exact_levels(line[cut[0] : 462 - cut[1]])
    whole = exact_levels(line)
    assert np.abs(levels.places - whole.places).max() < 1e-9


@pytest.mark.parametrize("length", [462, 619, 928])
def test_a_colour_of_several_steps_does_not_shift_the_others(length: int) -> None:
    """Jet has four steps of one blue; a pixel of the frame lies over either end."""
    line = drawn("jet", length, 256)
    whole = exact_levels(line)
    missed = exact_levels(line[1:-1])
    assert len(missed.places) == len(whole.places)
    assert np.abs(missed.places - whole.places).max() < 1e-9


@pytest.mark.parametrize("cmap", ["inferno", "jet", "nipy_spectral", "hot"])
def test_noise_is_smoothed_and_corners_are_kept(cmap: str) -> None:
    rng = np.random.default_rng(5)
    clean = drawn(cmap, 336, None)
    noisy = clean + rng.normal(0.0, 1.0, clean.shape)
    levels, noise = lossy_levels(noisy, chroma_shared=False)
    inside = slice(4, -4)
    assert 0.6 < noise < 1.3
    assert np.sqrt(np.mean((levels.colors - clean)[inside] ** 2)) < 0.55
    assert np.abs(levels.colors - clean)[inside].max() < 3.5


@pytest.mark.parametrize("steps", [8, 16, 20])
def test_wide_steps_are_found_under_noise(steps: int) -> None:
    noisy = drawn("turbo", 336, steps) + np.random.default_rng(6).normal(0.0, 1.0, (336, 3))
    levels, _ = lossy_levels(noisy, chroma_shared=False)
    assert np.allclose(levels.places, (np.arange(steps) + 0.5) / steps)
