"""Pictures without one certain bar are refused, with the cause."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from irspot.decoding.find_bar import find_bar
from irspot.errors import BarRefused
from irspot.synthetic.color_frames import colored, decoded, encode, render
from irspot.synthetic.color_scenes import SIZES, SMOOTH_MAPS, board_scene, random_scale
from irspot.synthetic.color_style import BLACK, WHITE, BarPlace, ColorStyle, Labels, Shade

from .bars import frame_of, scene_of


def cause_of(rgb, **how):
    with pytest.raises(BarRefused) as refused:
        find_bar(rgb, **how)
    return refused.value.cause


def compressed(rgb):
    return decoded(encode(rgb, "jpeg", 70, "420"))


def test_a_given_box_without_a_bar_is_refused():
    _, frame = frame_of(9)
    assert cause_of(frame.rgb, bar_px=(200, 150, 420, 330)) == "box"
    flat = np.full((60, 80, 3), 90, np.uint8)
    assert cause_of(flat, bar_px=(10, 5, 20, 55)) == "contrast"
    assert cause_of(flat, bar_px=(10, 5, 12, 9)) == "box"


def left_and_right(left_map, right_map):
    degc = board_scene(2, (640, 480))
    right = render(degc, 22.0, 75.0, ColorStyle(cmap=right_map))
    labels = Labels(place="after")
    return render(degc, 22.0, 75.0, ColorStyle(cmap=left_map, place=BarPlace("left"), labels=labels)), right


def test_two_equal_bars_are_refused_and_near_decides():
    left, right = left_and_right("inferno", "inferno")
    rgb = right.rgb.copy()
    rgb[:, :100] = left.rgb[:, :100]
    assert cause_of(rgb) == "two"
    assert find_bar(rgb, near=(0, 0, 320, 480)).box_px == left.bar_px
    assert find_bar(rgb, near=(320, 0, 640, 480)).box_px == right.bar_px


def test_two_different_bars_with_half_the_picture_each_are_refused():
    left, right = left_and_right("viridis", "hot")
    rgb = right.rgb.copy()
    rgb[:, :320] = left.rgb[:, :320]
    assert cause_of(rgb) == "two"


def test_a_bar_in_other_colours_than_the_picture_does_not_hide_the_one_in_its_colours():
    left, right = left_and_right("viridis", "hot")
    rgb = right.rgb.copy()
    x0, y0, x1, y1 = left.bar_px
    rgb[y0:y1, x0:x1] = left.rgb[y0:y1, x0:x1]
    assert find_bar(rgb).box_px == right.bar_px


def test_a_bar_that_the_picture_has_no_colours_of_is_refused():
    tinted = ColorStyle(cmap="hot", overlays=(Shade((0, 0, 640, 480), (0, 120, 255), 0.6),))
    assert cause_of(render(board_scene(2, (640, 480)), 22.0, 75.0, tinted).rgb) == "none"


@pytest.mark.parametrize("contrast", [0, 10, 30, 44])
def test_a_bar_without_contrast_is_refused(contrast):
    frame = render(board_scene(2, (640, 480)), 22.0, 75.0, ColorStyle(cmap="gray"))
    x0, y0, x1, y1 = frame.bar_px
    toned = ~frame.drawn
    toned[y0:y1, x0:x1] = True
    low = np.rint(60.0 + frame.rgb * (contrast / 255.0)).astype(np.uint8)
    cause = cause_of(np.where(toned[..., None], low, frame.rgb))
    assert cause == ("contrast" if contrast >= 30 else "none")


def covered(seed, first, last, alpha):
    style, frame = frame_of(seed)
    x0, y0, x1, y1 = frame.bar_px
    if style.vertical:
        box = (x0 - 12, int(y0 + first * (y1 - y0)), x1 + 12, int(y0 + last * (y1 - y0)))
    else:
        box = (int(x0 + first * (x1 - x0)), y0 - 12, int(x0 + last * (x1 - x0)), y1 + 12)
    degc = scene_of(seed, SIZES[seed % len(SIZES)])
    cover = Shade(box, (90, 90, 90), alpha)
    return render(degc, *random_scale(seed, degc), replace(style, covers=(cover,))).rgb


COVERS = [(0.35, 0.6, 1.0), (0.35, 0.6, 0.5), (0.75, 1.1, 1.0), (-0.1, 0.25, 1.0)]


@pytest.mark.parametrize(("first", "last", "alpha"), COVERS, ids=["middle", "shaded", "end", "start"])
def test_bars_that_something_covers_are_refused(first, last, alpha):
    for seed in range(6):
        rgb = covered(seed, first, last, alpha)
        for picture in (rgb, compressed(rgb)):
            assert cause_of(picture) in ("hidden", "none", "contrast", "direction"), seed


def test_a_piece_of_a_known_bar_is_said_to_be_covered():
    style = ColorStyle(cmap="inferno", covers=(Shade((560, 40, 640, 200), (90, 90, 90), 1.0),))
    assert cause_of(render(board_scene(2, (640, 480)), 22.0, 75.0, style).rgb) == "hidden"


def photographs():
    """Photographs that ship with scikit-image; none of them is downloaded."""
    import skimage

    for path in sorted((Path(skimage.__file__).parent / "data").iterdir()):
        if path.suffix in (".png", ".jpg"):
            rgb = decoded(path.read_bytes())
            if min(rgb.shape[:2]) >= 60 and max(rgb.shape[:2]) <= 700:
                yield path.name, rgb


def made_up_photographs():
    from scipy.ndimage import gaussian_filter

    rng = np.random.default_rng(5)
    yield "noise", rng.integers(0, 256, (291, 387, 3), dtype=np.uint8)
    for width in (1, 3, 9, 20):
        field = gaussian_filter(rng.normal(size=(291, 387, 3)), (width, width, 0))
        yield f"clouds {width}", np.rint((field - field.min()) / np.ptp(field) * 255.0).astype(np.uint8)
    yield "stripes", np.repeat(rng.integers(0, 256, (1, 387, 3), dtype=np.uint8), 291, axis=0)


def test_photographs_are_refused():
    pictures = [*photographs(), *made_up_photographs()]
    assert len(pictures) >= 12
    for name, rgb in pictures:
        assert cause_of(rgb) == "none", name
        assert cause_of(compressed(rgb)) == "none", f"{name}, compressed"


@pytest.mark.parametrize("cmap", SMOOTH_MAPS)
def test_gradients_are_no_bars(cmap):
    y, x = np.mgrid[0:291, 0:387]
    for place in (y / 290.0, x / 386.0, np.hypot(x - 150, y - 120) / 290.0):
        assert cause_of(colored(place, cmap, 256)) == "none"


@pytest.mark.parametrize("noise", [0.0005, 0.003])
@pytest.mark.parametrize("cmap", SMOOTH_MAPS)
def test_a_warm_rod_is_no_bar(cmap, noise):
    from scipy.ndimage import gaussian_filter

    field = np.full((480, 640), 0.1)
    field[100:380, 300:318] = np.linspace(1.0, 0.1, 280)[:, None]
    field = gaussian_filter(field, 0.8) + np.random.default_rng(1).normal(0.0, noise, field.shape)
    rgb = colored(field, cmap, 256)
    assert cause_of(rgb) in ("none", "hidden")
    assert cause_of(compressed(rgb)) in ("none", "hidden")


@pytest.mark.parametrize("seed", range(16))
def test_scenes_without_a_bar_are_refused(seed):
    degc = scene_of(seed, SIZES[seed % len(SIZES)])
    low, high = random_scale(seed, degc)
    rgb = colored((degc - low) / (high - low), SMOOTH_MAPS[seed % 10], (None, 256, 32, 8)[seed % 4])
    assert cause_of(rgb) == "none"
    assert cause_of(compressed(rgb)) == "none"


@pytest.mark.parametrize("shape", [(1, 1, 3), (3, 200, 3), (200, 4, 3), (24, 24, 3)])
@pytest.mark.parametrize("color", [BLACK, WHITE], ids=["black", "white"])
def test_tiny_and_plain_pictures_are_refused(shape, color):
    assert cause_of(np.full(shape, color, np.uint8)) == "none"
