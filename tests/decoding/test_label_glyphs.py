"""The form of printed numbers, seen without reading them, in faces of several families."""

from __future__ import annotations

import doctest
import re
from pathlib import Path

import matplotlib
import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from irspot.decoding import label_glyphs
from irspot.decoding.label_glyphs import forms
from irspot.decoding.label_ink import Region, region_around
from irspot.decoding.label_places import LabelBox, label_boxes
from irspot.decoding.label_reading import number_like

FACES = Path(matplotlib.__file__).parent / "mpl-data" / "fonts" / "ttf"
HOLES = {**dict.fromkeys("12357", 0), **dict.fromkeys("069", 1), "8": 2}


def test_examples_in_the_docstrings() -> None:
    assert doctest.testmod(label_glyphs).failed == 0


def drawn(text: str, face: str, size_px: int) -> tuple[Region, list[LabelBox]]:
    font = ImageFont.truetype(FACES / f"{face}.ttf", size_px)
    canvas = Image.new("RGB", (40 + 9 * size_px, 140), (60, 20, 90))
    ImageDraw.Draw(canvas).text((36, 50), text, fill=(255, 255, 255), font=font)
    region = region_around(np.array(canvas), (4, 10, 18, 130), 200)
    return region, label_boxes(region, "bottom", ("white",))


@pytest.mark.parametrize("face", ["DejaVuSans", "DejaVuSerif"])
@pytest.mark.parametrize("text", ["35.2", "48.1", "120"])
def test_a_digit_that_runs_into_the_bar_leaves_no_shorter_number(face: str, text: str) -> None:
    """Something as light as the ink may join a digit to the bar's border, with which it would be left out."""
    region, boxes = drawn(text, face, 21)
    assert boxes
    x0, y0, _, y1 = boxes[0].box_px
    joined = region.rgb.copy()
    joined[(y0 + y1) // 2, region.bar_px[2] : x0 + 6] = 255
    region = region_around(joined, region.bar_px, 200)
    assert [box for box in label_boxes(region, "bottom", ("white", "light")) if box.box_px[0] > x0 + 3] == []


@pytest.mark.parametrize("text", ["62", "48.1", "207"])
@pytest.mark.parametrize("faint", [0, 1, -1])
def test_a_faint_digit_is_not_left_out_of_a_number(text: str, faint: int) -> None:
    """In front of something lighter one digit of several lies below the cut that the others need."""
    region, boxes = drawn(text, "DejaVuSans", 18)
    x0, y0, _, y1 = boxes[0].box_px
    height = boxes[0].height_px
    digits = [glyph for glyph in forms(region, boxes[0])[0].glyphs if glyph.kind == "D"]
    left, right = (round(x0 + edge * height) for edge in digits[faint][1:3])
    rgb = region.rgb.astype(float)
    part = rgb[y0 - 3 : y1 + 3, left - 1 : right + 1]
    part[:] = 255.0 - 0.25 * (255.0 - part)
    region = region_around(rgb.astype(np.uint8), region.bar_px, 200)
    whole = re.sub("[0-9]", "D", text)
    found = label_boxes(region, "bottom", ("white",))
    assert {form.pattern for box in found for form in number_like(region, box)} <= {whole}


def form_of(text: str, face: str, size_px: int) -> tuple[str, list[int], list[str]]:
    region, boxes = drawn(text, face, size_px)
    seen = forms(region, boxes[0])
    form = seen[len(seen) // 2]
    return form.pattern, [glyph.holes for glyph in form.glyphs], [glyph.letter for glyph in form.glyphs]


@pytest.mark.parametrize("face", ["DejaVuSans", "DejaVuSans-Bold", "DejaVuSerif", "cmss10"])
@pytest.mark.parametrize("size_px", [16, 21, 30])
@pytest.mark.parametrize(
    ("text", "pattern"),
    [("48.1", "DD.D"), ("481", "DDD"), ("-3.65", "-D.DD"), ("7", "D"), ("-29", "-DD"), ("108,9", "DDD.D")],
)
def test_points_and_minus_signs_are_seen(face: str, size_px: int, text: str, pattern: str) -> None:
    assert form_of(text, face, size_px)[0] == pattern


@pytest.mark.parametrize(
    "face", ["STIXGeneral", "STIXGeneralBol", "STIXGeneralItalic", "cmr10", "cmtt10", "DejaVuSansMono"]
)
@pytest.mark.parametrize("size_px", [14, 17, 25])
@pytest.mark.parametrize("text", ["48.1", "-3.65", "-29", "108,9", "11.1", "-17.4"])
def test_other_faces_are_seen_rightly_or_not_at_all(face: str, size_px: int, text: str) -> None:
    region, boxes = drawn(text, face, size_px)
    wanted = re.sub("[0-9]", "D", text).replace(",", ".")
    seen = {form.pattern for box in boxes for form in number_like(region, box)}
    assert seen <= {wanted}


@pytest.mark.parametrize("face", ["DejaVuSans", "DejaVuSans-Bold", "DejaVuSerif", "cmss10"])
@pytest.mark.parametrize("text", ["10375", "62809"])
def test_holes_tell_digits_apart(face: str, text: str) -> None:
    pattern, holes, _ = form_of(text, face, 24)
    assert pattern == "DDDDD"
    assert holes == [HOLES[digit] for digit in text]


@pytest.mark.parametrize("face", ["DejaVuSans", "DejaVuSans-Bold", "DejaVuSansMono", "cmss10"])
@pytest.mark.parametrize("size_px", [16, 21, 30])
@pytest.mark.parametrize("letter", ["C", "F", "K"])
def test_letters_of_units_are_told_apart(face: str, size_px: int, letter: str) -> None:
    assert form_of(f"25{letter}", face, size_px)[2][-1] == letter
