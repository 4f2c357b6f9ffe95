"""The rules that printed numbers have to agree with, held against numbers that were read wrongly."""

from __future__ import annotations

import doctest
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from irspot.decoding import label_rules
from irspot.decoding.label_rules import Number, Placed, Refused, ends_of, number_of, to_degc, unit_of

LENGTH_PX = 311.0


def placed(text: str, place: float, *, unit: str = "", half_px: float = 6.0, beyond: bool = False) -> Placed:
    number = number_of(text)
    assert number is not None
    reach = (place - half_px / LENGTH_PX, place + half_px / LENGTH_PX)
    return Placed(number, unit, place, reach, beyond)  # type: ignore[arg-type]


def evenly(texts: list[str], **details: object) -> list[Placed]:
    return [placed(text, place, **details) for text, place in zip(texts, np.linspace(0, 1, len(texts)), strict=True)]  # type: ignore[arg-type]


def test_examples_in_the_docstrings() -> None:
    assert doctest.testmod(label_rules).failed == 0


@pytest.mark.parametrize(
    "text", ["", "-", ".5", "5.", "48.1.2", "4 8 .", "1e3", "+5", "12345", "--5", "00.5", "1٢", "1 000 000"]
)
def test_what_is_no_number(text: str) -> None:
    assert number_of(text) is None


def test_ends_of_two_numbers_are_the_numbers() -> None:
    ends = ends_of(evenly(["-12.5", "48.1"]), LENGTH_PX)
    assert (ends.low_degc, ends.high_degc) == (-12.5, 48.1)
    assert ends.bound_k == pytest.approx(0.05)


def test_order_of_the_labels_does_not_matter() -> None:
    labels = evenly(["20.0", "35.0", "50.0"])
    assert ends_of(labels[::-1], LENGTH_PX) == ends_of(labels, LENGTH_PX)


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        (["48.1", "20.1"], "fall towards"),
        (["20.1", "20.1"], "do not rise"),
        (["20.1", "20.1", "48.1"], "do not rise"),
        (["20.1", "481"], "decimals"),
        (["20,1", "48.1"], "decimals"),
        (["20.1", "34.1", "43.1", "48.1"], "linear"),
        (["20.1"], "fewer than two"),
        (["20", "22"], "coarse"),
        (["20.1", "1481.0"], "implausible"),
        (["-120.5", "20.0"], "implausible"),
    ],
)
def test_refused(texts: list[str], words: str) -> None:
    with pytest.raises(Refused, match=words):
        ends_of(evenly(texts), LENGTH_PX)


def test_two_numbers_away_from_the_ends_are_refused() -> None:
    with pytest.raises(Refused, match="do not stand at its ends"):
        ends_of([placed("30.0", 0.2), placed("60.0", 0.9)], LENGTH_PX)


def test_numbers_set_inside_the_ends_by_their_edges() -> None:
    inside = 6.0 / LENGTH_PX
    ends = ends_of([placed("30.0", inside), placed("60.0", 1.0 - inside)], LENGTH_PX)
    assert (ends.low_degc, ends.high_degc) == (30.0, 60.0)


def test_numbers_beyond_the_ends() -> None:
    ends = ends_of([placed("30.0", -0.05, beyond=True), placed("60.0", 1.05, beyond=True)], LENGTH_PX)
    assert (ends.low_degc, ends.high_degc) == (30.0, 60.0)
    with pytest.raises(Refused, match="one at each end"):
        ends_of([placed("30.0", 1.04, beyond=True), placed("60.0", 1.09, beyond=True)], LENGTH_PX)
    with pytest.raises(Refused, match="one at each end"):
        ends_of([placed("30.0", 0.0), placed("60.0", 1.09, beyond=True)], LENGTH_PX)


ROUND = {
    "low": st.floats(-50.0, 80.0),
    "span": st.floats(45.0, 400.0),
    "raised": st.floats(-0.8, 0.8),
    "off": st.lists(st.floats(-0.8, 0.8), min_size=16, max_size=16),
}


