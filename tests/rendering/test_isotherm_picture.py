"""The line at a limit runs where the limit is, and its picture says the share that was measured."""

from __future__ import annotations

import math

import numpy as np
import pytest

from irspot.measurement.area_above import area_above
from irspot.rendering.colors import color_distance, color_scale, line_color
from irspot.rendering.heat import plan_picture
from irspot.rendering.isotherm_picture import contours, isotherm_picture, with_area
from irspot.rendering.numbers_picture import numbers_picture
from irspot.rendering.page import on_page
from irspot.shapes import signed_area
from tests.rendering.scenes import CAPTION, HEIGHT_MM, SHAPE, WIDTH_MM, board_of, placed, readings_of

BOARD, PLACED = board_of(4), placed()
SCALE = (20.0, 90.0)
CENTER, PEAK, PER_MM = (130.0, 95.0), 85.0, 0.5


def cone() -> np.ndarray:
    """85 °C at one place of the board, half a kelvin less a millimetre away from it: isotherms are circles."""
    y, x = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    mm = PLACED.to_mm(np.column_stack([x.ravel(), y.ravel()]).astype(float))
    return (PEAK - PER_MM * np.hypot(mm[:, 0] - CENTER[0], mm[:, 1] - CENTER[1])).reshape(SHAPE)


@pytest.mark.parametrize("limit", [60.0, 72.5])
def test_the_line_is_the_circle_it_has_to_be(limit: float) -> None:
    frame = cone()
    area = area_above(frame, BOARD, PLACED, (), limit)
    (line,) = contours(frame, BOARD, PLACED, area)
    places = PLACED.to_mm(line)
    radius = (PEAK - limit) / PER_MM
    assert np.hypot(*(places - CENTER).T) == pytest.approx(np.full(len(places), radius), abs=0.15)
    assert abs(signed_area(places[:-1])) == pytest.approx(math.pi * radius**2, rel=0.01)
    assert area.above_mm2 == pytest.approx(math.pi * radius**2, rel=0.01)
    assert area.share == pytest.approx(math.pi * radius**2 / (WIDTH_MM * HEIGHT_MM), rel=0.012)


def test_the_picture_has_the_line_and_the_share() -> None:
    frame, readings = cone(), readings_of(BOARD, PLACED)
    area = area_above(frame, BOARD, PLACED, readings, 60.0)
    picture = isotherm_picture(
        frame, BOARD, PLACED, readings, area, caption=CAPTION, scale_degc=SCALE, size=(1283, 727)
    )
    assert picture.size == (1283, 727)
    assert area.text in picture.texts
    assert "line at 60 °C" in picture.texts
    page = plan_picture(
        frame,
        BOARD,
        PLACED,
        readings,
        caption=with_area(CAPTION, area),
        scale_degc=SCALE,
        cmap="inferno",
        size=(1283, 727),
    ).page
    color = np.array(line_color(color_scale("inferno", SCALE)))
    found = 0
    for angle in np.linspace(0.0, 2.0 * np.pi, 40, endpoint=False):
        mm = np.array([[CENTER[0] + 50.0 * np.cos(angle), CENTER[1] + 50.0 * np.sin(angle)]])
        px = on_page(tuple(PLACED.to_px(mm)[0]), page.image, SHAPE)
        assert px is not None
        near = picture.array[round(px[1]) - 2 : round(px[1]) + 3, round(px[0]) - 2 : round(px[0]) + 3]
        found += bool((np.abs(near.astype(int) - color).max(axis=-1) < 40).any())
    assert found >= 36, "all but where a leader or an outline lies over it"


def test_nothing_above_draws_no_line_and_says_so() -> None:
    area = area_above(cone(), BOARD, PLACED, (), 500.0)
    assert contours(cone(), BOARD, PLACED, area) == []
    picture = isotherm_picture(cone(), BOARD, PLACED, (), area, caption=CAPTION, scale_degc=SCALE)
    assert "0.0 % of the board above 500 °C" in picture.texts


@pytest.mark.parametrize("cmap", ["inferno", "viridis", "gray", "turbo", "jet", "hot", "cividis"])
def test_the_lines_colour_is_none_of_the_frames(cmap: str) -> None:
    scale = color_scale(cmap, SCALE)
    color = line_color(scale)
    assert color_distance(color, np.array([scale.over, scale.under], np.uint8)) > 0.1
    assert color_distance(color, scale.table) > (0.1 if cmap not in ("jet", "turbo") else 0.03)


@pytest.mark.parametrize("size", [(1920, 1080), (641, 363), (803, 1201)])
def test_numbers_alone_have_no_colours_of_temperature(size: tuple[int, int]) -> None:
    readings = readings_of(BOARD, PLACED)
    picture = numbers_picture(BOARD, PLACED, readings, caption=CAPTION, size=size)
    assert picture.size == size
    said = "".join(picture.texts)
    for r in readings[:-1]:
        assert (r.headline("°C") or "retake") in said
    spread = picture.array.max(axis=-1).astype(int) - picture.array.min(axis=-1)
    colored = (spread > 60).mean()
    assert colored < 0.002, "but for words that warn everything is grey"
    assert not any(text.startswith(("scale", "zone maxima\n", "< ", "> ")) for text in picture.texts)
