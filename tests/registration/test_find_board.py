"""Boards are found where they are, or refused with the reason: scenes of known truth."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from irspot.board import Board
from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.registration.find_board import find_board
from irspot.shapes import rectangle
from irspot.synthetic.placement_scenes import HOPELESS, PlacementScene, hopeless_scene, placement_scene
from irspot.synthetic.view import Pose
from tests.registration.outline_frames import BOARD, LENS, frame_of, noisy, view


def found(scene: PlacementScene) -> float:
    """Largest error of the outline's corners, px."""
    placement = find_board(scene.degc, scene.board, scene.optics, side=scene.side, top=scene.top, noise_k=scene.noise_k)
    corners = placement.to_px(scene.board.outline.array_mm)
    return float(np.hypot(*(corners - scene.corners_px).T).max())


def outcomes(seeds: range) -> tuple[list[float], Counter[str]]:
    errors, causes = [], Counter[str]()
    for seed in seeds:
        try:
            errors.append(found(placement_scene(seed)))
        except PlacementRefused as refusal:
            causes[refusal.cause] += 1
    return errors, causes


def assert_good(errors: list[float], count: int) -> None:
    print(f"{len(errors)} of {count} placed; worst corner median {np.median(errors):.2f}", end=" ")
    print(f"px, 95 % {np.quantile(errors, 0.95):.2f}, worst {max(errors):.2f}")
    assert np.median(errors) <= 0.4
    assert np.quantile(errors, 0.95) <= 1.2
    assert max(errors) <= 3.0


def test_boards_are_found_to_a_fraction_of_a_pixel() -> None:
    errors, _ = outcomes(range(2000, 2080))
    assert_good(errors, 80)
    assert len(errors) >= 0.86 * 80


@pytest.mark.full
def test_four_hundred_boards_are_found() -> None:
    errors, causes = outcomes(range(3000, 3400))
    print(causes)
    assert_good(errors, 400)
    assert len(errors) >= 0.9 * 400


@pytest.mark.parametrize("kind", HOPELESS)
def test_what_cannot_be_found_is_refused(kind) -> None:
    for seed in range(2000, 2004):
        with pytest.raises(PlacementRefused, match="corners_px"):
            found(hopeless_scene(seed, kind=kind))


@pytest.mark.full
def test_two_hundred_hopeless_frames_are_refused() -> None:
    for seed in range(3000, 3200):
        with pytest.raises(PlacementRefused):
            found(hopeless_scene(seed))


def causes_of(kind, seeds: range) -> Counter[str]:
    causes = Counter[str]()
    for seed in seeds:
        with pytest.raises(PlacementRefused) as refusal:
            found(hopeless_scene(seed, kind=kind, size_px=(320, 240)))
        causes[refusal.value.cause] += 1
    return causes


@pytest.mark.parametrize(
    ("kind", "cause", "least"),
    [("no-contrast", "contrast", 6), ("two-boards", "two", 6), ("too-small", "too-small", 4)],
)
def test_refusals_name_the_cause(kind, cause: str, least: int) -> None:
    """Of most scenes: other things stand out in some, and boards of a few per cent of a small frame are hard to see."""
    assert causes_of(kind, range(2010, 2018))[cause] >= least


PLAIN = Board("plain", BOARD)


@pytest.mark.parametrize(
    ("pose", "cause", "hint"),
    [
        (Pose(420.0, (104.0, 68.0), 54.0, 0.0, 8.0), "tilted", "squarer"),
        (Pose(1150.0, (104.0, 68.0), 6.0, -9.0, 17.0), "too-small", "nearer"),
    ],
)
def test_views_that_no_board_is_placed_in_are_refused(pose: Pose, cause: str, hint: str) -> None:
    degc = noisy(frame_of(view(pose)), 0.05, 1)
    with pytest.raises(PlacementRefused, match=hint) as refusal:
        find_board(degc, PLAIN, LENS, top="up")
    assert refusal.value.cause == cause


