"""Numbers of a colour bar: linear between ends, piece by piece between ticks, never a scale that makes no sense."""

from __future__ import annotations

from itertools import pairwise

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given

from irspot.camera import Colorbar
from irspot.color_picture import Decoded, Excluded
from irspot.color_wish import CLOSEST_TICKS, BarScale, ColorWish, scale_of
from irspot.errors import UsageError


def test_ends_make_a_linear_scale() -> None:
    scale = BarScale.of_ends(20.0, 90.0)
    np.testing.assert_allclose(scale.degc(np.array([0.0, 0.25, 1.0])), [20.0, 37.5, 90.0])
    assert (scale.low_degc, scale.high_degc) == (20.0, 90.0)


def test_ticks_bend_it_and_the_outer_pieces_go_on() -> None:
    scale = BarScale(((0.2, 30.0), (0.5, 45.0), (0.9, 85.0)))
    np.testing.assert_allclose(scale.degc(np.array([0.35, 0.7])), [37.5, 65.0])
    assert scale.low_degc == pytest.approx(20.0)
    assert scale.high_degc == pytest.approx(95.0)


@given(st.lists(st.tuples(st.floats(0.0, 1.0), st.floats(-40.0, 300.0)), min_size=2, max_size=6))
def test_only_rising_ticks_make_a_scale_and_it_rises_throughout(ticks: list[tuple[float, float]]) -> None:
    rising = sorted(ticks)
    sound = all(b[0] - a[0] >= CLOSEST_TICKS and a[1] < b[1] for a, b in pairwise(rising))
    if not sound:
        with pytest.raises(UsageError):
            scale_of(None, None, ticks)
        return
    scale = scale_of(None, None, ticks)
    assert scale is not None
    for place, degc in rising:
        assert float(scale.degc(np.array(place))) == pytest.approx(degc, abs=1e-6)


@pytest.mark.parametrize(("low", "high"), [(20.0, None), (None, 90.0), (90.0, 20.0), (20.0, 20.0)])
def test_one_end_or_swapped_ends_are_misuse(low: float | None, high: float | None) -> None:
    with pytest.raises(UsageError):
        scale_of(low, high, [])


def test_nothing_said_is_no_scale_and_ends_join_ticks() -> None:
    assert scale_of(None, None, []) is None
    assert scale_of(20.0, 90.0, [(0.5, 40.0)]) == BarScale(((0.0, 20.0), (0.5, 40.0), (1.0, 90.0)))


def test_the_camera_file_completes_what_was_not_said() -> None:
    colorbar = Colorbar((1, 2, 9, 200), "bottom", ((0.0, 20.0), (1.0, 80.0)), ((0, 0, 5, 5),))
    wish = ColorWish(low_end="top", ignore_px=((7, 7, 9, 9),)).completed(colorbar)
    assert wish.scale == BarScale(((0.0, 20.0), (1.0, 80.0)))
    assert (wish.bar_px, wish.low_end) == ((1, 2, 9, 200), "top")
    assert wish.ignore_px == ((7, 7, 9, 9), (0, 0, 5, 5))
    given_scale = BarScale.of_ends(0.0, 1.0)
    assert ColorWish(scale=given_scale).completed(colorbar).scale is given_scale
    assert ColorWish().completed(None) == ColorWish()


def test_shares_count_the_picture_only() -> None:
    from irspot.color_picture import Bar

    excluded = np.array([[0, 0, Excluded.BAR], [Excluded.OFF_PALETTE, 0, Excluded.IGNORED]], np.uint8)
    high = np.array([[True, False, False], [False, False, False]])
    u_k = np.array([[0.1, 0.3, np.nan], [np.nan, 0.2, np.nan]], np.float32)
    bar = Bar((2, 0, 3, 2), "bottom", np.zeros((2, 3)))
    decoded = Decoded(u_k, u_k, excluded, high, np.zeros_like(high), bar, BarScale.of_ends(0.0, 1.0))
    assert decoded.share_excluded == pytest.approx(1 / 4)
    assert decoded.share_clipped == pytest.approx(1 / 3)
    assert decoded.typical_u_k == pytest.approx(0.2)
