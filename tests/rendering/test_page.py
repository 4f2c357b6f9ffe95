"""The page: everything inside, nothing over anything else, every number a reading's."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from irspot.board import ELSEWHERE
from irspot.rendering import Caption
from irspot.rendering.callouts import Box
from irspot.rendering.heat import Plan, plan_picture
from irspot.rendering.page import on_page
from irspot.rendering.sheet import Line
from irspot.rendering.text import font
from irspot.rendering.theme import RING
from irspot.results import Reading
from tests.rendering.scenes import CAPTION, SHAPE, board_of, placed, reading, readings_of, warm_frame

SIZES = [(1920, 1080), (3840, 2160), (1280, 720), (801, 1203), (640, 360), (1000, 1000), (1079, 2003), (2560, 640)]


def plan(
    readings: tuple[Reading, ...],
    count: int,
    size: tuple[int, int] = (1920, 1080),
    caption: Caption = CAPTION,
    shape: tuple[int, int] = SHAPE,
) -> Plan:
    return plan_picture(
        warm_frame(shape),
        board_of(count),
        placed(shape),
        readings,
        caption=caption,
        scale_degc=(20.0, 90.0),
        cmap="inferno",
        size=size,
    )


def planned(count: int, size: tuple[int, int] = (1920, 1080), shape: tuple[int, int] = SHAPE) -> Plan:
    return plan(readings_of(board_of(count), placed(shape)), count, size, shape=shape)


def ink_box(line: Line) -> Box:
    anchor = {"left": "ls", "right": "rs", "middle": "ms"}[line.align]
    x0, y0, x1, y1 = font(line.weight, line.size_px).getbbox(line.text, anchor=anchor)
    return Box(round(line.x) + x0, round(line.y) + y0, round(line.x) + x1, round(line.y) + y1)


def check_page(made: Plan) -> None:
    page = made.page
    canvas = Box(0, 0, *page.size)
    texts = [ink_box(line) for line in made.lines if line.text]
    boxes = [place.box for _, place in page.callouts]
    assert canvas.holds(page.image)
    assert canvas.holds(page.legend)
    for box in texts + boxes:
        assert canvas.holds(box), box
    for one, other in itertools.combinations(texts, 2):
        assert not one.overlaps(other)
    for one, other in itertools.combinations(boxes, 2):
        assert not one.overlaps(other)
    # Neither text nor callouts hide any of the frame, so none hides a hot spot.
    for box in texts + boxes:
        assert not box.overlaps(page.image)
    for _, (x, y) in page.spots:
        assert page.image.x0 - 0.5 <= x <= page.image.x1 - 0.5
        assert page.image.y0 - 0.5 <= y <= page.image.y1 - 0.5


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("count", [0, 1, 3, 9, 16, 24, 26, 45, 120])
def test_nothing_overlaps(size: tuple[int, int], count: int) -> None:
    check_page(planned(count, size))


@pytest.mark.parametrize("size", SIZES)
def test_nor_does_a_clock_or_a_row_of_further_facts(size: tuple[int, int]) -> None:
    facts = (("before", "k7-stock-front 2026-03-03 09:40:00 UTC"), ("after", "k7-overclock-front"), ("air", "+0.2 K"))
    caption = replace(
        CAPTION, title="A board of a name that is far too long for any page " * 3, clock="1:02:05", facts=facts
    )
    made = plan(readings_of(board_of(9), placed()), 9, size, caption)
    check_page(made)
    texts = [line.text for line in made.lines]
    assert "1:02:05" in texts
    assert "+0.2 K" in texts


@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080)])
def test_twenty_zones_have_their_callouts_beside_the_frame_in_type_that_can_be_read(size: tuple[int, int]) -> None:
    made = planned(20, size)
    check_page(made)
    assert made.page.strip is None
    assert len(made.page.callouts) == 20
    assert made.page.px(made.page.tier.value) >= 17.0
    assert made.page.image.width >= 0.5 * size[0]


@pytest.mark.parametrize("shape", [(640, 320), (120, 1000), (1000, 120), (8, 6), (1, 1)])
def test_any_frame_proportion_is_kept(shape: tuple[int, int]) -> None:
    made = planned(6, shape=shape)
    check_page(made)
    image = made.page.image
    across, down = image.width / shape[1], image.height / shape[0]
    assert across == pytest.approx(down, rel=max(1.0 / image.width, 1.0 / image.height))


place = st.tuples(st.floats(-0.5, SHAPE[1] - 0.5), st.floats(-0.5, SHAPE[0] - 0.5))
zone_reading = st.tuples(place, st.floats(-40, 400), st.sampled_from(["usable", "lower bound", "retake"]))
size = st.tuples(st.integers(640, 2600), st.integers(360, 1800))
name = st.text(max_size=50)


def random_readings(zones: list[tuple[tuple[float, float], float, str]], names: list[str]) -> tuple[Reading, ...]:
    return tuple(
        reading(f"z{i}", degc, *spot, verdict, zone_name=names[i % len(names)])
        for i, (spot, degc, verdict) in enumerate(zones)
    )


@settings(deadline=None, max_examples=60)
@given(st.lists(zone_reading, max_size=30), size, st.lists(name, min_size=1, max_size=4))
def test_nothing_overlaps_wherever_the_spots_are(
    zones: list[tuple[tuple[float, float], float, str]], size: tuple[int, int], names: list[str]
) -> None:
    check_page(plan(random_readings(zones, names), 30, size))


@pytest.mark.full
@settings(deadline=None, max_examples=2000)
@given(st.lists(zone_reading, max_size=60), size, st.lists(name, min_size=1, max_size=4))
def test_nothing_overlaps_many(
    zones: list[tuple[tuple[float, float], float, str]], size: tuple[int, int], names: list[str]
) -> None:
    check_page(plan(random_readings(zones, names), 60, size))


@pytest.mark.parametrize("count", [5, 24, 40])
def test_every_zone_says_what_its_reading_says(count: int) -> None:
    board, placement = board_of(count), placed()
    readings = readings_of(board, placement)
    made = plan(readings, count)
    texts = [line.text for line in made.lines]
    assert len(made.labels) == count
    for r in readings[:-1]:
        (label,) = [label for label in made.labels if label.name == f"Zone {r.zone}"]
        assert label.value == (r.headline("°C") or "retake")
        assert f"Zone {r.zone}" in texts or f"Zone {r.zone} ({label.why})" in texts
    # Values are set in two sizes; put together again they are the readings' own words, no more and no fewer.
    joined = (
        [head + tail for head, tail in itertools.pairwise(texts)]
        + texts
        + [b + a for a, b in itertools.pairwise(texts)]
    )
    for r in readings[:-1]:
        assert (r.headline("°C") or "retake") in joined


def test_a_retake_shows_no_number() -> None:
    made = plan((reading("z0", 71.8, 100.0, 80.0, "retake"),), 1)
    (label,) = made.labels
    assert label.value == "retake"
    assert math.isnan(label.degc)
    assert not label.hot_spot
    assert not any("71" in line.text for line in made.lines)


def test_a_retake_points_at_the_middle_of_its_zone() -> None:
    board, placement = board_of(1), placed()
    made = plan((reading("z0", math.nan, math.nan, math.nan, "retake"),), 1)
    middle = placement.to_px(np.mean(board.zones[0].shape.array_mm, axis=0, keepdims=True))[0]  # type: ignore[union-attr]
    ((_, spot),) = made.page.spots
    expected = on_page((float(middle[0]), float(middle[1])), made.page.image, SHAPE)
    assert spot == pytest.approx(expected)


def test_a_lower_bound_is_written_as_one() -> None:
    made = plan((reading("z0", 71.83, 100.0, 80.0, "lower bound"),), 1)
    assert made.labels[0].value == "≥ 69.6 °C"
    assert any(line.text == "≥ 69.6" for line in made.lines)
    assert any("≥ the true value may be higher" in line.text for line in made.lines)


def test_elsewhere_shows_only_when_it_is_the_hottest() -> None:
    cold = reading(ELSEWHERE, 30.0, 9.0, 9.0, zone_name="elsewhere")
    hot = reading(ELSEWHERE, 99.0, 9.0, 9.0, zone_name="elsewhere", flags=("elsewhere-hottest",))
    zone = reading("z0", 60.0, 100.0, 80.0)
    assert [label.name for label in plan((zone, cold), 1).labels] == ["Zone z0"]
    assert [label.name for label in plan((zone, hot), 1).labels] == ["elsewhere", "Zone z0"]


def test_24_zones_keep_values_of_26_px_beside_the_frame() -> None:
    made = planned(24)
    assert len(made.page.callouts) == 24
    assert made.page.strip is None
    assert made.page.px(made.page.tier.value) >= 26.0
    assert made.page.tier.lines == 2


def test_too_many_zones_are_listed_or_counted_never_dropped() -> None:
    made = planned(120)
    page = made.page
    assert page.strip is not None
    assert len(page.callouts) + len(page.strip.cells) + page.strip.unlisted == 120
    assert page.strip.unlisted > 0
    assert any(line.text == f"and {page.strip.unlisted} more in the table" for line in made.lines)
    # Those beside the frame are the hottest, then those listed.
    shown = [label.degc for label, _ in page.callouts] + [label.degc for label, _ in page.strip.cells]
    assert shown == sorted(shown, reverse=True)


def test_all_type_grows_with_the_height() -> None:
    small, large = planned(8, (1920, 1080)), planned(8, (3840, 2160))
    assert [line.text for line in small.lines] == [line.text for line in large.lines]
    for one, two in zip(small.lines, large.lines, strict=True):
        assert two.size_px == pytest.approx(2.0 * one.size_px)
        # Widths of type do not double exactly: advances are hinted to whole pixels, half a pixel in some fifteen.
        assert two.x == pytest.approx(2.0 * one.x, rel=0.02, abs=4.0)
        assert two.y == pytest.approx(2.0 * one.y, abs=4.0)


def test_leaders_end_at_their_own_spots() -> None:
    made = planned(11)
    spots = {label.name: point for label, point in made.page.spots}
    for label, placed_at in made.page.callouts:
        assert placed_at.leader is not None
        x, y = spots[label.name]
        distance = math.hypot(placed_at.leader[0][0] - x, placed_at.leader[0][1] - y)
        assert distance == pytest.approx(1.6 * RING * made.page.unit)


def test_caption_is_all_there() -> None:
    texts = " | ".join(line.text for line in planned(3).lines)
    for word in (
        "Kestrel K7 (invented)",
        "all-core render, power limits as shipped",
        "front",
        "21.3 ± 1.0 °C",
        "2026-03-01 14:22:08 UTC",
        "surface temperature, colour map inferno",
        "emissivity",
        "camera: bench camera",
        "made for a test",
    ):
        assert word in texts


@pytest.mark.parametrize("title", ["", "\x00\x1b[2J", "x" * 2000, "<b>&\u202e", "\ud800", "電" * 90])
def test_hostile_captions(title: str) -> None:
    caption = Caption(title, title, title, title, title, title, (title, title), title)
    check_page(plan((), 2, (801, 603), caption))
