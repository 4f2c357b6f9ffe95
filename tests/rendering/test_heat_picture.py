"""Pixels of the finished picture: size, colours, outlines, rings, holes, and nothing that is not asked for."""

from __future__ import annotations

import io
import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from irspot.camera import Optics
from irspot.errors import OutputRefused, UsageError
from irspot.rendering import Picture, heat_picture, theme
from irspot.rendering.colors import color_scale, color_table
from irspot.rendering.heat import plan_picture
from irspot.rendering.legend import bar_box, bar_x, cap_boxes
from irspot.rendering.page import Page, on_page
from irspot.results import Reading
from tests.rendering.scenes import (
    CAPTION,
    HEIGHT_MM,
    SHAPE,
    WIDTH_MM,
    board_of,
    placed,
    reading,
    readings_of,
    warm_frame,
)

SCALE = (20.0, 84.0)


def draw(degc: np.ndarray, readings: tuple[Reading, ...] = (), count: int = 0, **more: object) -> tuple[Picture, Page]:
    """A picture, and the page it follows."""
    arguments = {"caption": CAPTION, "scale_degc": SCALE, "cmap": "inferno", "size": (1920, 1080), **more}
    placement = arguments.pop("placement", None) or placed(degc.shape)
    board = board_of(count)
    plan = plan_picture(degc, board, placement, readings, **arguments)  # type: ignore[arg-type]
    return heat_picture(degc, board, placement, readings, **arguments), plan.page  # type: ignore[arg-type]


def at(picture: Picture, x: float, y: float) -> tuple[int, ...]:
    return tuple(int(part) for part in picture.array[round(y), round(x)])


def frame_part(picture: Picture, page: Page) -> np.ndarray:
    box = page.image
    return picture.array[int(box.y0) : int(box.y1), int(box.x0) : int(box.x1)]


@pytest.mark.parametrize("size", [(1920, 1080), (3840, 2160), (1280, 720), (801, 1203), (640, 360), (1001, 577)])
def test_the_size_is_exactly_what_was_asked(size: tuple[int, int]) -> None:
    board, placement = board_of(9), placed()
    readings = readings_of(board, placement)
    picture, _ = draw(warm_frame(), readings, 9, size=size)
    assert picture.size == size
    assert picture.array.shape == (size[1], size[0], 3)
    assert picture.array.dtype == np.uint8
    with Image.open(io.BytesIO(picture.png_bytes())) as packed:
        assert packed.size == size
        assert packed.format == "PNG"
        np.testing.assert_array_equal(np.asarray(packed), picture.array)


@pytest.mark.parametrize("size", [(639, 1080), (1920, 359), (0, 0), (-5, 400), (60_000, 60_000)])
def test_sizes_nobody_can_read_or_hold_are_refused(size: tuple[int, int]) -> None:
    with pytest.raises(UsageError, match=r"too (small|large)"):
        draw(warm_frame(), size=size)


@pytest.mark.parametrize("cmap", ["inferno", "viridis", "gray"])
@pytest.mark.parametrize("degc", [20.0, 20.1, 47.3, 83.9, 84.0])
def test_a_known_temperature_has_the_maps_colour(cmap: str, degc: float) -> None:
    picture, page = draw(np.full(SHAPE, degc), cmap=cmap)
    entry = min(255, int((degc - 20.0) / 64.0 * 256))
    x, y = on_page((160.0, 120.0), page.image, SHAPE) or (0, 0)
    assert at(picture, x, y) == tuple(color_table(cmap)[entry])


def test_beyond_the_scale_stand_the_colours_of_the_caps() -> None:
    degc = np.full(SHAPE, 50.0)
    degc[100:140, 100:140], degc[100:140, 200:240] = 90.0, 10.0
    picture, page = draw(degc)
    scale = color_scale("inferno", SCALE)
    under, over = cap_boxes(page)
    hot, cold = on_page((120.0, 120.0), page.image, SHAPE), on_page((220.0, 120.0), page.image, SHAPE)
    assert hot is not None
    assert cold is not None
    assert at(picture, *hot) == scale.over == at(picture, 0.5 * (over.x0 + over.x1), 0.5 * (over.y0 + over.y1))
    assert at(picture, *cold) == scale.under == at(picture, 0.5 * (under.x0 + under.x1), 0.5 * (under.y0 + under.y1))


