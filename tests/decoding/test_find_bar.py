"""Bars are found where they are, to the pixel, and read in the right direction."""

from __future__ import annotations

import io
from collections import Counter

import numpy as np
import pytest

from irspot.decoding.bar_path import nearest_map, runs_from_low
from irspot.decoding.bar_steps import count_steps
from irspot.decoding.find_bar import find_bar
from irspot.decoding.named_maps import CELLS, named_maps
from irspot.errors import BarRefused, UsageError
from irspot.synthetic.color_frames import color_table, colored, decoded, encode, render
from irspot.synthetic.color_scenes import board_scene, random_scale
from irspot.synthetic.color_style import BarPlace, ColorStyle

from .bars import KINDS, faults, frame_of, sample_of


def outcomes(seeds, kinds=KINDS):
    """Count right, wrong and refused over seeds whose kinds take turns."""
    counts = Counter()
    for seed in seeds:
        sample = sample_of(seed, kinds[seed % len(kinds)])
        try:
            counts["wrong" if faults(find_bar(sample.rgb), sample) else "right"] += 1
        except BarRefused:
            counts["refused"] += 1
    return counts


def test_bars_of_rendered_frames_are_found():
    counts = outcomes(range(2000, 2100))
    assert counts["right"] >= 95
    assert counts["wrong"] <= 1


@pytest.mark.full
def test_bars_of_two_thousand_rendered_frames_are_found():
    """Frames drawn with seeds that the search was not developed on, 500 of each kind."""
    found = {kind: outcomes(range(11000, 11500), (kind,)) for kind in KINDS}
    print({kind: dict(counts) for kind, counts in found.items()})
    total = sum(found.values(), Counter())
    assert total["right"] >= 0.98 * total.total()
    assert total["wrong"] <= 0.005 * total.total()
    least = {"png": 490, "jpeg 85": 480, "jpeg 70": 465, "resized": 480}
    assert all(counts["right"] >= least[kind] for kind, counts in found.items())


@pytest.mark.parametrize("low_end", ["top", "bottom", "left", "right"])
@pytest.mark.parametrize("side", ["left", "right", "top", "bottom", "inside"])
def test_any_side_and_direction(low_end, side):
    degc = board_scene(5, (511, 389), seed=3)
    style = ColorStyle(cmap="viridis", low_end=low_end, place=BarPlace(side=side, length=0.6, margin_px=64))
    frame = render(degc, *random_scale(3, degc), style)
    bar = find_bar(frame.rgb)
    assert bar.box_px == frame.bar_px
    assert bar.low_end == low_end
    assert bar.origin == "found"


def test_path_runs_from_low_to_high_with_one_colour_a_pixel():
    frame = render(board_scene(1, (387, 291)), 20.0, 70.0, ColorStyle(cmap="plasma", low_end="top"))
    bar = find_bar(frame.rgb)
    rows = bar.box_px[3] - bar.box_px[1]
    expected = color_table("plasma", 256)[np.floor((np.arange(rows) + 0.5) / rows * 256).astype(int)]
    np.testing.assert_allclose(bar.path_rgb, expected, atol=0.51)


@pytest.mark.parametrize("cmap", ["YlOrRd", "Blues", "coolwarm", "jet", "turbo", "hsv", "inferno"])
def test_the_low_end_is_that_of_the_map_even_where_it_is_the_light_one(cmap):
    degc = board_scene(7, (640, 480))
    for low_end in ("bottom", "top"):
        assert find_bar(render(degc, 22.0, 75.0, ColorStyle(cmap=cmap, low_end=low_end)).rgb).low_end == low_end


def test_dark_is_low_in_grey_unless_the_caller_says_otherwise():
    rgb = render(board_scene(7, (640, 480)), 22.0, 75.0, ColorStyle(cmap="gray_r", low_end="bottom")).rgb
    assert find_bar(rgb).low_end == "top"
    bar = find_bar(rgb, low_end="bottom")
    assert bar.low_end == "bottom"
    assert bar.path_rgb[0].mean() > bar.path_rgb[-1].mean()


def own_map(place):
    """Colours of no known map: lightness rises and falls, so that nothing tells which end is low."""
    turn = np.pi * np.asarray(place)
    return np.stack([128 - 100 * np.cos(turn), 60 + 150 * np.sin(turn), 60 + 60 * np.sin(2 * turn)], axis=-1)


def own_picture():
    degc = board_scene(3, (640, 480))
    rgb = own_map(np.clip((degc - 22.0) / 60.0, 0.0, 1.0))
    rgb[48:432, 598:624] = 255.0
    rgb[50:430, 600:622] = own_map((np.arange(380)[::-1] + 0.5) / 380)[:, None]
    return np.rint(np.clip(rgb, 0, 255)).astype(np.uint8)


