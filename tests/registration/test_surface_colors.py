"""The colour of a surface in light and shadow."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.registration.surface_colors import color_of_surface, smoothed

WOOD = np.array([160.0, 122.0, 84.0])


def bench(noise: float = 3.0, right: float = 0.0) -> np.ndarray:
    """A bench of one colour, lit more to the right, with a green board in its middle."""
    random = np.random.default_rng(1)
    light = 1.0 + right * np.linspace(-1.0, 1.0, 240)
    rgb = WOOD * light[None, :, None] + noise * random.standard_normal((180, 240, 3))
    rgb[60:120, 80:160] = (20.0, 80.0, 45.0)
    return np.clip(np.rint(rgb), 0, 255).astype(np.uint8)


def border(shape: tuple[int, int]) -> np.ndarray:
    ring = np.ones(shape, bool)
    ring[9:-9, 9:-9] = False
    return ring


@pytest.mark.parametrize("right", [0.0, 0.25])
def test_what_is_bench_is_near_and_what_is_none_is_apart(right: float):
    smooth = smoothed(bench(right=right))
    apart = color_of_surface(smooth, border((180, 240))).apart_everywhere(smooth)
    board = np.zeros((180, 240), bool)
    board[64:116, 84:156] = True
    assert np.percentile(apart[board], 1) > 12.0
    beside = np.ones((180, 240), bool)
    beside[54:126, 74:166] = False
    assert np.percentile(apart[beside], 99) < 4.0


@pytest.mark.parametrize("left", [0.3, 0.5, 0.8])
def test_a_shadow_is_bench_still(left: float):
    rgb = bench()
    rgb[130:160, 30:200] = np.rint(left * rgb[130:160, 30:200]).astype(np.uint8)
    smooth = smoothed(rgb)
    apart = color_of_surface(smooth, border((180, 240))).apart_everywhere(smooth)
    assert np.percentile(apart[134:156, 34:196], 99) < 5.0


def test_things_on_the_border_do_not_count():
    rgb = bench()
    rgb[:40, 20:60], rgb[150:, 120:140] = (10, 10, 12), (230, 230, 235)
    smooth = smoothed(rgb)
    apart = color_of_surface(smooth, border((180, 240))).apart_everywhere(smooth)
    assert apart[150, 30] < 4.0
    assert apart[5, 40] > 8.0


def test_a_grey_board_on_a_grey_bench_is_no_more_than_a_shadow():
    """What cannot be told is not told: it does not show, and placing refuses."""
    rgb = np.full((100, 100, 3), 140, np.uint8)
    rgb[30:70, 30:70] = 60
    smooth = smoothed(rgb)
    assert color_of_surface(smooth, border((100, 100))).apart_everywhere(smooth)[50, 50] < 1.0
