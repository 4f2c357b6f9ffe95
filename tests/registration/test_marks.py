"""Marks in scenes of known truth: they decide the way round or do not, contradict, and hold a placement."""

from __future__ import annotations

from collections import Counter
from functools import cache

import numpy as np
import pytest

from irspot.board import Board, Mark
from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.registration.find_board import find_board
from irspot.shapes import rectangle
from irspot.synthetic.marked_scenes import MarkedScene, marked_scene

SIDES = ("up", "right", "down", "left")
SHAPES = ("rectangle", "square")
SIZES = ((320, 240), (384, 288), (640, 480))
BY_OUTLINE = {"contrast", "outline", "edge", "cut-off", "two", "too-small"}


@cache
def scene_of(seed: int, share_drawn: float | None = None) -> MarkedScene:
    return marked_scene(seed, shape=SHAPES[seed % 2], size_px=SIZES[seed % 3], share_drawn=share_drawn)


def outcome(marked: MarkedScene, side=None, top=None):
    """Worst corner, px, and marks used; or the refusal."""
    scene = marked.scene
    try:
        placement = find_board(
            scene.degc, scene.board, scene.optics, side=side or scene.side, top=top, noise_k=scene.noise_k
        )
    except PlacementRefused as refused:
        return refused
    corners = placement.to_px(scene.board.outline.array_mm)
    return float(np.hypot(*(corners - scene.corners_px).T).max()), placement.marks


def decided(seeds: range, share_drawn: float | None = None) -> Counter[str]:
    """Count how marks decide the way round where nobody said it."""
    counts = Counter[str]()
    for seed in seeds:
        found = outcome(scene_of(seed, share_drawn))
        if isinstance(found, PlacementRefused):
            counts["no outline" if found.cause in BY_OUTLINE else found.cause] += 1
        else:
            counts["right" if found[0] <= 3.0 else "wrong"] += 1
    print(counts)
    return counts


def test_marks_decide_the_way_round():
    counts = decided(range(5000, 5012))
    assert counts["wrong"] == counts["mirrored"] == 0
    assert counts["right"] >= 0.5 * (12 - counts["no outline"])


@pytest.mark.full
def test_marks_decide_the_way_round_of_two_hundred_boards():
    counts = decided(range(6000, 6200))
    assert counts["wrong"] == counts["mirrored"] == 0
    assert counts["right"] >= 0.5 * (200 - counts["no outline"])


def test_marks_that_are_not_there_decide_nothing():
    counts = decided(range(5100, 5106), 0.0)
    assert set(counts) <= {"orientation", "no outline"}


@pytest.mark.full
def test_marks_that_are_not_there_decide_nothing_on_two_hundred_boards():
    assert set(decided(range(6200, 6400), 0.0)) <= {"orientation", "no outline"}


def test_what_is_contradicted_is_refused_by_name():
    tops, sides, placed = 0, 0, 0
    for seed in range(5000, 5006):
        scene = scene_of(seed).scene
        if isinstance(outcome(scene_of(seed)), PlacementRefused):
            continue
        placed += 1
        wrong = outcome(scene_of(seed), top=SIDES[(SIDES.index(scene.top) + 2) % 4])
        if isinstance(wrong, PlacementRefused) and wrong.cause == "top":
            assert scene.top in wrong.wanted
            tops += 1
        behind = outcome(scene_of(seed), side="rear" if scene.side == "front" else "front")
        assert isinstance(behind, PlacementRefused)
        assert scene.side in behind.wanted or behind.cause != "mirrored"
        sides += behind.cause == "mirrored"
    # A pattern can be symmetric in the one way and not in the other.
    assert placed >= 3
    assert tops >= placed - 1
    assert sides >= placed - 2


def test_marks_keep_or_better_the_corners():
    before, after, used = [], [], 0
    for seed in range(5200, 5206):
        marked = marked_scene(seed, size_px=SIZES[seed % 3])
        scene = marked.scene
        bare = Board("bare", scene.board.outline)
        try:
            alone = find_board(scene.degc, bare, scene.optics, side=scene.side, top=scene.top, noise_k=scene.noise_k)
        except PlacementRefused:
            continue
        error, marks = outcome(marked, top=scene.top)
        assert set(marks) <= {mark.id for mark in scene.board.marks}
        before.append(float(np.hypot(*(alone.to_px(bare.outline.array_mm) - scene.corners_px).T).max()))
        after.append(error)
        used += len(marks)
    print(f"worst corner {np.mean(before):.3f} px without, {np.mean(after):.3f} with {used} marks")
    assert used > 2 * len(after)
    assert np.max(np.subtract(after, before)) < 0.15
    assert np.mean(after) <= np.mean(before) + 0.005


PATTERN = tuple(Mark(f"m{k}", x, y) for k, (x, y) in enumerate([(10, 10), (160, 10), (160, 160), (10, 160)]))


def test_a_pattern_as_symmetric_as_the_outline_is_refused_before_any_search():
    board = Board("square", rectangle(0.0, 0.0, 170.0, 170.0), marks=PATTERN)
    with pytest.raises(PlacementRefused, match="its marks look the same") as refusal:
        find_board(np.full((120, 160), 21.0, np.float32), board, Optics())
    assert refusal.value.cause == "orientation"
    assert refusal.value.wanted == "up, right, down or left"


@pytest.mark.parametrize("turn", [0, 1, 2, 3])
def test_an_outline_nearly_the_same_in_two_ways_is_laid_the_right_one(turn):
    """A board of 200 x 197 mm, turned by quarters: its corners, 1.6 px apart, are those of the way the marks show."""
    from tests.registration.mark_frames import disc_frame

    board = Board("nearly", rectangle(0.0, 0.0, 200.0, 197.0), marks=PATTERN[:3])
    middle, scale = np.array([128.0, 126.0]), 1.1
    angle = turn * np.pi / 2.0
    to_px = scale * np.array([[np.cos(angle), -np.sin(angle)], [-np.sin(angle), -np.cos(angle)]])
    holes = [((np.array([m.x_mm, m.y_mm]) - [100.0, 98.5]) @ to_px.T + middle) for m in board.marks]
    half = np.abs(to_px @ [100.0, 98.5])
    frame = disc_frame(
        (256, 252),
        [(x, y, 3.0, -14.0) for x, y in holes],
        blur_px=0.8,
        noise_k=0.03,
        level_degc=40.0,
        box_px=(*(middle - half), *(middle + half)),
    )
    placement = find_board(frame, board, Optics(blur_px=0.8), noise_k=0.03)
    wanted = (board.outline.array_mm - [100.0, 98.5]) @ to_px.T + middle
    np.testing.assert_allclose(placement.to_px(board.outline.array_mm), wanted, atol=0.4)
    assert set(placement.marks) == {"m0", "m1", "m2"}
