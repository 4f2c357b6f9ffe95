"""Type: every sign the pictures use exists, hostile text stays text, long text ends in an ellipsis."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from irspot.rendering.sheet import Line, set_text
from irspot.rendering.text import ELLIPSIS, clean, font, shortened, text_width, wrapped

HOSTILE = "a\x00\x1b[31mred\x1b[0m \u202eevil\u2066 \ud800 \U0010ffff <b>&amp; $\\frac{1}{2}$ =cmd()|x\r\n\u2028\t"


def ink(text: str, weight: str = "regular") -> np.ndarray:
    """The pixels of one line of text."""
    page = np.zeros((60, 900, 3), np.uint8)
    set_text(page, [Line(text, 10, 45, 30, weight)])  # type: ignore[arg-type]
    return page[..., 0]


@pytest.mark.parametrize("weight", ["regular", "bold"])
@pytest.mark.parametrize("sign", list("≥±°µ…·<>éñÖßçåøłžŒαΩж–×−"))
def test_the_font_has_the_signs(sign: str, weight: str) -> None:
    box = ink("\U0010fffd", weight)  # a private-use character that no font has
    drawn = ink(sign, weight)
    assert drawn.any()
    assert not np.array_equal(drawn, box)


def test_a_sign_the_font_lacks_is_a_box_not_a_failure() -> None:
    assert ink("電\U0001f468").any()


def test_hostile_text_is_reduced_to_text() -> None:
    cleaned = clean(HOSTILE)
    assert cleaned == "a[31mred[0m evil <b>&amp; $\\frac{1}{2}$ =cmd()|x"


@given(st.text(max_size=80))
@example(HOSTILE)
@example("e\u0301" * 30)
@example("\u0300" * 50)
def test_any_text_can_be_drawn(text: str) -> None:
    cleaned = clean(text)
    assert clean(cleaned) == cleaned
    assert not any(ord(c) < 32 or 0x7F <= ord(c) < 0xA0 or 0xD800 <= ord(c) < 0xE000 for c in cleaned)
    short = shortened(cleaned, "bold", 26, 200)
    assert text_width(short, "bold", 26) <= 200
    page = np.zeros((40, 220, 3), np.uint8)
    set_text(page, [Line(short, 5, 30, 26, "bold")])
    assert page.any() == bool(np.any(ink(short, "bold")))


def test_accents_are_composed() -> None:
    assert clean("e\u0301") == "é"


@given(st.text(alphabet="iWm é", min_size=1, max_size=60).map(clean), st.floats(1, 400))
def test_shortening_keeps_as_much_as_fits(text: str, width: float) -> None:
    short = shortened(text, "regular", 24, width)
    if short == text:
        return
    assert text_width(text, "regular", 24) > width
    if short:
        assert short.endswith(ELLIPSIS)
        kept = len(short) - 1
        assert text.startswith(short[:-1])
        # One character more would not have fitted (a space at the cut is taken away again).
        longer = text[: kept + 1].rstrip() + ELLIPSIS
        assert longer == short or text_width(longer, "regular", 24) > width


def test_wrapping_fills_lines_and_shortens_the_rest() -> None:
    parts = ["first part", "second part", "third part", "x" * 200]
    lines = wrapped(parts, "regular", 20, 300, 2)
    assert len(lines) == 2
    assert lines[0] == "first part  ·  second part"
    assert all(text_width(line, "regular", 20) <= 300 for line in lines)
    assert wrapped([], "regular", 20, 300, 2) == []


def test_sizes_are_loaded_as_asked() -> None:
    assert font("regular", 30.4).size == 30
    assert text_width("MMM", "regular", 60) == pytest.approx(2 * text_width("MMM", "regular", 30), rel=0.03)


@pytest.mark.parametrize(("x", "y"), [(-40.0, 20.0), (190.0, 20.0), (10.0, -3.0), (10.0, 52.0), (900.0, 900.0)])
def test_text_beyond_the_picture_is_cut_off(x: float, y: float) -> None:
    large, small = np.zeros((200, 500, 3), np.uint8), np.zeros((40, 200, 3), np.uint8)
    set_text(large, [Line("Kestrel ± 71.8", x + 100, y + 60, 30, color=(250, 10, 90))])
    set_text(small, [Line("Kestrel ± 71.8", x, y, 30, color=(250, 10, 90))])
    np.testing.assert_array_equal(small, large[60:100, 100:300])