def test_what_was_not_measured_is_hatched() -> None:
    degc = np.full(SHAPE, 50.0)
    degc[80:160, 90:200] = np.nan
    picture, page = draw(degc)
    part = frame_part(picture, page)
    rows, columns = SHAPE
    y0, y1 = round(85 * part.shape[0] / rows), round(155 * part.shape[0] / rows)
    x0, x1 = round(95 * part.shape[1] / columns), round(195 * part.shape[1] / columns)
    colors, counts = np.unique(part[y0:y1, x0:x1].reshape(-1, 3), axis=0, return_counts=True)
    assert {tuple(c) for c in colors.tolist()} == set(theme.HATCH)
    assert counts.min() > 0.4 * counts.sum()
    assert not {tuple(c) for c in color_table("inferno").tolist()} & set(theme.HATCH)
    hatched = np.all((part[:, :, None] == np.array(theme.HATCH)).all(axis=-1).any(axis=-1)[..., None], axis=-1)
    assert hatched.mean() == pytest.approx(80 * 110 / (rows * columns), rel=0.03)


def test_the_frame_lies_the_right_way_round() -> None:
    picture, page = draw(warm_frame(), scale_degc=(20.0, 90.0))
    table = color_table("inferno").astype(int)
    for x, y in [(3, 3), (319, 3), (3, 237), (319, 237), (160, 238)]:
        px = on_page((float(x), float(y)), page.image, SHAPE)
        assert px is not None
        degc = 25.0 + 30.0 * (x / SHAPE[1] + y / SHAPE[0])
        difference = np.abs(table - np.array(at(picture, *px))).sum(axis=1)
        assert abs(int(difference.argmin()) - int((degc - 20.0) / 70.0 * 256)) <= 1


def white_near(picture: Picture, x: float, y: float, reach: int = 1) -> bool:
    x0, y0 = round(x), round(y)
    part = picture.array[y0 - reach : y0 + reach + 1, x0 - reach : x0 + reach + 1]
    return bool((part.min(axis=-1) > 200).any())


@pytest.mark.parametrize(
    "optics", [Optics(), Optics(focal_px=300.0, distortion=(-0.25, 0.05, 0.0, 0.0, 0.0))], ids=["straight", "bent"]
)
@pytest.mark.parametrize("degc", [20.5, 83.5])
def test_outlines_lie_where_the_placement_says_on_dark_and_on_light(optics: Optics, degc: float) -> None:
    placement = placed(optics=optics)
    picture, page = draw(np.full(SHAPE, degc), count=5, placement=placement)
    share = np.linspace(0.02, 0.98, 23)[:, None]
    corners = np.array([[0.0, 0.0], [WIDTH_MM, 0.0], [WIDTH_MM, HEIGHT_MM], [0.0, HEIGHT_MM]])
    edges = np.concatenate([a + share * (b - a) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)])
    zones = [zone.shape.border_points(7.0) for zone in board_of(5).zones]
    for x, y in placement.to_px(np.concatenate([edges, *zones])):
        px = on_page((float(x), float(y)), page.image, SHAPE)
        assert px is not None
        assert white_near(picture, *px)
    # Beside the light stroke there is a dark one.
    x, y = on_page(tuple(placement.to_px(np.array([[0.5 * WIDTH_MM, 0.0]]))[0]), page.image, SHAPE) or (0, 0)
    column = picture.array[round(y) - 8 : round(y) + 9, round(x)].max(axis=-1)
    assert column.min() < 40