def test_a_bar_in_colours_of_no_known_map_is_found_but_its_direction_is_asked_for():
    assert nearest_map(own_map(np.linspace(0.0, 1.0, 380))).rms > 30.0
    with pytest.raises(BarRefused, match="low_end") as refused:
        find_bar(own_picture())
    assert refused.value.cause == "direction"
    bar = find_bar(own_picture(), low_end="bottom")
    assert bar.box_px == (600, 50, 622, 430)
    np.testing.assert_allclose(bar.path_rgb, own_map((np.arange(380) + 0.5) / 380), atol=0.51)


def test_a_given_box_is_read_as_it_is():
    style, frame = frame_of(8)
    bar = find_bar(frame.rgb, bar_px=frame.bar_px)
    assert (bar.box_px, bar.low_end, bar.origin) == (frame.bar_px, frame.low_end, "given")
    x0, y0, x1, y1 = frame.bar_px
    bar = find_bar(frame.rgb, bar_px=(x0 + 3, y0 + 10, x1 - 3, y1 - 20), low_end=frame.low_end)
    assert style.vertical
    assert len(bar.path_rgb) == y1 - y0 - 30


@pytest.mark.parametrize("box", [(-1, 0, 5, 50), (0, 0, 81, 50), (10, 20, 10, 50), (10, 50, 20, 20)])
def test_a_box_outside_the_picture_is_misuse(box):
    with pytest.raises(UsageError, match="bar_px"):
        find_bar(np.zeros((60, 80, 3), np.uint8), bar_px=box)


def test_a_low_end_across_the_bar_is_misuse():
    _, frame = frame_of(8)
    with pytest.raises(UsageError, match="low_end"):
        find_bar(frame.rgb, low_end="left")


@pytest.mark.parametrize("cmap", ["inferno", "jet", "coolwarm", "YlOrRd", "gray"])
@pytest.mark.parametrize("how", [{}, {"orientation": "horizontal"}, {"shrink": 0.6}], ids=["", "lying", "short"])
def test_bars_of_a_plotting_library_are_found(cmap, how):
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(6.4, 4.8), dpi=100)
    axes = figure.subplots()
    drawn = figure.colorbar(axes.imshow(board_scene(3, (320, 256)), cmap=cmap), **how)
    content = io.BytesIO()
    FigureCanvasAgg(figure).print_png(content)
    extent = drawn.ax.get_window_extent()
    truth = (extent.x0, 480 - extent.y1, extent.x1, 480 - extent.y0)
    png = decoded(content.getvalue())
    for rgb in (png, decoded(encode(png, "jpeg", 85))):
        bar = find_bar(rgb)
        assert bar.low_end == ("left" if how.get("orientation") else "bottom")
        # The outline, 1.1 px wide and so drawn over two, covers the bar's edge; compression hides a little more.
        length = max(truth[2] - truth[0], truth[3] - truth[1])
        assert np.abs(np.subtract(bar.box_px, truth)).max() <= 2.5 + 0.01 * length


def test_named_maps_are_those_of_matplotlib():
    from matplotlib import colormaps

    names, cells = named_maps()
    assert {"inferno", "viridis", "turbo", "jet", "gist_gray", "gnuplot2", "nipy_spectral"} <= set(names)
    places = (np.arange(CELLS * 64) + 0.5) / (CELLS * 64)
    for name, stored in zip(names, cells, strict=True):
        expected = colormaps[name](places)[:, :3].reshape(CELLS, 64, 3).mean(axis=1) * 255.0
        np.testing.assert_allclose(stored, expected, atol=0.51, err_msg=name)


@pytest.mark.parametrize("steps", [None, 256, 32, 16, 8])
def test_every_map_is_told_from_its_reverse(steps):
    names, _ = named_maps()
    for name in names:
        profile = colored((np.arange(131) + 0.5) / 131, name, steps).astype(float)
        if name != "binary":
            assert runs_from_low(profile) is True, name
            assert runs_from_low(profile[::-1]) is False, name


@pytest.mark.parametrize("steps", [5, 8, 12, 16])
@pytest.mark.parametrize("cmap", ["inferno", "jet", "gnuplot2", "nipy_spectral"])
@pytest.mark.parametrize("quality", [85, 70])
def test_steps_are_counted_through_compression(steps, cmap, quality):
    bar = np.repeat(colored((np.arange(240) + 0.5) / 240, cmap, steps)[:, None], 24, axis=1)
    picture = np.full((280, 64, 3), 90, np.uint8)
    picture[20:260, 20:44] = bar
    profile = np.median(decoded(encode(picture, "jpeg", quality))[20:260, 26:38], axis=1)
    assert count_steps(profile.astype(float)) == steps


@pytest.mark.parametrize("cmap", ["inferno", "jet", "gnuplot2", "gray", "hot"])
def test_smooth_bars_have_no_steps(cmap):
    for length in (80, 131, 400):
        assert count_steps(colored((np.arange(length) + 0.5) / length, cmap, None).astype(float)) == 0
