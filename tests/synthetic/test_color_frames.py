"""Colour-mapped pictures of known truth: what is drawn is where the truth says it is."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib import colormaps

from irspot.synthetic.color_frames import colored, decoded, encode, render, resized
from irspot.synthetic.color_scenes import SIZES, board_scene, parts_scene, random_scale, random_style
from irspot.synthetic.color_style import BarPlace, ColorStyle, Crosshair, Labels, Logo, OverlayText, Shade


def ramp(rows=243, columns=331):
    """Temperatures that encode row and column."""
    y, x = np.mgrid[0:rows, 0:columns]
    return 20.0 + 0.1 * y + 0.01 * x


@pytest.mark.parametrize("steps", [256, 64, 8])
def test_colours_are_those_of_the_map_in_so_many_steps(steps):
    place = np.linspace(0.0, 0.9999, 1001)
    expected = colormaps["turbo"]((np.floor(place * steps) + 0.5) / steps)[:, :3] * 255.0
    np.testing.assert_allclose(colored(place, "turbo", steps), expected, atol=0.51)
    assert len(np.unique(colored(place, "turbo", steps), axis=0)) == steps


def test_places_beyond_the_ends_have_the_ends_colours():
    np.testing.assert_array_equal(
        colored(np.array([-0.5, 1.5]), "inferno", 256), colored(np.array([0.0, 1.0]), "inferno", 256)
    )


@pytest.mark.parametrize("low_end", ["top", "bottom", "left", "right"])
def test_the_bar_runs_from_its_low_end_and_lies_where_the_truth_says(low_end):
    frame = render(ramp(), 20.0, 48.0, ColorStyle(cmap="gray", steps=None, low_end=low_end, place=BarPlace("inside")))
    x0, y0, x1, y1 = frame.bar_px
    bar = frame.rgb[y0:y1, x0:x1, 0].astype(float)
    line = bar.mean(axis=1 if frame.low_end in ("top", "bottom") else 0)
    line = line if low_end in ("top", "left") else line[::-1]
    np.testing.assert_allclose(line, (np.arange(len(line)) + 0.5) / len(line) * 255.0, atol=1.0)
    assert bar.std(axis=1 if frame.low_end in ("top", "bottom") else 0).max() == 0.0
    assert frame.drawn[y0:y1, x0:x1].all()


def test_what_is_not_drawn_on_is_the_scene():
    overlays = (
        OverlayText("Spot 1", (40, 60)),
        Crosshair((100, 90)),
        Shade((10, 150, 90, 180)),
        Logo((120, 20)),
    )
    degc = ramp()
    frame = render(degc, 22.0, 46.0, ColorStyle(cmap="viridis", overlays=overlays))
    plain = colored((degc - 22.0) / 24.0, "viridis", 256)
    np.testing.assert_array_equal(frame.rgb[~frame.drawn], plain[~frame.drawn])
    for x, y in ((100 - 10, 90), (20, 160), (125, 38)):
        assert frame.drawn[y, x]
    assert 0.02 < frame.drawn.mean() < 0.3


def test_labels_say_the_value_at_their_place_and_hold_ink():
    labels = Labels(count=5, decimals=1, unit=" °C", place="before", size_px=12)
    frame = render(ramp(), 20.0, 60.0, ColorStyle(labels=labels, ticks=5))
    assert [label.text for label in frame.labels] == ["20.0 °C", "30.0 °C", "40.0 °C", "50.0 °C", "60.0 °C"]
    for label in frame.labels:
        assert label.degc == pytest.approx(20.0 + 40.0 * label.place)
        x0, y0, x1, y1 = label.box_px
        assert frame.rgb[y0:y1, x0:x1].max() == 255
        middle = (frame.bar_px[3] - 1) - label.place * (frame.bar_px[3] - 1 - frame.bar_px[1])
        assert (y0 + y1) / 2 == pytest.approx(middle, abs=1.5)


def test_files_keep_or_lose_what_they_should():
    frame = render(ramp(), 20.0, 48.0, ColorStyle(cmap="jet"))
    np.testing.assert_array_equal(decoded(encode(frame.rgb)), frame.rgb)
    errors = [
        np.abs(decoded(encode(frame.rgb, "jpeg", quality, chroma)).astype(int) - frame.rgb).mean()
        for quality, chroma in ((95, "444"), (85, "420"), (70, "420"))
    ]
    assert 0.0 < errors[0] < errors[1] < errors[2] < 12.0


def test_resizing_carries_the_truth_along():
    frame = render(ramp(), 20.0, 48.0, ColorStyle())
    larger = resized(frame, 1.5)
    assert larger.rgb.shape == (364, 496, 3)
    np.testing.assert_allclose(larger.bar_px, np.multiply(frame.bar_px, 1.5), atol=1.0)
    y, x = 150, 201
    assert larger.degc[y, x] == pytest.approx(
        20.0 + 0.1 * ((y + 0.5) / 1.5 - 0.5) + 0.01 * ((x + 0.5) / 1.5 - 0.5), abs=0.02
    )


def test_a_bar_that_does_not_fit_is_an_error():
    with pytest.raises(ValueError, match="does not fit"):
        render(ramp(40, 30), 20.0, 48.0, ColorStyle(place=BarPlace(thickness_px=40)))


@pytest.mark.parametrize("seed", range(14))
def test_random_styles_fit_every_size(seed):
    size = SIZES[seed % len(SIZES)]
    degc = board_scene(seed, size) if seed % 2 else parts_scene(seed, size).degc
    low, high = random_scale(seed, degc)
    frame = render(degc, low, high, random_style(seed, size))
    assert frame.rgb.shape == (size[1], size[0], 3)
    assert low < np.median(degc) < high
    np.testing.assert_array_equal(frame.rgb, render(degc, low, high, random_style(seed, size)).rgb)


def test_parts_are_8_to_40_px_across():
    scene = parts_scene(3, (517, 643))
    assert len(scene.parts) >= 8
    for x0, y0, x1, y1 in scene.parts:
        assert 8 <= x1 - x0 <= 40
        assert 8 <= y1 - y0 <= 40