def check_round_numbers(low: float, span: float, raised: float, off: list[float]) -> None:
    """Round numbers, all of them a little too high, each set on a whole px."""
    step = max(s for s in (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0) if s <= span / 4.5)
    values = np.arange(np.ceil(low / step), np.floor((low + span) / step) + 1) * step
    assume(4 <= values.size <= 16 and values[-1] - values[0] >= 0.55 * span)
    places = (values - low) / span
    labels = [
        placed(f"{value:.0f}", float(place) + (raised + shift) / LENGTH_PX)
        for value, place, shift in zip(values, places, off, strict=False)
    ]
    ends = ends_of(labels, LENGTH_PX)
    assert abs(ends.low_degc - low) <= ends.bound_k
    assert abs(ends.high_degc - (low + span)) <= ends.bound_k
    assert ends.bound_k <= label_rules.COARSEST * span


@given(**ROUND)
def test_round_numbers_are_continued_to_the_ends_within_their_bound(
    low: float, span: float, raised: float, off: list[float]
) -> None:
    check_round_numbers(low, span, raised, off)


@pytest.mark.full
@settings(max_examples=5000)
@given(**ROUND)
def test_round_numbers_are_continued_to_the_ends_within_their_bound_in_full(
    low: float, span: float, raised: float, off: list[float]
) -> None:
    check_round_numbers(low, span, raised, off)


@pytest.mark.parametrize(("low_px", "high_px"), [(0.0, 0.0), (1.2, -1.2), (-1.2, 1.2), (1.2, 1.2)])
def test_round_numbers_near_the_ends_may_be_there_by_chance(low_px: float, high_px: float) -> None:
    """The bar may end where its numbers do, or a px before or behind them: the bound holds both."""
    values = np.array([20.0, 40.0, 60.0, 80.0])
    places = np.linspace(low_px / LENGTH_PX, 1.0 + high_px / LENGTH_PX, 4)
    ends = ends_of([placed(f"{v:.1f}", float(p)) for v, p in zip(values, places, strict=True)], LENGTH_PX)
    slope = 60.0 / (places[-1] - places[0])
    low, high = 20.0 - slope * places[0], 80.0 + slope * (1.0 - places[-1])
    for true_low, true_high in ((20.0, 80.0), (low, high)):
        assert abs(ends.low_degc - true_low) <= ends.bound_k
        assert abs(ends.high_degc - true_high) <= ends.bound_k


@pytest.mark.parametrize(("unit", "low", "high"), [("C", 68.0, 212.0), ("F", 20.0, 100.0), ("K", -205.15, -61.15)])
def test_units(unit: str, low: float, high: float) -> None:
    labels = evenly(["68.0", "212.0"], unit=unit)
    if unit == "K":
        with pytest.raises(Refused, match="implausible"):
            ends_of(labels, LENGTH_PX)
        assert to_degc(68.0, "K") == pytest.approx(low)
        return
    ends = ends_of(labels, LENGTH_PX)
    assert (ends.low_degc, ends.high_degc) == (pytest.approx(low), pytest.approx(high))


def test_mixed_units_are_refused() -> None:
    with pytest.raises(Refused, match="different units"):
        ends_of([placed("20.0", 0.0, unit="C"), placed("90.0", 1.0, unit="F")], LENGTH_PX)


@pytest.mark.parametrize(
    ("tail", "unit"),
    [("°C", "C"), ("℃", "C"), (" °F", "F"), ("K", "K"), ("", ""), ("°", ""), ("W", None), ("°(", None)],
)
def test_unit_of(tail: str, unit: str | None) -> None:
    assert unit_of(tail) == unit


def test_ambient() -> None:
    labels = evenly(["201", "481"])
    ends_of(labels, LENGTH_PX)
    with pytest.raises(Refused, match="ambient"):
        ends_of(labels, LENGTH_PX, ambient_degc=21.0)
    with pytest.raises(Refused, match="ambient"):
        ends_of(evenly(["-48.1", "-20.1"]), LENGTH_PX, ambient_degc=21.0)
    ends_of(evenly(["40.0", "95.0"]), LENGTH_PX, ambient_degc=21.0)


# What engines do to numbers, done to one label of several. The others hold it: a wrong number is refused.


