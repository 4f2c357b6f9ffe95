"""The sub-pixel place of a maximum, and whether it goes on outside."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from irspot.measurement.hot_spot import continues_outside, sub_pixel, window

SHAPE = (23, 31)


def hill(x0: float, y0: float, blur_px: float) -> np.ndarray:
    y, x = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    return 30.0 + 50.0 * np.exp(-((x - x0) ** 2 + (y - y0) ** 2) / (2.0 * blur_px**2))


def place(values: np.ndarray, usable: np.ndarray | None = None) -> tuple[float, float]:
    usable = np.ones(values.shape, dtype=bool) if usable is None else usable
    row, column = np.unravel_index(np.argmax(np.where(usable, values, -np.inf)), values.shape)
    return sub_pixel(values, usable, int(row), int(column))


@given(
    x0=st.floats(5, 25), y0=st.floats(5, 17), bend_x=st.floats(0.1, 3), bend_y=st.floats(0.1, 3), twist=st.floats(-1, 1)
)
def test_exact_on_quadratic_hills(x0: float, y0: float, bend_x: float, bend_y: float, twist: float) -> None:
    y, x = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    cross = twist * np.sqrt(bend_x * bend_y)
    values = 90.0 - bend_x * (x - x0) ** 2 - bend_y * (y - y0) ** 2 - cross * (x - x0) * (y - y0)
    found = place(values)
    row, column = np.unravel_index(np.argmax(values), SHAPE)
    # A slanted ridge may have its hottest pixel further than half a pixel from its top: there the place stops.
    wanted = np.clip([x0, y0], [column - 0.5, row - 0.5], [column + 0.5, row + 0.5])
    if np.allclose(wanted, [x0, y0]):
        assert found == pytest.approx((x0, y0), abs=1e-6)
    assert abs(found[0] - column) <= 0.5
    assert abs(found[1] - row) <= 0.5


@pytest.mark.parametrize(("blur_px", "within_px"), [(0.8, 0.12), (1.5, 0.06), (3.0, 0.02)])
def test_blurred_points_are_placed_to_a_fraction_of_a_pixel(blur_px: float, within_px: float) -> None:
    rng = np.random.default_rng(0)
    for _ in range(200):
        x0, y0 = rng.uniform(8, 14, 2)
        found = place(hill(x0, y0, blur_px))
        assert np.hypot(found[0] - x0, found[1] - y0) < within_px


def test_noise_moves_a_broad_top_by_little() -> None:
    rng = np.random.default_rng(0)
    misses = [
        np.subtract(place(hill(14.3, 11.8, 2.0) + rng.normal(0.0, 0.05, SHAPE)), (14.3, 11.8)) for _ in range(300)
    ]
    assert np.sqrt(np.mean(np.square(misses))) < 0.03


def test_neighbours_that_do_not_count_are_not_used() -> None:
    values = hill(14.3, 11.8, 1.5)
    usable = np.ones(SHAPE, dtype=bool)
    usable[12, 15] = False
    usable[11, 15] = False
    values[11:13, 15] = np.nan
    # Along x a neighbour is missing on the row of the top; along y both are there.
    x, y = place(values, usable)
    assert x == 14.0
    assert y == pytest.approx(11.8, abs=0.06)


@pytest.mark.parametrize(("x0", "y0"), [(0.0, 10.0), (30.0, 22.0), (12.0, 0.0), (0.0, 0.0)])
def test_at_the_edge_of_the_frame(x0: float, y0: float) -> None:
    x, y = place(hill(x0, y0, 1.5))
    assert (x, y) == pytest.approx((x0, y0), abs=1e-9)


def test_level_ground_and_saddles_keep_the_centre() -> None:
    level = np.full(SHAPE, 40.0)
    assert sub_pixel(level, np.ones(SHAPE, dtype=bool), 7, 9) == (9.0, 7.0)
    y, x = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    saddle = 40.0 - (x - 9.0) ** 2 + (y - 7.0) ** 2
    assert sub_pixel(saddle, np.ones(SHAPE, dtype=bool), 7, 9) == (9.0, 7.0)


def round_the_hottest_inside(values: np.ndarray, inside: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    row, column = np.unravel_index(np.argmax(np.where(inside, values, -np.inf)), values.shape)
    block, sound = window(values, np.isfinite(values), int(row), int(column), 2)
    return block, sound, window(values, inside, int(row), int(column), 2)[1]


def left_half() -> np.ndarray:
    inside = np.zeros(SHAPE, dtype=bool)
    inside[:, :15] = True
    return inside


def test_a_slope_goes_on_outside_and_a_peak_does_not() -> None:
    rng = np.random.default_rng(2)
    noise = rng.normal(0.0, 0.05, SHAPE)
    x = np.arange(SHAPE[1])
    for slope in (0.1, 1.0):
        assert continues_outside(*round_the_hottest_inside(40.0 + slope * x + noise, left_half()), noise_k=0.05)
    assert not continues_outside(*round_the_hottest_inside(60.0 - 0.1 * x + noise, left_half()), noise_k=0.05)
    assert not continues_outside(*round_the_hottest_inside(hill(8, 11, 3.0) + noise, left_half()), noise_k=0.05)
    assert continues_outside(*round_the_hottest_inside(hill(16, 11, 1.0) + noise, left_half()), noise_k=0.05)


def test_noise_on_level_ground_is_no_slope() -> None:
    flagged = 0
    for seed in range(400):
        values = 40.0 + np.random.default_rng(seed).normal(0.0, 0.05, SHAPE)
        # A narrow zone, so that the hottest pixel often lies on its border.
        inside = np.zeros(SHAPE, dtype=bool)
        inside[8:13, 12:17] = True
        flagged += continues_outside(*round_the_hottest_inside(values, inside), noise_k=0.05)
    assert flagged <= 4


def test_windows_reach_beyond_the_edge() -> None:
    values = np.arange(12.0).reshape(3, 4)
    block, usable = window(values, values != 5.0, 0, 0, 1)
    assert usable.tolist() == [[False] * 3, [False, True, True], [False, True, False]]
    assert block[1:, 1:].tolist() == [[0.0, 1.0], [4.0, 5.0]]
    assert np.isnan(block[0]).all()
