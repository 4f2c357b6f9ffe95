"""Combination and the rounding rule, held against the `uncertainties` library."""

from __future__ import annotations

import math

import hypothesis.strategies as st
import pytest
from hypothesis import given
from uncertainties import ufloat

from irspot.uncertain import Term, combined, decimals_of, dominant, expanded, from_bound, rounded, with_uncertainty


def test_independent_terms_combine_as_the_library_says() -> None:
    # General library `uncertainties`: y = 2.5 a - 0.7 b + c, first order, independent inputs.
    a, b, c = ufloat(1.0, 0.4), ufloat(2.0, 1.5), ufloat(0.0, 0.2)
    expected = (2.5 * a - 0.7 * b + c).std_dev
    terms = [Term("a", 0.4, 2.5), Term("b", 1.5, -0.7), Term("c", 0.2, 1.0)]
    assert combined(terms) == pytest.approx(expected, rel=1e-12)
    assert expanded(combined(terms)) == pytest.approx(2.0 * expected, rel=1e-12)
    assert dominant(terms) == "b"


def test_a_bound_is_rectangular() -> None:
    # JCGM 100:2008, 4.3.7: u = a / sqrt(3).
    assert from_bound(1.0) == pytest.approx(1.0 / math.sqrt(3.0), rel=1e-15)


def test_nothing_dominates_an_empty_or_unknown_budget() -> None:
    assert dominant([]) == ""
    assert dominant([Term("a", float("nan"), 1.0)]) == ""


@pytest.mark.parametrize(
    ("value", "uncertainty", "text"),
    [
        (71.832, 1.94, "71.8 ± 1.9"),
        (71.85, 0.0996, "71.85 ± 0.10"),
        (71.85, 0.996, "71.9 ± 1.0"),
        (104.4, 12.3, "104 ± 12"),
        (-0.04, 1.0, "0.0 ± 1.0"),
        (20.0, float("nan"), "20.0"),
    ],
)
def test_two_significant_digits_of_the_uncertainty_decide(value: float, uncertainty: float, text: str) -> None:
    assert with_uncertainty(value, uncertainty) == text


@given(st.floats(1e-3, 99.0))
def test_the_uncertainty_never_shows_one_or_three_digits(uncertainty: float) -> None:
    shown = rounded(uncertainty, decimals_of(uncertainty))
    digits = shown.replace(".", "").lstrip("0")
    assert len(digits) == 2 or (uncertainty < 0.1 and len(digits) <= 2)
