"""Half-transparent boxes are found by their borders; parts of a board are not taken for them."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.color_picture import Excluded
from irspot.synthetic.color_frames import encode, render
from irspot.synthetic.color_scenes import board_scene
from irspot.synthetic.color_style import BLACK, WHITE, Color, ColorStyle, OverlayText, Shade
from tests.decoding.reread_frames import FORMATS, decoded_with_true_bar, picture_from, scene_frame

LOSSY = ("JPEG 85 4:2:0", "JPEG 70 4:2:0")
ALL = ("PNG", *LOSSY)


def lost_within(cmap: str, how: str, seed: int, *overlays: Shade | OverlayText) -> float:
    """Share of the first overlay's inside that was not decoded, or is marked as below the bar's low end."""
    frame, _ = scene_frame(seed, ColorStyle(cmap=cmap, overlays=overlays))
    decoded = decoded_with_true_bar(picture_from(encode(frame.rgb, **FORMATS[how])), frame)
    x0, y0, x1, y1 = overlays[0].box_px
    told = np.isnan(decoded.temperature_degc) | decoded.clipped_low
    return float(told[y0 + 2 : y1 - 2, x0 + 2 : x1 - 2].mean())


def away_from_ink(drawn: np.ndarray) -> np.ndarray:
    """Pixels that no margin of the bar's labels reaches."""
    import cv2

    return cv2.dilate(drawn.astype(np.uint8), np.ones((9, 9), np.uint8)) == 0


def darkened(number: int) -> Shade:
    x, y = 80 + 30 * number, 60 + 40 * number
    return Shade((x, y, x + 140, y + 40), BLACK, 0.5)


@pytest.mark.parametrize("how", ["PNG", "JPEG 85 4:2:0"])
@pytest.mark.parametrize("cmap", ["inferno", "gray", "jet"])
@pytest.mark.parametrize("number", [1, 2, 3])
def test_boxes_over_dark_parts_are_left_out(cmap: str, how: str, number: int) -> None:
    assert lost_within(cmap, how, 1000 + number, darkened(number)) == 1.0


# Through a lossy coding, a light box on an even part of a grey picture looks like a hot part without a lens.
@pytest.mark.parametrize(("cmap", "how"), [*(("viridis", how) for how in ALL), ("gray", "PNG")])
@pytest.mark.parametrize(("ink", "alpha"), [(BLACK, 0.8), (WHITE, 0.3), ((120, 120, 120), 0.6), (WHITE, 0.9)])
def test_boxes_of_any_grey_are_left_out_with_text_in_them(cmap: str, how: str, ink: Color, alpha: float) -> None:
    text = OverlayText("Max 71.4", (207, 155), 14, BLACK if ink == WHITE else WHITE)
    assert lost_within(cmap, how, 7003, Shade((201, 149, 330, 181), ink, alpha), text) == 1.0


@pytest.mark.parametrize("cmap", ["gray", "inferno"])
def test_a_box_whose_border_a_part_breaks_is_left_out(cmap: str) -> None:
    # The part lies across the left side near a corner, so that a third of it is no sharp step.
    assert lost_within(cmap, "PNG", 7049, Shade((194, 113, 300, 188), BLACK, 0.42)) == 1.0


def test_a_box_at_the_pictures_edge_is_left_out() -> None:
    assert lost_within("gray", "PNG", 7006, Shade((0, 210, 140, 250), BLACK, 0.5)) == 1.0


def test_a_box_is_sure_where_the_inside_follows_the_outside_and_ambiguous_where_little_changes() -> None:
    y, x = np.mgrid[0:480, 0:640].astype(float)
    box = Shade((150, 200, 331, 263), (60, 60, 60), 0.5)
    noise = np.random.default_rng(3).normal(0.0, 0.05, (480, 640))
    for degc, wanted in (
        (20.0 + 0.06 * x + 0.05 * y, Excluded.DRAWN_ON),
        (45.0 + 0.003 * x + noise, Excluded.AMBIGUOUS),
    ):
        frame = render(degc, 15.0, 90.0, ColorStyle(cmap="gray", overlays=(box,)))
        decoded = decoded_with_true_bar(picture_from(encode(frame.rgb)), frame)
        assert (decoded.excluded[200:263, 150:331] == wanted).all()
        assert np.isfinite(decoded.temperature_degc[100:190, 40:400]).all()


@pytest.mark.parametrize("how", ALL)
@pytest.mark.parametrize("cmap", ["gray", "jet"])
def test_parts_seen_through_a_lens_are_not_taken_for_boxes(cmap: str, how: str) -> None:
    lost = []
    for seed in range(7200, 7206):
        frame, _ = scene_frame(seed, ColorStyle(cmap=cmap))
        excluded = decoded_with_true_bar(picture_from(encode(frame.rgb, **FORMATS[how])), frame).excluded
        lost.append(np.mean((excluded == Excluded.DRAWN_ON)[away_from_ink(frame.drawn)]))
        if cmap == "gray":  # which has no two temperatures of one colour
            lost.append(np.mean((excluded == Excluded.AMBIGUOUS)[away_from_ink(frame.drawn)]))
    assert np.mean(lost) < 1e-3


@pytest.mark.parametrize("how", ALL)
def test_boards_seen_straight_on_are_not_taken_for_boxes(how: str) -> None:
    degc = board_scene(0, (640, 480))
    frame = render(degc, float(degc.min()) - 1.0, float(degc.max()) + 1.0, ColorStyle(cmap="gray"))
    excluded = decoded_with_true_bar(picture_from(encode(frame.rgb, **FORMATS[how])), frame).excluded
    lost = np.isin(excluded[away_from_ink(frame.drawn)], (Excluded.DRAWN_ON, Excluded.AMBIGUOUS))
    assert lost.mean() < 1e-3


@pytest.mark.parametrize("how", ALL[:2])
def test_a_part_with_sharp_borders_keeps_its_own_temperatures(how: str) -> None:
    _, x = np.mgrid[0:480, 0:640].astype(float)
    degc = 20.0 + 0.05 * x
    degc[97:181, 83:245] += 25.0
    degc[250:331, 101:262] = 75.0
    frame = render(degc, 15.0, 90.0, ColorStyle(cmap="gray"))
    decoded = decoded_with_true_bar(picture_from(encode(frame.rgb, **FORMATS[how])), frame)
    assert np.isfinite(decoded.temperature_degc[97:181, 83:245]).all()
    assert np.isfinite(decoded.temperature_degc[250:331, 101:262]).all()


@pytest.mark.parametrize("size", [(16, 12), (9, 40), (640, 7), (33, 30)])
def test_small_pictures_have_no_boxes(size: tuple[int, int]) -> None:
    from irspot.decoding.shades import shades

    rgb = np.random.default_rng(5).integers(0, 256, (size[1], size[0], 3), dtype=np.uint8)
    for lossy in (False, True):
        found = shades(rgb, np.ascontiguousarray(rgb[..., 1]), (0, 0, 4, 5), lossy)
        assert not (found.sure | found.suspected).any()
