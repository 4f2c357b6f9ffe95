"""A video's bar is used again only where a picture shows the same bar in the same place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.color_picture import Bar
from irspot.decoding.known_bar import KnownBar
from irspot.decoding.picture import ColorPicture, picture_of
from irspot.synthetic.color_frames import ColorFrame, decoded, encode, render
from irspot.synthetic.color_scenes import board_scene
from irspot.synthetic.color_style import BarPlace, ColorStyle

SIZE = (487, 361)


def shown(quality: int, scene: int = 1, **style: object) -> tuple[ColorPicture, ColorFrame]:
    chosen: dict[str, object] = {"cmap": "inferno", "place": BarPlace("right", length=0.8, thickness_px=14), **style}
    frame = render(board_scene(scene, SIZE, seed=scene), 20.0, 80.0, ColorStyle(**chosen))  # type: ignore[arg-type]
    return picture_of(decoded(encode(frame.rgb, "jpeg", quality, "420")), "clip", "420"), frame


def known(quality: int, **style: object) -> KnownBar:
    picture, frame = shown(quality, **style)
    return KnownBar.of(picture, Bar(frame.bar_px, frame.low_end, np.zeros((1, 3))))


def moved(picture: ColorPicture, by_x: int, by_y: int) -> ColorPicture:
    return picture_of(np.roll(picture.rgb, (by_y, by_x), axis=(0, 1)), "clip", "420")


@pytest.mark.parametrize("quality", [95, 85, 70])
@pytest.mark.parametrize("cmap", ["inferno", "viridis", "turbo", "jet", "gray", "nipy_spectral"])
def test_the_same_bar_over_other_scenes_is_known(quality: int, cmap: str) -> None:
    bar = known(quality, cmap=cmap)
    for scene in range(2, 6):
        assert bar.is_in(shown(quality, scene, cmap=cmap)[0])


@pytest.mark.parametrize("low_end", ["top", "left"])
@pytest.mark.parametrize("by", [(1, 0), (-1, 0), (0, 1), (0, -1), (6, 3)])
def test_a_bar_that_moved_by_a_pixel_is_not(low_end: str, by: tuple[int, int]) -> None:
    side = "right" if low_end == "top" else "bottom"
    style = {"low_end": low_end, "place": BarPlace(side, length=0.8, thickness_px=14)}
    bar = known(85, **style)
    assert bar.is_in(shown(85, 2, **style)[0])
    assert not bar.is_in(moved(shown(85, 2, **style)[0], *by))


@pytest.mark.parametrize("cmap", ["magma", "plasma", "hot", "gray"])
def test_a_bar_of_other_colours_is_not(cmap: str) -> None:
    assert not known(70).is_in(shown(70, 2, cmap=cmap)[0])


def test_a_bar_turned_round_shaded_or_covered_in_part_is_not() -> None:
    bar = known(85)
    picture, frame = shown(85, 2)
    x0, y0, x1, y1 = frame.bar_px
    turned, dimmed, covered = picture.rgb.copy(), picture.rgb.copy(), picture.rgb.copy()
    turned[y0:y1, x0:x1] = turned[y0:y1, x0:x1][::-1]
    dimmed[y0:y1, x0:x1] = np.rint(dimmed[y0:y1, x0:x1] * 0.97)
    covered[y0 + 90 : y0 + 102, x0:x1] = 0
    for rgb in (turned, dimmed, covered):
        assert not bar.is_in(picture_of(rgb, "clip", "420"))


def test_a_picture_too_small_for_it_is_not() -> None:
    picture, _ = shown(85)
    small = picture_of(np.ascontiguousarray(picture.rgb[:200]), "clip", "420")
    assert not known(85).is_in(small)
    assert not known(85).is_in(replace(picture, ycc=None))