def test_a_raised_zone_is_outlined_where_it_appears() -> None:
    from dataclasses import replace

    from irspot.board import Zone
    from irspot.rendering.labels import labels_of
    from irspot.shapes import rectangle

    tall = Zone("tall", rectangle(170.0, 120.0, 30.0, 25.0), height_mm=35.0)
    board = replace(board_of(1), zones=(tall,))
    placement = placed(optics=Optics(focal_px=300.0))
    empty = [reading("tall", math.nan, math.nan, math.nan, "retake", flags=("no-pixels",))]
    picture = heat_picture(
        np.full(SHAPE, 83.5), board, placement, empty, caption=CAPTION, scale_degc=SCALE, size=(1920, 1080)
    )
    page = plan_picture(
        np.full(SHAPE, 83.5),
        board,
        placement,
        empty,
        caption=CAPTION,
        scale_degc=SCALE,
        cmap="inferno",
        size=(1920, 1080),
    ).page
    seen = [on_page(tuple(spot), page.image, SHAPE) for spot in placement.raised(35.0).to_px(tall.shape.array_mm)]
    feet = [on_page(tuple(spot), page.image, SHAPE) for spot in placement.to_px(tall.shape.array_mm)]
    for spot, foot in zip(seen, feet, strict=True):
        assert spot is not None
        assert foot is not None
        assert math.hypot(spot[0] - foot[0], spot[1] - foot[1]) > 20.0
        assert white_near(picture, *spot, reach=2)
        assert not white_near(picture, *foot, reach=2)
    (label,) = labels_of(empty, board, placement, SHAPE)
    middle = placement.raised(35.0).to_px(np.array([[185.0, 132.5]]))[0]
    assert label.spot_px == pytest.approx(tuple(middle), abs=1e-6)


def test_a_zone_of_the_other_side_is_not_drawn() -> None:
    from dataclasses import replace

    degc = np.full(SHAPE, 30.0)
    board = board_of(4)
    rear = replace(board, zones=tuple(replace(zone, side="rear") for zone in board.zones))
    bare = replace(board, zones=())
    pictures = [
        heat_picture(degc, b, placed(), (), caption=CAPTION, scale_degc=SCALE).array for b in (rear, bare, board)
    ]
    np.testing.assert_array_equal(pictures[0], pictures[1])
    assert not np.array_equal(pictures[1], pictures[2])


def test_a_ring_stands_around_the_hot_spot_and_leaves_it_open() -> None:
    picture, page = draw(np.full(SHAPE, 50.0), (reading("z0", 50.0, 170.25, 60.75),), 0)
    x, y = on_page((170.25, 60.75), page.image, SHAPE) or (0, 0)
    radius = page.px(theme.RING)
    for angle in np.linspace(0, 2 * np.pi, 16, endpoint=False):
        assert white_near(picture, x + radius * math.cos(angle), y + radius * math.sin(angle))
    assert at(picture, x, y) == tuple(color_table("inferno")[int(30.0 / 64.0 * 256)])


def test_numbers_change_nothing_but_their_own_callouts() -> None:
    first = tuple(reading(f"z{i}", 50.0 + i, 60.0 + 50 * i, 100.0) for i in range(4))
    second = tuple(reading(f"z{i}", 50.0 + i, 60.0 + 50 * i, 100.0, U_max_k=3.4) for i in range(4))
    one, page = draw(warm_frame(), first, 4)
    two, _ = draw(warm_frame(), second, 4)
    changed = np.any(one.array != two.array, axis=-1)
    assert changed.any()
    for _, place in page.callouts:
        box = place.box
        part = changed[int(box.y0) : int(box.y1), int(box.x0) : int(box.x1)]
        assert part.any()
        part[:] = False
    assert not changed.any()


