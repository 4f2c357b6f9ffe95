"""Maxima carried to a reference ambient."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from irspot.measurement.normalised import nonlinearity_k, normalised
from irspot.results import Reading

READING = Reading(
    "f", "", "z", "", "z", "usable", max_degc=86.0, U_max_k=3.0, ambient_degc=26.0, rise_k=60.0, U_rise_k=3.2
)


def test_the_rise_on_the_reference_with_what_that_leaves_out() -> None:
    found = normalised(READING, 21.0)
    assert found.normalised_degc == 81.0
    # 0.5 % a kelvin of 60 K over 5 K is a bound of 1.5 K, rectangular.
    assert found.U_normalised_k == pytest.approx(math.hypot(3.2, 2.0 * 1.5 / math.sqrt(3.0)))
    assert (found.max_degc, found.U_max_k, found.rise_k) == (86.0, 3.0, 60.0), "the raw value stays"
    assert normalised(READING, 26.0).U_normalised_k == READING.U_rise_k


@pytest.mark.parametrize("feedback", [0.0025, 0.005])
@pytest.mark.parametrize("ambient_degc", [16.0, 26.0, 31.0])
def test_rises_that_feed_back_lie_within_the_bound(feedback: float, ambient_degc: float) -> None:
    """A rise that grows with each kelvin of ambient, as by our own calculation: 0.8 to 1.5 K for 5 K at 60 K."""
    rise_at_reference_k = 60.0
    rise_k = rise_at_reference_k * (1.0 + feedback * (ambient_degc - 21.0))
    error_k = rise_k - rise_at_reference_k
    assert abs(error_k) <= nonlinearity_k(rise_at_reference_k, ambient_degc, 21.0) + 1e-9


def test_without_rise_or_reference_there_is_none() -> None:
    assert math.isnan(normalised(READING, None).normalised_degc)
    assert math.isnan(normalised(replace(READING, rise_k=math.nan), 21.0).normalised_degc)
    assert math.isnan(normalised(replace(READING, verdict="retake"), 21.0).normalised_degc)
