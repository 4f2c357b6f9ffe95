"""Captions and alt texts say what the readings say; PNGs carry them where other programs find them."""

from __future__ import annotations

import io
import math
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from irspot.measurement.change import changes_of
from irspot.rendering import heat_picture
from irspot.rendering.alt_text import changes_in_words, grid_words, values_of, words_of
from irspot.rendering.picture import Picture
from irspot.rendering.png_text import with_text
from tests.rendering.scenes import CAPTION, board_of, placed, reading, readings_of, warm_frame

BOARD, PLACED = board_of(8), placed()
READINGS = readings_of(BOARD, PLACED)


def test_alt_text_has_every_zone_of_the_picture_in_its_order() -> None:
    words = words_of("Heat image", CAPTION, values_of(READINGS), "Colour scale from 20 to 84 °C")
    assert words.alt.startswith("Heat image of Kestrel K7 (invented), front, all-core render, power limits as shipped")
    assert "ambient 21.3 ± 1.0 °C" in words.alt
    places = [words.alt.index(f"Zone {r.zone} {r.headline('°C') or 'retake'}") for r in READINGS[:-1]]
    hottest = sorted(READINGS[:-1], key=lambda r: (math.isnan(r.max_degc), -r.max_degc))
    assert sorted(places) == [words.alt.index(f"Zone {r.zone} {r.headline('°C') or 'retake'}") for r in hottest]
    assert "elsewhere" not in words.alt, "the picture does not name it either"
    assert words.caption.endswith(f"Zone {hottest[0].zone} {hottest[0].headline('°C')}.")


def test_values_are_those_that_the_picture_shows() -> None:
    picture = heat_picture(warm_frame(), BOARD, PLACED, READINGS, caption=CAPTION, scale_degc=(20.0, 84.0))
    drawn = "".join(picture.texts)
    for name, value in values_of(READINGS):
        assert name in picture.texts
        assert value in drawn


def test_changes_and_grids_in_words() -> None:
    later = [replace(r, max_degc=r.max_degc + 2.0) for r in READINGS]
    named = dict(changes_in_words(changes_of(READINGS, later, same_session=True)))
    assert named["Zone z0"].startswith("+2")
    assert named["Zone z6"] == "not known"
    words = grid_words(CAPTION, [("A", values_of(READINGS), ""), ("B", [], "not shown: refused")], "x")
    assert "2 boards" in words.alt
    assert "B: not shown: refused" in words.alt
    assert "B not measured" in words.caption


def test_control_characters_of_names_do_not_reach_words() -> None:
    odd = [reading("z0", 50.0, 1.0, 1.0, zone_name="bank\x1b[31m\u202e left\n")]
    assert values_of(odd)[0][0] == "bank[31m left"


@pytest.mark.parametrize("text", ["plain", "Größe ≥ 3 µm · 基板", "x" * 5000])
def test_a_png_carries_its_text_where_other_programs_find_it(text: str) -> None:
    array = np.arange(3 * 40 * 50, dtype=np.uint64).astype(np.uint8).reshape(40, 50, 3)
    png = Picture(array, alt=text).png_bytes()
    with Image.open(io.BytesIO(png)) as image:
        assert image.text["Description"] == text  # type: ignore[attr-defined]
        np.testing.assert_array_equal(np.asarray(image), array)
    assert png == Picture(array, alt=text).png_bytes()
    assert Picture(array).png_bytes() == png[:33] + png[33 + len(png) - len(Picture(array).png_bytes()) :]


def test_text_chunks_check_out() -> None:
    import struct
    import zlib

    png = with_text(Picture(np.zeros((4, 4, 3), np.uint8)).png_bytes(), "Description", "a ± b")
    at, kinds = 8, []
    while at < len(png):
        (length,) = struct.unpack(">I", png[at : at + 4])
        kind, body = png[at + 4 : at + 8], png[at + 8 : at + 8 + length]
        assert struct.unpack(">I", png[at + 8 + length : at + 12 + length])[0] == zlib.crc32(kind + body)
        kinds.append(kind)
        at += 12 + length
    assert kinds[0] == b"IHDR"
    assert kinds[1] == b"iTXt"
    assert kinds[-1] == b"IEND"