def test_maxima_are_pinned_on_the_scale() -> None:
    picture, page = draw(np.full(SHAPE, 30.0), (reading("z0", 61.0, 60.0, 100.0), reading("z1", 95.0, 160.0, 100.0)))
    bare, _ = draw(np.full(SHAPE, 30.0))
    scale = color_scale("inferno", SCALE)
    bar = bar_box(page)
    y0, y1 = int(bar.y0 - page.px(22.0)), int(bar.y0 - page.px(2.0))
    columns = np.flatnonzero(np.any(picture.array[y0:y1] != bare.array[y0:y1], axis=(0, 2)))
    groups = np.split(columns, np.flatnonzero(np.diff(columns) > 5) + 1)
    assert [float(np.mean(group)) for group in groups] == pytest.approx(
        [bar_x(page, scale, 61.0), bar_x(page, scale, 95.0)], abs=1.0
    )
    assert bar_x(page, scale, 61.0) == pytest.approx(bar.x0 + (61.0 - 20.0) / 64.0 * bar.width, abs=1.0)
    assert bar_x(page, scale, 95.0) > bar.x1


def test_the_scale_is_the_same_in_all_pictures_of_a_study() -> None:
    first, page = draw(warm_frame())
    second, _ = draw(warm_frame() + 3.0, (reading("z0", 61.0, 60.0, 100.0),), 0)
    y0 = int(page.legend.y0)
    lower = slice(y0, int(page.legend.y1 + page.px(45.0)))
    np.testing.assert_array_equal(first.array[lower], second.array[lower])


def test_without_a_placement_the_frame_is_drawn_alone() -> None:
    board = board_of(3)
    unplaced = tuple(reading(zone.id, math.nan, math.nan, math.nan, "retake") for zone in board.zones)
    picture = heat_picture(np.full(SHAPE, 50.0), board, None, unplaced, caption=CAPTION, scale_degc=SCALE)
    entry = tuple(color_table("inferno")[int(30.0 / 64.0 * 256)])
    assert (picture.array == entry).all(axis=-1).sum() > 500_000


def test_a_board_behind_the_camera_does_not_break_the_picture() -> None:
    from dataclasses import replace

    wild = replace(placed(), matrix=np.array([[1.0, 0, 0], [0, 1.0, 0], [-0.01, 0.0, 1.0]]))
    picture, _ = draw(warm_frame(), placement=wild, count=9)
    assert picture.size == (1920, 1080)


@pytest.mark.parametrize("fill", [np.nan, np.inf, -np.inf, 1e30])
def test_frames_of_nothing_sensible(fill: float) -> None:
    picture, _ = draw(np.full((7, 5), fill))
    assert picture.size == (1920, 1080)


def test_the_same_call_gives_the_same_bytes() -> None:
    readings = readings_of(board_of(9), placed())
    assert draw(warm_frame(), readings, 9)[0].png_bytes() == draw(warm_frame(), readings, 9)[0].png_bytes()


def test_saving(tmp_path: Path) -> None:
    picture, _ = draw(warm_frame(), size=(640, 360))
    path = tmp_path / "Prüf ≥ bild.png"
    picture.save(path)
    picture.save(path)
    assert path.read_bytes() == picture.png_bytes()
    assert [p.name for p in tmp_path.iterdir()] == [path.name]
    (tmp_path / "folder").mkdir()
    with pytest.raises(OutputRefused):
        picture.save(tmp_path / "folder")


def test_pixels_cannot_be_changed_afterwards() -> None:
    picture, _ = draw(warm_frame(), size=(640, 360))
    with pytest.raises(ValueError, match="read-only"):
        picture.array[0, 0] = 1


def test_drawing_loads_neither_matplotlib_nor_scipy() -> None:
    code = (
        "import sys\n"
        "from tests.rendering.scenes import *\n"
        "from irspot.rendering import heat_picture\n"
        "b, p = board_of(5), placed()\n"
        "heat_picture(warm_frame(), b, p, readings_of(b, p), caption=CAPTION, scale_degc=(20, 90)).png_bytes()\n"
        "print(sorted({'matplotlib', 'scipy', 'skimage'} & set(sys.modules)))"
    )
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=root)
    assert done.stdout.strip() == "[]"
