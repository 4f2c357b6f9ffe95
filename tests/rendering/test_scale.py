"""Scales: round, stable, holding every frame; ticks at round temperatures."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from irspot.errors import UsageError
from irspot.rendering import auto_scale
from irspot.rendering.scale import LEAST_SPAN_K, degc_text, round_step, round_ticks

degc = st.floats(-80.0, 1500.0, allow_subnormal=False)
extremes = st.lists(st.tuples(degc, degc).map(lambda pair: (min(pair), max(pair))), min_size=1, max_size=20)


@given(extremes, st.randoms(use_true_random=False))
def test_one_scale_holds_all_frames_in_any_order(pairs: list[tuple[float, float]], order: random.Random) -> None:
    low, high = auto_scale(pairs)
    assert low <= min(pair[0] for pair in pairs)
    assert high >= max(pair[1] for pair in pairs)
    assert high - low >= LEAST_SPAN_K
    shuffled = pairs.copy()
    order.shuffle(shuffled)
    assert auto_scale(shuffled) == (low, high)


@given(extremes)
def test_scales_end_on_whole_degrees_without_much_waste(pairs: list[tuple[float, float]]) -> None:
    low, high = auto_scale(pairs)
    assert low == int(low)
    assert high == int(high)
    span = max(max(pair[1] for pair in pairs) - min(pair[0] for pair in pairs), LEAST_SPAN_K)
    assert high - low <= 1.35 * span + 2.0


@pytest.mark.parametrize(
    ("pairs", "expected"),
    [
        ([(21.4, 71.0), (22.0, 96.3)], (20.0, 100.0)),
        ([(21.6, 70.2), (22.0, 97.9)], (20.0, 100.0)),  # a somewhat other day, the same scale
        ([(24.0, 24.3)], (21.0, 27.0)),
        ([(17.6, 60.0), (21.0, 101.3)], (15.0, 105.0)),
        ([(-12.0, 3.0)], (-12.0, 3.0)),
        ([(math.nan, math.nan), (20.5, 60.0)], (20.0, 60.0)),
    ],
)
def test_known_scales(pairs: list[tuple[float, float]], expected: tuple[float, float]) -> None:
    assert auto_scale(pairs) == expected


@pytest.mark.parametrize("pairs", [[], [(math.nan, math.nan)]])
def test_no_frame_no_scale(pairs: list[tuple[float, float]]) -> None:
    with pytest.raises(UsageError, match="no frame"):
        auto_scale(pairs)


@given(degc, st.floats(0.01, 2000.0), st.integers(2, 12))
def test_ticks_are_round_inside_and_not_too_many(low: float, span: float, most: int) -> None:
    high = low + span
    ticks = round_ticks(low, high, most)
    assert len(ticks) <= most
    slack = 1e-6 * span + 1e-9
    assert all(low - slack <= tick <= high + slack for tick in ticks)
    if len(ticks) > 1:
        step = ticks[1] - ticks[0]
        mantissa = step / 10.0 ** math.floor(math.log10(step) + 1e-9)
        assert min(abs(mantissa - m) for m in (1.0, 2.0, 5.0)) < 1e-6 * max(1.0, abs(low) / step)


@given(st.floats(1e-6, 1e6))
def test_steps_are_the_next_of_one_two_five(wanted: float) -> None:
    step = round_step(wanted)
    assert wanted <= step * (1 + 1e-8)
    assert step <= 2.5 * wanted * (1 + 1e-8)


def test_tick_text_has_no_idle_decimals() -> None:
    assert [degc_text(v) for v in (20.0, 22.5, -7.25, 0.30000000000000004)] == ["20", "22.5", "-7.25", "0.3"]