def dropped_point(text: str) -> str:
    return text.replace(".", "")


def dropped_minus(text: str) -> str:
    return text.removeprefix("-")


def leading_one(text: str) -> str:
    return f"-1{text[1:]}" if text.startswith("-") else f"1{text}"


def extra_minus(text: str) -> str:
    return f"-{text.removeprefix('-')}"


def swapped(text: str) -> str:
    digits = [at for at, character in enumerate(text) if character.isdigit()]
    a, b = digits[-2:]
    characters = list(text)
    characters[a], characters[b] = characters[b], characters[a]
    return "".join(characters)


def eight_for_three(text: str) -> str:
    return text.translate(str.maketrans("38", "83"))


MANGLED = (dropped_point, dropped_minus, leading_one, extra_minus, swapped, eight_for_three)
SCALES = {
    "low": st.integers(-450, 900).map(lambda tenths: tenths / 10.0),
    "span": st.integers(150, 2500).map(lambda tenths: tenths / 10.0),
    "mangle": st.sampled_from(MANGLED),
    "shift": st.lists(st.floats(-0.7, 0.7), min_size=6, max_size=6),
}


def check_one_mangled(low: float, span: float, count: int, at: int, mangle: object, shift: list[float]) -> None:
    texts = [f"{low + place * span:.1f}" for place in np.linspace(0, 1, count)]
    wrong = mangle(texts[at])  # type: ignore[operator]
    assume(wrong != texts[at] and number_of(wrong) is not None)
    labels = evenly(texts)
    labels = [replace(label, place=label.place + s / LENGTH_PX) for label, s in zip(labels, shift, strict=False)]
    right = ends_of(labels, LENGTH_PX)
    assert (right.low_degc, right.high_degc) == (float(texts[0]), float(texts[-1]))
    number: Number | None = number_of(wrong)
    assert number is not None
    labels[at] = replace(labels[at], number=number)
    try:
        ends = ends_of(labels, LENGTH_PX)
    except Refused:
        return
    # No further off than the set itself says.
    assert abs(ends.low_degc - low) <= ends.bound_k + 1e-9
    assert abs(ends.high_degc - (low + span)) <= ends.bound_k + 1e-9


@example(count=4, at=0, low=26.3, span=26.3, mangle=eight_for_three, shift=[0.0] * 6)
@given(count=st.integers(3, 6), at=st.integers(0, 5), **SCALES)
def test_one_number_read_wrongly_is_refused(
    low: float, span: float, count: int, at: int, mangle: object, shift: list[float]
) -> None:
    check_one_mangled(low, span, count, at % count, mangle, shift)


@pytest.mark.full
@settings(max_examples=5000)
@example(count=4, at=0, low=26.3, span=26.3, mangle=eight_for_three, shift=[0.0] * 6)
@given(count=st.integers(3, 6), at=st.integers(0, 5), **SCALES)
def test_one_number_read_wrongly_is_refused_in_full(
    low: float, span: float, count: int, at: int, mangle: object, shift: list[float]
) -> None:
    check_one_mangled(low, span, count, at % count, mangle, shift)


@given(low=SCALES["low"], span=SCALES["span"])
def test_both_of_two_numbers_without_their_points_are_refused_by_the_ambient(low: float, span: float) -> None:
    # The rules alone cannot know; the form of the glyphs does (test_labels.py). With an ambient they can.
    assume(low >= 10.0)
    texts = [dropped_point(f"{value:.1f}") for value in (low, low + span)]
    assume(all(number_of(text) is not None for text in texts))
    with pytest.raises(Refused):
        ends_of(evenly(texts), LENGTH_PX, ambient_degc=min(low, 24.0))


@given(low=st.integers(-500, -20), span=st.integers(30, 450))
def test_both_of_two_numbers_without_their_minus_signs_are_refused(low: int, span: int) -> None:
    assume(low + span < 0)
    texts = [dropped_minus(f"{value / 10.0:.1f}") for value in (low, low + span)]
    with pytest.raises(Refused):
        ends_of(evenly(texts), LENGTH_PX)