@pytest.mark.parametrize("aim_mm", [(215.0, 20.0), (-20.0, 140.0), (104.0, 170.0)])
def test_boards_mostly_out_of_view_are_never_placed_wrongly(aim_mm) -> None:
    seen = view(Pose(330.0, aim_mm, 4.0, 3.0, 5.0))
    cause, off_px = "", 0.0
    try:
        placement = find_board(noisy(frame_of(seen), 0.05, 1), PLAIN, LENS, top="up")
        off_px = np.abs(placement.to_px(BOARD.array_mm) - seen.to_px(BOARD.array_mm)).max()
    except PlacementRefused as refusal:
        cause = refusal.cause
    assert cause in {"", "cut-off", "outline", "contrast"}
    assert off_px < 3.0


def test_a_board_aslant_by_forty_degrees_is_placed() -> None:
    seen = view(Pose(400.0, (104.0, 68.0), 40.0, 0.0, 8.0))
    placement = find_board(noisy(frame_of(seen), 0.05, 2), PLAIN, LENS, top="up")
    assert np.abs(placement.to_px(BOARD.array_mm) - seen.to_px(BOARD.array_mm)).max() < 0.3


def test_hardly_anything_in_a_frame_is_want_of_contrast() -> None:
    with pytest.raises(PlacementRefused, match="stands out") as refusal:
        find_board(noisy(np.full((251, 323), 23.0, np.float32), 0.1, 3), PLAIN, LENS, top="up")
    assert refusal.value.cause == "contrast"


SQUARE = Board("square", rectangle(0.0, 0.0, 170.0, 170.0))


def test_a_board_that_looks_the_same_in_several_ways_needs_its_top() -> None:
    with pytest.raises(PlacementRefused, match="top") as refusal:
        find_board(np.full((120, 160), 21.0, np.float32), SQUARE, Optics())
    assert refusal.value.cause == "orientation"
    assert "up, right, down or left" in str(refusal.value)


def test_an_even_frame_holds_no_board() -> None:
    for value in (21.0, np.nan):
        with pytest.raises(PlacementRefused):
            find_board(np.full((120, 160), value, np.float32), SQUARE, Optics(), top="up")


@pytest.mark.parametrize("seed", [2001, 2003])
def test_gaps_in_a_frame_do_no_harm(seed: int) -> None:
    scene = placement_scene(seed)
    degc = scene.degc.copy()
    degc[np.random.default_rng(seed).random(degc.shape) < 0.01] = np.nan
    placement = find_board(degc, scene.board, scene.optics, side=scene.side, top=scene.top, noise_k=scene.noise_k)
    corners = placement.to_px(scene.board.outline.array_mm)
    assert np.hypot(*(corners - scene.corners_px).T).max() < 1.5


@pytest.mark.parametrize("seed", range(2100, 2106))
def test_without_a_focal_length_boards_are_found_as_well(seed: int) -> None:
    scene = placement_scene(seed, size_px=(640, 480))
    bare = Optics(blur_px=scene.optics.blur_px)
    try:
        placement = find_board(scene.degc, scene.board, bare, side=scene.side, top=scene.top)
    except PlacementRefused:
        return  # fewer boards are found for certain; what counts is that none is misplaced
    corners = placement.to_px(scene.board.outline.array_mm)
    distortion_px = 3.0
    assert np.hypot(*(corners - scene.corners_px).T).max() < 3.0 + distortion_px


@pytest.mark.parametrize("top", ["right", "down", "left"])
def test_the_top_decides_the_way_round(top) -> None:
    from scipy.ndimage import gaussian_filter

    degc = np.full((256, 320), 22.0)
    degc[40:220, 60:240] = 40.0
    frame = gaussian_filter(degc, 1.0) + np.random.default_rng(1).normal(0.0, 0.05, degc.shape)
    placement = find_board(frame.astype(np.float32), SQUARE, Optics(), top=top)
    below, above = placement.to_px(np.array([[85.0, 40.0], [85.0, 130.0]]))
    wanted = {"right": (1.0, 0.0), "down": (0.0, 1.0), "left": (-1.0, 0.0)}[top]
    assert (above - below) @ np.array(wanted) > 80.0
    corners = placement.to_px(SQUARE.outline.array_mm)
    np.testing.assert_allclose(corners.min(axis=0), [59.5, 39.5], atol=0.1)
    np.testing.assert_allclose(corners.max(axis=0), [239.5, 219.5], atol=0.1)
