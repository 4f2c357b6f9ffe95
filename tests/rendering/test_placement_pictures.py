"""Pictures of placing: exact size, the right places marked, and in words what the refusal says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.board import Board, Mark
from irspot.camera import Optics
from irspot.errors import PlacementRefused, UsageError
from irspot.registration.placement import Placement
from irspot.registration.seen import Seen, SeenOutline
from irspot.rendering import placed_picture as placed_module
from irspot.rendering.colors import contrast_ratio
from irspot.rendering.placed_picture import OUTLINE, SPREAD, TOP, ellipse, enlarged, placed_picture, plan_placed
from irspot.rendering.placement_page import Plan, grey_range
from irspot.rendering.refused_picture import EDGES, GIVEN, OUTLINES, plan_refused, refused_picture
from irspot.rendering.text import paragraph, text_width
from irspot.rendering.theme import PAGE
from irspot.shapes import Polygon
from tests.rendering.scenes import HEIGHT_MM, SHAPE, WIDTH_MM, board_of, placed, warm_frame

SIZES = [(1920, 1080), (1280, 720), (801, 1203), (640, 360), (1001, 577), (360, 640)]
REFUSAL = PlacementRefused(
    "too little of the outline stands out from what lies around",
    cause="contrast",
    found="31 % of it",
    hint="give corners_px by hand; a lamp behind the board makes its edge show",
)
HELD_MM = np.array([[0.0, 0.0], [WIDTH_MM, 0.0], [WIDTH_MM, HEIGHT_MM], [0.0, HEIGHT_MM]])


def square(x: float, y: float, side: float) -> np.ndarray:
    corners = np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]])
    steps = np.linspace(0.0, 1.0, 20, endpoint=False)[:, None]
    return np.concatenate([a + steps * (b - a) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)])


def seen_of(*squares: tuple[float, float, float], edges: np.ndarray | None = None) -> Seen:
    outlines = tuple(
        SeenOutline(square(*each), 0.6 - 0.1 * n, 0.31, 1.0 if n else 0.83, 1 + n) for n, each in enumerate(squares)
    )
    return Seen(outlines, np.empty((0, 2)) if edges is None else edges)


def refused(seen: Seen, size: tuple[int, int] = (1920, 1080), degc: np.ndarray | None = None):
    degc = warm_frame() if degc is None else degc
    board = board_of(3)
    picture = refused_picture(degc, board, seen, REFUSAL, subtitle="k7.tiff", size=size)
    return picture, plan_refused(degc, board, seen, REFUSAL, subtitle="k7.tiff", size=size)


def words(plan: Plan) -> str:
    return " ".join(line.text for line in plan.lines)


def has(picture, plan: Plan, place: tuple[float, float], color: tuple[int, int, int], reach: int = 3) -> bool:
    """Whether a colour stands within a few px of a place of the frame."""
    x, y = np.rint(plan.on_page(np.array([place]))[0]).astype(int)
    around = picture.array[max(0, y - reach) : y + reach + 1, max(0, x - reach) : x + reach + 1].astype(int)
    return bool((np.abs(around - np.array(color)).max(axis=-1) < 40).any())


@pytest.mark.parametrize("size", SIZES)
def test_the_size_is_exactly_what_was_asked(size: tuple[int, int]) -> None:
    if size[0] < 640:
        with pytest.raises(UsageError, match="too small"):
            refused(seen_of(), size)
        return
    seen = seen_of((20, 30, 100), (180, 60, 110), (60, 90, 120), edges=np.array([[50.0, 60.0]]))
    assert refused(seen, size)[0].size == size
    placement = replace(placed(), held_mm=HELD_MM)
    assert placed_picture(warm_frame(), board_of(5), placement, facts=["found"], size=size).size == size


@pytest.mark.parametrize("size", [(1920, 1080), (801, 1203), (640, 360)])
def test_all_words_are_on_the_page_and_apart_from_the_frame(size: tuple[int, int]) -> None:
    seen = seen_of((20, 30, 100), (180, 60, 110), (60, 90, 120), edges=np.array([[50.0, 60.0]]))
    plan = refused(seen, size)[1]
    said = words(plan)
    for part in ("Not placed: Kestrel K7", "31 % of it", "What to do", "lamp behind the board", "1: likeliest place"):
        assert part in said
    for part in ("fit 60 of 100", "83 % in view", "2: also possible", "2 ways round", "edges in the frame", "grey:"):
        assert part in said
    for line in plan.lines:
        assert line.x + text_width(line.text, line.weight, line.size_px) <= size[0]
        assert line.y <= size[1]
        beside = line.x >= plan.image.x1
        assert beside or line.y < plan.image.y0 or line.y - line.size_px > plan.image.y1 - 1
        assert line.size_px >= 0.009 * size[1], "a phone shows a page about 400 points high"


def test_outlines_edges_and_points_stand_where_they_are() -> None:
    edges = np.array([[150.0, 20.0], [160.0, 20.0]])
    picture, plan = refused(seen_of((20, 30, 100), (180, 60, 110), edges=edges))
    assert has(picture, plan, (20.0, 80.0), OUTLINES[0][0])
    assert not has(picture, plan, (150.0, 140.0), OUTLINES[0][0], 8)
    dashes = [has(picture, plan, (180.0 + step, 60.0), OUTLINES[1][0], 1) for step in np.arange(20.0, 100.0, 1.0)]
    assert 0.3 < np.mean(dashes) < 0.95, "dashed"
    assert has(picture, plan, (150.0, 20.0), EDGES)
    given, plan = refused(Seen(given_px=(("1", 40.0, 50.0), ("hole-b", 200.0, 60.0), ("3", 180.0, 200.0))))
    assert has(given, plan, (120.0, 55.0), GIVEN)
    assert "points as they were given" in words(plan)


def test_outlines_beyond_the_frame_and_frames_without_numbers_are_drawn_all_the_same() -> None:
    far = seen_of((-5000.0, -5000.0, 100.0), (-50.0, -60.0, 900.0))
    behind = replace(far.outlines[0], border_px=np.full((10, 2), np.nan))
    refused(Seen((behind, far.outlines[1])))
    picture, plan = refused(seen_of(), degc=np.full(SHAPE, np.nan, np.float32))
    assert "nothing was measured" in words(plan)
    assert np.ptp(picture.array[plan.view].reshape(-1, 3).astype(int), axis=0).max() > 0, "hatched"


def test_greys_run_with_the_temperatures() -> None:
    picture, plan = refused(seen_of())
    view = picture.array[plan.view].astype(int)
    assert np.ptp(view, axis=-1).max() == 0
    assert view[5, 5, 0] < view[view.shape[0] // 2, view.shape[1] // 2, 0] < view[-6, -6, 0]
    low, high = grey_range(warm_frame())
    assert 25.0 <= low < high <= 85.0


def test_colours_tell_apart_and_show() -> None:
    colors = [color for color, _ in OUTLINES] + [EDGES, GIVEN]
    for color in [*colors, OUTLINE, TOP, SPREAD]:
        assert contrast_ratio(color, PAGE) > 4.5
    assert len({mark for _, mark in OUTLINES}) == len(OUTLINES), "lines differ in kind, not by colour alone"


def test_a_reason_that_names_things_is_shown_as_text() -> None:
    board = Board("Évil\n\x1b[31m board" + "x" * 500, board_of(1).outline)
    refusal = PlacementRefused("no", hint="word " * 300)
    plan = plan_refused(warm_frame(), board, Seen(), refusal, subtitle="a\tb", size=(640, 360))
    assert all(character.isprintable() for line in plan.lines for character in line.text)
    refused_picture(warm_frame(), board, Seen(), refusal, subtitle="a\tb", size=(640, 360))


def test_a_placed_board_has_outline_top_marks_and_corner_spreads() -> None:
    marks = (Mark("hole-a", 60.0, 90.0), Mark("hole-b", 160.0, 90.0), Mark("hole-c", 90.0, 30.0))
    board = replace(board_of(4), marks=marks)
    placement = replace(placed(), held_mm=HELD_MM, u_point_px=2.0, marks=("hole-a",), marks_left_out=("hole-b",))
    picture = placed_picture(warm_frame(), board, placement, facts=["placed by hand"])
    plan = plan_placed(warm_frame(), board, placement, facts=["placed by hand"], subtitle="", size=(1920, 1080))
    low, high = placement.to_px(np.array([[WIDTH_MM / 2, 0.0], [WIDTH_MM / 2, HEIGHT_MM]]))
    assert has(picture, plan, tuple(low), OUTLINE)
    assert has(picture, plan, tuple(high), TOP)
    assert not has(picture, plan, tuple(low), TOP, 6)
    for mark, color in zip(marks, placed_module.MARKS.values(), strict=True):
        assert has(picture, plan, tuple(placement.to_px(np.array([[mark.x_mm, mark.y_mm]]))[0]), color)
    corner = placement.to_px(np.array([[0.0, 0.0]]))[0]
    scale = plan.image.width / SHAPE[1]
    times = enlarged(placement.u_px_at(HELD_MM), plan)
    assert times == 1, "two standard uncertainties of 2 px show as they are"
    assert has(picture, plan, tuple(corner + np.array([4.0, 0.0])), SPREAD)
    assert not has(picture, plan, tuple(corner + np.array([9.0, 0.0])), SPREAD)
    assert scale > 1.0
    said = words(plan)
    for part in ("Placed: Kestrel K7", "placed by hand", "top edge", "within 4.0 px", *placed_module.MARKS):
        assert part in said
    assert "times as large" not in said


def test_a_tiny_uncertainty_is_drawn_enlarged_and_said_so() -> None:
    placement = replace(placed(), held_mm=HELD_MM, u_point_px=0.05)
    plan = plan_placed(warm_frame(), board_of(1), placement, facts=[], subtitle="", size=(1920, 1080))
    times = enlarged(placement.u_px_at(HELD_MM), plan)
    assert times > 10
    assert f"drawn {times} times as large" in words(plan)
    assert "within 0.1 px" in words(plan)


def test_where_no_uncertainty_is_known_none_is_drawn() -> None:
    picture = placed_picture(warm_frame(), board_of(1), placed())
    plan = plan_placed(warm_frame(), board_of(1), placed(), facts=[], subtitle="", size=(1920, 1080))
    assert "95 %" not in words(plan)
    assert not (np.abs(picture.array.astype(int) - np.array(SPREAD)).max(axis=-1) < 8).any()


@pytest.mark.parametrize("side", ["front", "rear"])
def test_the_top_of_an_outline_with_a_notch_is_its_highest_edges(side) -> None:
    outline = Polygon(((0, 0), (100, 0), (100, 70), (60, 70), (60, 50), (30, 50), (30, 70), (0, 70)))
    edges = placed_module.top_edges(Board("notched", outline))
    assert [sorted((float(edge[0, 0]), float(edge[-1, 0]))) for edge in edges] == [[60.0, 100.0], [0.0, 30.0]]
    matrix = np.array([[2.0 if side == "front" else -2.0, 0.0, 100.0], [0.0, -2.0, 200.0], [0.0, 0.0, 1.0]])
    placement = Placement(matrix, side, Optics(), (SHAPE[1], SHAPE[0]), "auto", 0.1, 0.05, 400)
    placed_picture(warm_frame(), Board("notched", outline), placement, size=(640, 360))


def test_a_zone_that_would_reach_the_camera_is_left_out_and_corners_behind_it_too() -> None:
    board = Board("tall", board_of(1).outline, (replace(board_of(1).zones[0], height_mm=5000.0),))
    seen = placed(optics=Optics((SHAPE[1], SHAPE[0]), 300.0))
    assert placed_picture(warm_frame(), board, seen, size=(640, 360)).size == (640, 360)
    # The horizon runs across the board: two of its corners are behind the camera.
    steep = np.array([[1.0, 0.0, 10.0], [0.0, -1.0, 200.0], [0.0, -1.0 / 90.0, 1.0]])
    behind = Placement(steep, "front", Optics(), (SHAPE[1], SHAPE[0]), "corners", 0.0, 0.0, 4, held_mm=HELD_MM)
    assert np.isnan(behind.to_px(HELD_MM)).any()
    placed_picture(warm_frame(), board_of(2), behind, size=(640, 360))


def test_the_ellipse_is_two_standard_uncertainties() -> None:
    points = ellipse(np.array([[4.0, 0.0], [0.0, 1.0]]))
    assert np.abs(points[:, 0]).max() == pytest.approx(4.0, rel=0.01)
    assert np.abs(points[:, 1]).max() == pytest.approx(2.0, rel=0.01)
    tilted = ellipse(np.array([[2.5, 1.5], [1.5, 2.5]]))
    longest = tilted[np.argmax(np.hypot(*tilted.T))]
    assert abs(longest[0] - longest[1]) < 0.3


def test_paragraphs_break_between_words() -> None:
    lines = paragraph("one two three four", "regular", 20.0, text_width("one two", "regular", 20.0) + 1.0)
    assert lines[:2] == ["one two", "three"]
    assert paragraph("", "regular", 20.0, 100.0) == []
    (cut,) = paragraph("w" * 200, "regular", 20.0, 100.0)
    assert cut.endswith("…")
