"""Grids: exact size, one scale, tiles that keep apart, numbers of their own readings."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from irspot.errors import UsageError
from irspot.rendering.callouts import Box
from irspot.rendering.colors import color_scale
from irspot.rendering.grid import Tile, grid_picture
from irspot.rendering.grid_layout import plan_grid
from irspot.rendering.heat import lettered
from irspot.rendering.picture import Picture
from irspot.rendering.sheet import Line
from tests.rendering.scenes import CAPTION, SHAPE, board_of, placed, reading, readings_of, warm_frame
from tests.rendering.test_page import ink_box

SCALE = (20.0, 90.0)


def tile(number: int, zones: int = 6, **more: object) -> Tile:
    board, placement = board_of(zones), placed()
    shifted = tuple(
        replace(r, max_degc=r.max_degc + 0.1 * number) if math.isfinite(r.max_degc) else r
        for r in readings_of(board, placement, seed=number)
    )
    made = Tile(f"Board {number}", (f"front, load {number}", "air as usual"), board, warm_frame(), placement, shifted)
    return replace(made, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("count", "size"), [(2, (1283, 721)), (3, (1080, 1920)), (5, (1920, 1080)), (7, (1281, 723)), (12, (1920, 1080))]
)
def test_the_size_is_exact_and_every_tile_has_numbers_of_its_own(count: int, size: tuple[int, int]) -> None:
    tiles = [tile(number) for number in range(count)]
    picture = grid_picture(tiles, caption=CAPTION, scale_degc=SCALE, size=size)
    assert picture.size == size
    said = "".join(picture.texts)
    for each in tiles:
        assert each.title in picture.texts
        hottest = max((r for r in each.readings if r.zone != "elsewhere" and r.headline()), key=lambda r: r.max_degc)
        assert hottest.headline("°C") in said


@pytest.mark.parametrize(("count", "size"), [(2, (640, 360)), (4, (1280, 720)), (9, (1080, 1920)), (12, (1920, 1080))])
def test_no_text_lies_over_another(count: int, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch) -> None:
    lines: list[Line] = []

    def kept(image: np.ndarray, told: tuple[Line, ...]) -> Picture:
        lines.extend(told)
        return lettered(image, told)

    monkeypatch.setattr("irspot.rendering.grid.lettered", kept)
    odd = tile(1, title="A board whose name is far too long for its tile " * 2, facts=("x" * 90, "y"))
    problem = Tile("Refused", (), None, None, None, (), "not shown: " + "for one reason and another " * 40)
    tiles = [tile(0, zones=20), odd, problem, *(tile(number, zones=20) for number in range(2, count))][:count]
    grid_picture(tiles, caption=CAPTION, scale_degc=SCALE, size=size)
    boxes = [ink_box(line) for line in lines if line.text]
    assert len(boxes) > 20
    for box in boxes:
        assert Box(0, 0, *size).holds(box)
    for one, other in itertools.combinations(boxes, 2):
        assert not one.overlaps(other)


def test_every_number_is_one_of_the_readings() -> None:
    tiles = [tile(number) for number in range(6)]
    picture = grid_picture(tiles, caption=CAPTION, scale_degc=SCALE)
    texts = list(picture.texts)
    shown = [head + tail for head, tail in itertools.pairwise(texts) if tail.endswith("°C") and head[-1:].isdigit()]
    known = {r.headline("°C") for each in tiles for r in each.readings}
    assert len(shown) >= 24
    assert set(shown) <= known


@pytest.mark.parametrize("count", range(2, 13))
@pytest.mark.parametrize("zones", [1, 3, 20])
@pytest.mark.parametrize("unit", [1.0, 0.667])
def test_tiles_images_and_numbers_never_overlap(count: int, zones: int, unit: float) -> None:
    room = Box(40 * unit, 140 * unit, 1880 * unit, 910 * unit)
    shapes = [SHAPE if number % 3 else (512, 640) for number in range(count)]
    layouts = plan_grid(room, shapes, [zones] * count, unit)
    boxes = [box for layout in layouts for box in (layout.image, *layout.entries)]
    for a, b in itertools.combinations(boxes, 2):
        assert not a.overlaps(b)
    for layout in layouts:
        assert layout.entries, "a tile without numbers would be colours alone"
        assert Box(room.x0 - 1, room.y0 - 1, room.x1 + 1, room.y1 + 1).holds(layout.box)
        for box in (layout.image, *layout.entries):
            assert Box(layout.box.x0 - 1, layout.box.y0, layout.box.x1 + 1, layout.box.y1 + 1.5).holds(box)
        rows, columns = shapes[layouts.index(layout)]
        assert layout.image.width / layout.image.height == pytest.approx(columns / rows, rel=0.02)
        assert layout.unit * 26.0 >= 26.0 * unit, "values are never set smaller than on any other page"


def test_at_full_hd_even_twelve_tiles_show_boards_and_three_numbers() -> None:
    layouts = plan_grid(Box(40, 140, 1880, 910), [(512, 640)] * 12, [8] * 12, 1.0)
    assert min(len(layout.entries) for layout in layouts) >= 3
    assert min(layout.image.width for layout in layouts) >= 150


def test_one_temperature_has_one_colour_in_all_tiles() -> None:
    tiles = [tile(n, surface_degc=np.full(SHAPE, 61.3), readings=(), board=board_of(0)) for n in range(4)]
    other = [
        tile(n, surface_degc=np.full(SHAPE, 61.3 + 20 * (n == 0)), readings=(), board=board_of(0)) for n in range(4)
    ]
    color = np.array(color_scale("inferno", SCALE).color_of(61.3), np.uint8)
    all_four = grid_picture(tiles, caption=CAPTION, scale_degc=SCALE)
    three = grid_picture(other, caption=CAPTION, scale_degc=SCALE)
    count, fewer = (int(np.all(p.array == color, axis=-1).sum()) for p in (all_four, three))
    assert count > 100_000
    assert fewer == pytest.approx(0.75 * count, rel=0.02), "what one tile shows does not move the others' colours"


def test_a_tile_that_cannot_be_shown_says_why() -> None:
    reason = "not shown: the board could not be placed in k7.tiff"
    empty = Tile("Refused", ("run 3",), None, None, None, (), reason)
    picture = grid_picture([tile(0), empty, tile(2)], caption=CAPTION, scale_degc=SCALE)
    said = " ".join(picture.texts)
    assert "Refused" in picture.texts
    assert "not shown:" in said
    assert "k7.tiff" in said


def test_a_tile_with_more_zones_than_room_says_how_many_it_lists() -> None:
    long = ("rear, a load whose name leaves no room for anything else", "air as usual")
    tiles = [tile(n, zones=20, **({"facts": long} if n % 2 else {})) for n in range(12)]
    picture = grid_picture(tiles, caption=CAPTION, scale_degc=SCALE)
    told = [text for text in picture.texts if "of 20 zones" in text]
    assert len(told) == 12


def test_retakes_and_bounds_are_said_as_such() -> None:
    odd = (
        reading("z0", 50.0, 60.0, 100.0, "lower bound"),
        reading("z1", math.nan, math.nan, math.nan, "retake", flags=("impossible-radiance",)),
    )
    picture = grid_picture([tile(0), tile(1, readings=odd)], caption=CAPTION, scale_degc=SCALE)
    said = "".join(picture.texts)
    assert "≥ 47.8 °C" in said
    assert "retake" in picture.texts
    assert any(text.startswith("surface temperature") and "≥" in text for text in picture.texts)


@pytest.mark.parametrize("count", [0, 1, 13])
def test_other_counts_are_refused(count: int) -> None:
    with pytest.raises(UsageError, match="2 to 12"):
        grid_picture([tile(n) for n in range(count)], caption=CAPTION, scale_degc=SCALE)


def test_the_same_grid_has_the_same_bytes() -> None:
    pngs = {grid_picture([tile(0), tile(1)], caption=CAPTION, scale_degc=SCALE).png_bytes() for _ in range(2)}
    assert len(pngs) == 1
