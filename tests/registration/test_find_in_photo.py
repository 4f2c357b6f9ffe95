"""Boards found in photos of known truth, and photos in which nobody could place one."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest

from irspot.camera import Optics
from irspot.errors import PlacementRefused
from irspot.photo import Photo
from irspot.registration.in_photo import place_in_photo
from irspot.registration.spread import steps_px
from irspot.synthetic.demo_boards import demo_boards
from irspot.synthetic.photo_look import BENCHES, MASKS, Look
from irspot.synthetic.photo_scenes import PhotoScene, take_photo
from irspot.synthetic.random_photos import random_photo
from irspot.synthetic.view import Pose

PLAIN = PhotoScene(
    board=demo_boards()["h2"],
    side="rear",
    pose=Pose(640.0, (124.0, 121.0), 8.0, -5.0, 4.0),
    optics=Optics(focal_px=1100.0),
    size_px=(900, 700),
    look=Look(bench=BENCHES["wood"]),
    supersample=1,
    seed=5,
)
"""The rear of a green board on a wooden bench."""


@cache
def taken(scene: PhotoScene) -> Photo:
    return Photo(take_photo(scene), "plain.jpg")


def off_px(scene: PhotoScene, photo: Photo, top: str | None = "up", scale: float = 1.0) -> float:
    placement = place_in_photo(photo, scene.board.board, side=scene.side, top=top)
    corners = placement.to_px(scene.board.board.outline.array_mm)
    return float(np.hypot(*(corners - ((scene.corners_px + 0.5) * scale - 0.5)).T).max())


def test_a_plain_photo_is_placed_to_a_part_of_a_pixel():
    assert off_px(PLAIN, taken(PLAIN)) < 0.6
    placement = place_in_photo(taken(PLAIN), PLAIN.board.board, side="rear", top="up")
    assert (placement.method, placement.side, placement.size_px) == ("auto", "rear", (900, 700))
    u_corner = np.sqrt((steps_px(placement, PLAIN.board.board.outline.array_mm) ** 2).sum(axis=(0, 2)))
    assert (u_corner > 0.02).all()
    assert (u_corner < 1.5).all()


def test_a_large_photo_is_placed_in_its_own_pixels():
    large = Photo(cv2.resize(taken(PLAIN).rgb, None, fx=3.0, fy=3.0, interpolation=cv2.INTER_CUBIC))
    assert large.size_px == (2700, 2100)
    assert off_px(PLAIN, large, scale=3.0) < 3.0


def test_a_photo_held_sideways_needs_to_be_told():
    turned = replace(PLAIN, pose=replace(PLAIN.pose, roll_deg=-86.0))
    assert off_px(turned, taken(turned), "left") < 1.0


@pytest.mark.parametrize("bench", ["paper", "slate"])
@pytest.mark.parametrize("mask", ["red", "blue"])
def test_masks_and_benches_of_other_colours(mask: str, bench: str):
    scene = replace(PLAIN, look=Look(mask=MASKS[mask], bench=BENCHES[bench], light=(-0.5, 0.6)))
    assert off_px(scene, taken(scene)) < 1.5


def refusal(photo: Photo, scene: PhotoScene, top: str | None = "up") -> PlacementRefused:
    with pytest.raises(PlacementRefused) as refused:
        place_in_photo(photo, scene.board.board, side=scene.side, top=top, file="photos/x.jpg")
    assert "\n" not in str(refused.value)
    assert "photos/x.jpg" in str(refused.value)
    return refused.value


def test_which_way_round_is_never_guessed():
    assert refusal(taken(PLAIN), PLAIN, top=None).cause == "orientation"


def test_a_board_that_is_cut_off_is_refused():
    assert refusal(Photo(taken(PLAIN).rgb[:, 330:]), PLAIN).cause in ("cut-off", "outline", "contrast", "edge")


def test_a_black_board_on_a_dark_bench_is_refused():
    scene = replace(PLAIN, look=Look(mask=MASKS["black"], bench=BENCHES["slate"]))
    assert refusal(taken(scene), scene).cause in ("contrast", "outline")


@pytest.mark.parametrize("what", ["bench", "grey", "noise"])
def test_photos_without_the_board_are_refused(what: str):
    random = np.random.default_rng(2)
    photo = {
        "bench": lambda: Photo(np.ascontiguousarray(taken(PLAIN).rgb[:120, :500])),
        "grey": lambda: Photo(np.full((300, 400, 3), 127, np.uint8)),
        "noise": lambda: Photo(random.integers(0, 256, (300, 400, 3)).astype(np.uint8)),
    }[what]()
    refusal(photo, PLAIN)


def placed(seeds: range) -> tuple[list[float], int]:
    """Errors of those placed, px of a 1000 px photo, and how many show the whole board."""
    errors, whole = [], 0
    for seed in seeds:
        scene, top = random_photo(seed)
        photo = Photo(take_photo(scene))
        inside = (scene.corners_px > 3.0) & (scene.corners_px < np.array(scene.size_px) - 4.0)
        whole += bool(inside.all())
        try:
            errors.append(off_px(scene, photo, top) * 1000.0 / max(scene.size_px))
        except PlacementRefused:
            continue
    return errors, whole


def test_an_outline_is_never_turned_against_what_was_said():
    """In this photo the outline's four lines fit it turned by a quarter as well, far aslant."""
    errors, whole = placed(range(1082, 1083))
    assert whole == 1
    assert max(errors, default=0.0) < 3.0


def test_random_photos_are_placed_right_or_refused():
    errors, whole = placed(range(5000, 5006))
    assert max(errors, default=0.0) < 3.0
    assert len(errors) >= 0.3 * whole


@pytest.mark.full
def test_many_random_photos_are_placed_right_or_refused(capsys: pytest.CaptureFixture[str]):
    errors, whole = placed(range(1000, 1200))
    with capsys.disabled():
        print(f"\n{len(errors)} placed, {whole} whole in view; off by", np.percentile(errors, [50, 95, 100]).round(2))
    assert max(errors) < 3.0
    assert len(errors) >= 0.4 * whole
