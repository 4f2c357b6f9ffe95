"""Boards seen straight on, and what changed between two frames of one, against scenes that are known."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from irspot.board import Board, Side, Zone
from irspot.camera import Optics
from irspot.errors import UsageError
from irspot.measurement.change import changes_of
from irspot.registration.homography import fit
from irspot.registration.placement import Placement
from irspot.rendering import theme
from irspot.rendering.board_view import axis_ticks, board_picture
from irspot.rendering.colors import color_scale
from irspot.rendering.difference_picture import difference_map, difference_picture, fitting_span
from irspot.rendering.rectified import FOR_AXES, Margins, fitting_px_per_mm, rectified, seen_in, straight_on
from irspot.results import Reading
from irspot.shapes import rectangle
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

CORNERS_MM = np.array([[0.0, 0.0], [WIDTH_MM, 0.0], [WIDTH_MM, HEIGHT_MM], [0.0, HEIGHT_MM]])
BOARD = board_of(4)


def placement(corners: list[list[float]], side: Side = "front", shape: tuple[int, int] = SHAPE) -> Placement:
    rows, columns = shape
    matrix = fit(CORNERS_MM, np.array(corners) * [columns, rows])
    return Placement(matrix, side, Optics(), (columns, rows), "corners", 0.0, 0.0, 4)


def scene(where: Placement, plus_k: float = 0.0) -> np.ndarray:
    """A frame whose board says at every place where that is: 30 °C + x / 10 mm + y / 5 mm, and a warmer patch."""
    columns, rows = where.size_px
    y, x = np.mgrid[0:rows, 0:columns]
    mm = where.to_mm(np.column_stack([x.ravel(), y.ravel()]).astype(float))
    degc = 30.0 + mm[:, 0] / 10.0 + mm[:, 1] / 5.0
    degc += plus_k * ((np.abs(mm[:, 0] - 120.0) < 40.0) & (np.abs(mm[:, 1] - 90.0) < 30.0))
    return degc.reshape(rows, columns).astype(np.float32)


STRAIGHT = [[0.08, 0.92], [0.93, 0.92], [0.93, 0.08], [0.08, 0.08]]
SHIFTED = [[0.05, 0.9], [0.9, 0.9], [0.9, 0.06], [0.05, 0.06]]
TILTED = [[0.04, 0.96], [0.97, 0.88], [0.85, 0.12], [0.15, 0.05]]


@pytest.mark.parametrize("corners", [STRAIGHT, SHIFTED, TILTED], ids=["straight", "shifted", "tilted"])
def test_a_straight_view_shows_every_place_where_it_is(corners: list[list[float]]) -> None:
    where = placement(corners)
    view = straight_on(BOARD, "front", 2.0, Margins())
    flat = rectified(scene(where), BOARD, where, view)
    assert flat.shape == (view.size_px[1], view.size_px[0])
    for x_mm, y_mm in [(5.0, 5.0), (239.0, 4.0), (120.0, 91.0), (13.0, 178.0)]:
        x, y = view.to_px(np.array([[x_mm, y_mm]]))[0]
        assert flat[round(y), round(x)] == pytest.approx(30.0 + x_mm / 10.0 + y_mm / 5.0, abs=0.25)


def test_a_rear_view_is_mirrored_and_its_axis_counts_from_the_front() -> None:
    view = straight_on(BOARD, "rear", 2.0, FOR_AXES)
    left, right = view.to_px(np.array([[WIDTH_MM, 0.0], [0.0, 0.0]]))
    assert left[0] < right[0]
    assert (right - left)[0] == pytest.approx(2.0 * WIDTH_MM)
    assert axis_ticks(BOARD)[0][0] == 0.0


def test_nothing_is_hotter_than_the_pixels_it_was_made_from() -> None:
    rng = np.random.default_rng(2)
    noisy = rng.normal(50.0, 8.0, SHAPE).astype(np.float32)
    noisy[100, 120] = 140.0
    where = placement(TILTED)
    flat = rectified(noisy, BOARD, where, straight_on(BOARD, "front", fitting_px_per_mm(BOARD, [where]), Margins()))
    assert np.nanmax(flat) <= 140.0
    assert np.nanmin(flat) >= noisy.min()


def test_a_raised_zone_is_looked_up_where_it_appears() -> None:
    tall = Zone("tall", rectangle(170.0, 120.0, 30.0, 25.0), height_mm=35.0)
    board = replace(BOARD, zones=(tall,))
    where = placed(optics=Optics(focal_px=300.0))
    above = where.raised(35.0)
    y, x = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    mm = above.to_mm(np.column_stack([x.ravel(), y.ravel()]).astype(float))
    inside = (np.abs(mm[:, 0] - 185.0) < 17.0) & (np.abs(mm[:, 1] - 132.5) < 14.0)
    frame = np.where(inside, 90.0, 40.0).reshape(SHAPE)
    view = straight_on(board, "front", 2.0, Margins())
    flat = rectified(frame, board, where, view)
    corners = view.to_px(np.array([[171.0, 121.0], [199.0, 144.0], [185.0, 132.0]]))
    assert [float(flat[round(y), round(x)]) for x, y in corners] == pytest.approx([90.0] * 3)


@pytest.mark.parametrize("size", [(1283, 727), (640, 360), (801, 1203)])
@pytest.mark.parametrize("axes", [True, False])
def test_the_straight_picture_has_its_size_and_says_what_the_readings_say(size: tuple[int, int], axes: bool) -> None:
    where = placement(TILTED)
    readings = tuple(with_mm(r, where) for r in readings_of(BOARD, where))
    picture = board_picture(
        scene(where), BOARD, where, readings, caption=CAPTION, scale_degc=(20.0, 90.0), size=size, axes=axes
    )
    assert picture.size == size
    said = "".join(picture.texts)
    for r in readings[:-1]:
        assert (r.headline("°C") or "retake") in said
    numbers = [text for text in picture.texts if text in {"0", "150", "200"}]
    assert bool(numbers) == axes


def with_mm(r: Reading, where: Placement) -> Reading:
    if math.isnan(r.hot_x_px):
        return r
    x, y = where.to_mm(np.array([[r.hot_x_px, r.hot_y_px]]))[0]
    return replace(r, hot_x_mm=float(x), hot_y_mm=float(y))


def test_hot_spots_keep_their_millimetres() -> None:
    where = placement(TILTED)
    view = straight_on(BOARD, "front", 2.0, Margins())
    readings = [with_mm(r, where) for r in readings_of(BOARD, where)]
    for before, after in zip(readings, seen_in(readings, view), strict=True):
        if not math.isnan(before.hot_x_mm):
            x, y = view.to_mm(np.array([[after.hot_x_px, after.hot_y_px]]))[0]
            assert (x, y) == pytest.approx((before.hot_x_mm, before.hot_y_mm))
    assert seen_in([], view) == ()


@pytest.mark.parametrize("later", [STRAIGHT, SHIFTED, TILTED], ids=["straight", "shifted", "tilted"])
def test_a_known_difference_shows_whatever_the_camera_did(later: list[list[float]]) -> None:
    before, after = placement(STRAIGHT, shape=(157, 211)), placement(later, shape=(163, 207))
    difference, view = difference_map((scene(before), before), (scene(after, 7.5), after), BOARD, axes=False)
    y, x = np.mgrid[0 : difference.shape[0], 0 : difference.shape[1]]
    mm = view.to_mm(np.column_stack([x.ravel(), y.ravel()]).astype(float)).reshape(*difference.shape, 2)
    off = np.maximum(np.abs(mm[..., 0] - 120.0) - 40.0, np.abs(mm[..., 1] - 90.0) - 30.0)
    inside, outside = difference[off < -4.0], difference[(off > 4.0) & np.isfinite(difference)]
    assert inside == pytest.approx(np.full(inside.shape, 7.5), abs=0.15)
    assert outside == pytest.approx(np.zeros(outside.shape), abs=0.15)
    on_board = (mm[..., 0] > 3) & (mm[..., 0] < WIDTH_MM - 3) & (mm[..., 1] > 3) & (mm[..., 1] < HEIGHT_MM - 3)
    assert np.isfinite(difference[on_board]).all()
    assert np.isnan(difference[(mm[..., 0] < -1) | (mm[..., 1] > HEIGHT_MM + 1)]).all(), "off the board"


def test_a_zone_that_was_lower_before_is_looked_up_where_it_was() -> None:
    now = replace(BOARD, zones=(Zone("sink", rectangle(170.0, 120.0, 30.0, 25.0), height_mm=35.0),))
    then = replace(BOARD, zones=(Zone("sink", rectangle(170.0, 120.0, 30.0, 25.0)),))
    where = placed(optics=Optics(focal_px=300.0))
    y, x = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    px = np.column_stack([x.ravel(), y.ravel()]).astype(float)

    def with_sink(plane: Placement, degc: float) -> np.ndarray:
        mm = plane.to_mm(px)
        inside = (np.abs(mm[:, 0] - 185.0) < 17.0) & (np.abs(mm[:, 1] - 132.5) < 14.0)
        return np.where(inside, degc, 40.0).reshape(SHAPE).astype(np.float32)

    before, after = with_sink(where, 80.0), with_sink(where.raised(35.0), 66.0)
    for told, wanted in ((then, -14.0), (None, 26.0)):
        difference, view = difference_map((before, where), (after, where), now, axes=False, board_before=told)
        corner = view.to_px(np.array([[198.0, 143.0]]))[0]
        assert difference[round(corner[1]), round(corner[0])] == pytest.approx(wanted)


def test_what_one_frame_does_not_see_is_left_blank() -> None:
    before = placement(STRAIGHT)
    cut = placement([[-0.4, 0.92], [0.6, 0.92], [0.6, 0.08], [-0.4, 0.08]])
    difference, view = difference_map((scene(before), before), (scene(cut), cut), BOARD, axes=False)
    seen_from = 0.4 * WIDTH_MM
    for x_mm, seen in [(seen_from - 4.0, False), (seen_from + 4.0, True)]:
        x, y = view.to_px(np.array([[x_mm, 90.0]]))[0]
        assert bool(np.isfinite(difference[round(y), round(x)])) == seen
    picture = changed((scene(before), before), (scene(cut), cut), [], axes=False)
    assert any("hatched: not seen in both" in text for text in picture.texts)
    stripes = np.all(picture.array[:, :, None] == np.array(theme.HATCH, np.uint8), axis=-1).any()
    assert stripes


def changed(before: tuple, after: tuple, changes: list, **more: object):  # type: ignore[no-untyped-def, type-arg]
    return difference_picture(before, after, BOARD, changes, caption=CAPTION, **more)


def test_the_numbers_are_those_of_the_readings_not_of_the_map() -> None:
    where = placement(STRAIGHT)
    earlier = [with_mm(reading("z0", 60.0, 60.0, 200.0), where), with_mm(reading("z1", 50.0, 200.0, 180.0), where)]
    later = [replace(earlier[0], max_degc=64.31), replace(earlier[1], max_degc=48.72)]
    changes = list(changes_of(earlier, later, same_session=False))
    assert all(change.U_change_k == 0.0 for change in changes), "no budget, so that the text is the plain value"
    picture = changed((scene(where), where), (scene(where), where), changes, size=(1280, 720))
    said = "".join(picture.texts)
    for change in changes:
        assert change.headline() in said
    assert "+4.3" in said
    assert "-1.3" in said
    assert "of zone maxima" in picture.texts
    assert "change, K" in picture.texts


def test_the_middle_of_the_map_is_zero() -> None:
    where = placement(STRAIGHT)
    picture = changed((scene(where), where), (scene(where), where), [], axes=False, span_k=10.0)
    scale = color_scale("RdBu_r", (-10.0, 10.0))
    middle = picture.array[picture.size[1] // 2 - 100, picture.size[0] // 2 + 17]
    near = (scale.color_of(-0.03), scale.color_of(0.03))
    assert tuple(int(part) for part in middle) in near
    assert min(min(color) for color in near) > 240, "zero is nearly white"
    warmer, colder = scale.color_of(8.0), scale.color_of(-8.0)
    assert warmer[0] > warmer[2]
    assert colder[2] > colder[0]


def test_a_map_without_a_middle_is_refused() -> None:
    where = placement(STRAIGHT)
    with pytest.raises(UsageError, match="neutral middle"):
        changed((scene(where), where), (scene(where), where), [], cmap="viridis")


def test_the_span_is_round_and_holds_every_zone() -> None:
    flat = np.zeros((40, 50), np.float32)
    assert fitting_span(flat, []) == 2.0
    assert fitting_span(flat, [3.2, -7.9, math.nan]) == 10.0
    assert fitting_span(flat + 13.0, []) == 20.0
    assert fitting_span(np.full((4, 4), np.nan, np.float32), []) == 2.0


def test_an_outline_that_is_no_rectangle_is_cut_out() -> None:
    corner = Board(
        "L (invented)",
        replace(BOARD.outline, vertices_mm=((0, 0), (244, 0), (244, 90), (120, 90), (120, 183), (0, 183))),
    )
    where = placement(STRAIGHT)
    picture = board_picture(warm_frame(), corner, where, (), caption=CAPTION, scale_degc=(20.0, 90.0), axes=False)
    page = np.all(picture.array == np.array(theme.PAGE, np.uint8), axis=-1)
    assert page[300, picture.size[0] // 2 + 200], "the missing corner is page"
    assert not page[700, picture.size[0] // 2 + 200]
