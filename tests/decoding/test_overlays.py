"""What lies over a picture is left out; what only looks like it is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.color_picture import Excluded
from irspot.synthetic.color_frames import ColorFrame, encode, render
from irspot.synthetic.color_style import BLACK, WHITE, ColorStyle, Crosshair, Logo, Overlay, OverlayText, Shade
from tests.decoding.reread_frames import FORMATS, MAPS, decoded_with_true_bar, picture_from, reread, scene_frame

TEXT = (
    OverlayText("Max 71.4 °C", (60, 40), 16),
    OverlayText("18.2", (300, 380), 12, bold=True),
    Crosshair((200, 300), arm_px=14),
    Crosshair((420, 150), arm_px=10, line_px=2),
)


def with_and_without(cmap: str, overlays: tuple[Overlay, ...], seed: int = 31) -> tuple[ColorFrame, ColorFrame]:
    covered, _ = scene_frame(seed, ColorStyle(cmap=cmap, overlays=overlays))
    plain, _ = scene_frame(seed, ColorStyle(cmap=cmap))
    return covered, plain


def wrong_and_lost(covered: ColorFrame, plain: ColorFrame, how: str) -> tuple[float, float]:
    """Share of overlaid pixels read wrongly by over 2 % of the span, share of pixels far from any lost."""
    import cv2

    decoded = decoded_with_true_bar(picture_from(encode(covered.rgb, **FORMATS[how])), covered)
    over = covered.drawn & ~plain.drawn
    changed = over & (np.abs(covered.rgb.astype(int) - plain.rgb).max(axis=2) > 20)
    error = np.abs(decoded.temperature_degc - np.clip(covered.degc, covered.low_degc, covered.high_degc))
    wrong = changed & (error > 0.02 * (covered.high_degc - covered.low_degc))
    far = cv2.dilate(covered.drawn.astype(np.uint8), np.ones((9, 9), np.uint8)) == 0
    return float(wrong.sum() / changed.sum()), float(np.mean(np.isnan(decoded.temperature_degc[far])))


def inked(ink: tuple[int, int, int]) -> tuple[Overlay, ...]:
    return tuple(replace(overlay, color=ink) for overlay in TEXT)


@pytest.mark.parametrize("how", ["PNG", "JPEG 85 4:2:0", "JPEG 70 4:2:0"])
@pytest.mark.parametrize("cmap", MAPS)
def test_white_text_and_crosshairs_are_left_out(cmap: str, how: str) -> None:
    wrong, lost = wrong_and_lost(*with_and_without(cmap, inked(WHITE)), how)
    assert wrong < 0.03
    assert lost < 0.006


# Black strokes on a nearly black part of a map's low end vanish in a lossy coding, for the eye as well.
@pytest.mark.parametrize(
    ("cmap", "how"),
    [*((cmap, "PNG") for cmap in MAPS), ("viridis", "JPEG 85 4:2:0"), ("turbo", "JPEG 70 4:2:0")],
)
def test_black_text_and_crosshairs_are_left_out(cmap: str, how: str) -> None:
    wrong, lost = wrong_and_lost(*with_and_without(cmap, inked(BLACK)), how)
    assert wrong < 0.03
    assert lost < 0.006


@pytest.mark.parametrize("how", ["PNG", "JPEG 85 4:2:0"])
@pytest.mark.parametrize("cmap", ["inferno", "viridis", "turbo", "jet", "nipy_spectral"])
def test_emblems_are_left_out_where_their_colour_is_not_the_bars(cmap: str, how: str) -> None:
    wrong, lost = wrong_and_lost(*with_and_without(cmap, (Logo((250, 330), 40),)), how)
    assert wrong < 0.01
    assert lost < 0.006


@pytest.mark.parametrize("cmap", ["inferno", "viridis", "turbo", "jet"])
def test_half_transparent_boxes_are_left_out(cmap: str) -> None:
    wrong, lost = wrong_and_lost(*with_and_without(cmap, (Shade((150, 200, 290, 240), BLACK, 0.5),)), "PNG")
    assert wrong < 0.01
    assert lost < 1e-3


def test_a_grey_box_over_a_changing_background_is_told_by_its_border() -> None:
    _, x = np.mgrid[0:480, 0:640].astype(float)
    style = ColorStyle(cmap="gray", overlays=(Shade((150, 200, 330, 260), BLACK, 0.4),))
    frame = render(20.0 + 60.0 * x / 640.0, 15.0, 90.0, style)
    decoded = decoded_with_true_bar(picture_from(encode(frame.rgb)), frame)
    assert (decoded.excluded[200:260, 150:330] == Excluded.DRAWN_ON).all()


def test_parts_with_sharp_borders_are_kept_under_grey() -> None:
    _, x = np.mgrid[0:480, 0:640].astype(float)
    degc = 20.0 + 30.0 * x / 640.0
    degc[100:160, 80:200] += 25.0  # warmer by as much everywhere
    degc[250:330, 100:180] = 70.0  # the same everywhere
    degc[200:208, 300:308] = 85.0
    frame = render(degc, 15.0, 90.0, ColorStyle(cmap="gray"))
    decoded = decoded_with_true_bar(picture_from(encode(frame.rgb)), frame)
    for part in (np.s_[100:160, 80:200], np.s_[250:330, 100:180], np.s_[200:208, 300:308]):
        assert np.isfinite(decoded.temperature_degc[part]).all()


@pytest.mark.parametrize("cmap", ["gray", "hot", "turbo", "jet"])
def test_a_thin_hot_trace_seen_through_a_lens_is_kept(cmap: str) -> None:
    from scipy.ndimage import gaussian_filter

    degc = np.full((480, 640), 30.0)
    degc[200:203, 100:400], degc[100:300, 500:502] = 95.0, 95.0
    frame = render(gaussian_filter(degc, 0.8), 20.0, 92.0, ColorStyle(cmap=cmap))
    decoded = decoded_with_true_bar(picture_from(encode(frame.rgb)), frame)
    assert np.isfinite(decoded.temperature_degc[195:208, 100:400]).all()
    assert np.isfinite(decoded.temperature_degc[100:300, 496:506]).all()


@pytest.mark.parametrize("seed", [5006, 5016, 5028])
def test_hot_tops_of_resized_pictures_are_not_taken_for_ink(seed: int) -> None:
    # All of a small part's top may be mixed with what lies beside it, near the white that the map ends in.
    made = reread(seed, ColorStyle(cmap="gnuplot2"), "resized 1.5")
    assert np.abs(made.hottest_errors()).max() < 1.5
