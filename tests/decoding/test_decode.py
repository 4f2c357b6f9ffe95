"""Decoding gives the truth back: within quantisation where colours are exact, within its own uncertainty everywhere."""

from __future__ import annotations

import numpy as np
import pytest

from irspot.color_picture import Excluded
from irspot.color_wish import BarScale
from irspot.decoding.decode import decode_picture
from irspot.decoding.picture import picture_of
from irspot.synthetic.color_frames import color_table, encode, render
from irspot.synthetic.color_style import BarPlace, ColorStyle
from tests.decoding.reread_frames import FORMATS, MAPS, decoded_with_true_bar, picture_from, reread, true_bar


def quantisation_floor(cmap: str, truth: np.ndarray, low: float, high: float) -> float:
    """RMS left when every 8-bit colour is read as the mean of what it stands for, % of span."""
    table = np.rint(color_table(cmap, 256)).astype(np.int64) @ np.array([1 << 16, 1 << 8, 1])
    level = np.minimum(((truth - low) / (high - low) * 256).astype(int), 255)
    middles = (np.arange(256) + 0.5) / 256
    alike = np.array([middles[table == color].mean() for color in table])
    return float(np.sqrt(np.mean((alike[level] - (truth - low) / (high - low)) ** 2))) * 100.0


@pytest.mark.parametrize("cmap", MAPS)
def test_exact_colours_are_read_to_the_quantisation_floor(cmap: str) -> None:
    made = reread(21, ColorStyle(cmap=cmap))
    floor = quantisation_floor(cmap, made.truth[made.clear], made.frame.low_degc, made.frame.high_degc)
    assert np.sqrt(np.mean(made.error_percent**2)) <= 1.1 * floor
    assert made.covered() > 0.99


@pytest.mark.parametrize("length", [0.35, 0.47, 0.9])
def test_bars_shorter_or_longer_than_their_palette_are_read_as_well(length: float) -> None:
    made = reread(21, ColorStyle(cmap="turbo", place=BarPlace(length=length)))
    assert np.sqrt(np.mean(made.error_percent**2)) <= 1.1 * 100.0 / 256 / np.sqrt(12.0)


@pytest.mark.parametrize("low_end", ["top", "bottom", "left", "right"])
def test_every_direction(low_end: str) -> None:
    side = "right" if low_end in ("top", "bottom") else "bottom"
    made = reread(22, ColorStyle(cmap="viridis", low_end=low_end, place=BarPlace(side=side)))  # type: ignore[arg-type]
    assert np.sqrt(np.mean(made.error_percent**2)) < 0.13


@pytest.mark.parametrize(("how", "limit"), [("JPEG 95 4:4:4", 0.25), ("JPEG 85 4:2:0", 0.32), ("JPEG 70 4:2:0", 0.40)])
@pytest.mark.parametrize("cmap", ["inferno", "turbo", "gray"])
def test_lossy_pictures_are_read_within_their_limits(cmap: str, how: str, limit: float) -> None:
    made = reread(23, ColorStyle(cmap=cmap), how)
    assert np.sqrt(np.mean(made.error_percent**2)) <= limit
    assert made.covered() > 0.94


def test_luma_carries_the_maximum_of_small_parts_where_chroma_is_blurred() -> None:
    style = ColorStyle(cmap="inferno")
    errors = [error for seed in range(24, 34) for error in reread(seed, style, "JPEG 85 4:2:0").hottest_errors()]
    assert len(errors) >= 80
    assert np.mean(np.abs(errors)) <= 0.4
    assert abs(np.mean(errors)) <= 0.15


@pytest.mark.full
@pytest.mark.parametrize("how", list(FORMATS))
@pytest.mark.parametrize("cmap", MAPS)
def test_uncertainty_covers_the_truth(cmap: str, how: str) -> None:
    covered = [reread(seed, ColorStyle(cmap=cmap), how).covered() for seed in range(40, 46)]
    # One picture shares the error of its bar, so that single pictures scatter; nipy_spectral is the least sure.
    assert np.mean(covered) > 0.90


@pytest.mark.parametrize("how", ["PNG", "JPEG 85 4:2:0", "JPEG 70 4:2:0"])
@pytest.mark.parametrize("cmap", MAPS)
def test_saturated_areas_are_marked_and_others_are_not(cmap: str, how: str) -> None:
    _, x = np.mgrid[0:480, 0:640].astype(float)
    degc = 30.0 + 20.0 * x / 640.0
    degc[120:240, 120:280], degc[300:400, 120:280] = 95.0, 5.0
    frame = render(degc, 20.0, 60.0, ColorStyle(cmap=cmap))
    decoded = decoded_with_true_bar(picture_from(encode(frame.rgb, **FORMATS[how])), frame)
    hot, cold = np.s_[130:230, 130:270], np.s_[310:390, 130:270]
    assert decoded.clipped_high[hot].mean() > 0.95
    assert decoded.clipped_low[cold].mean() > 0.95
    away = np.s_[10:100, 20:560]
    assert not decoded.clipped_high[away].any()
    assert not decoded.clipped_low[away].any()
    assert np.nanmax(decoded.temperature_degc) <= 60.0


def test_scale_with_ticks_is_followed_between_and_beyond_them() -> None:
    made = reread(26, ColorStyle(cmap="viridis"))
    low, high = made.frame.low_degc, made.frame.high_degc
    middle = 0.5 * (low + high)
    ticks = BarScale(((0.25, low + 0.25 * (high - low)), (0.5, middle), (0.75, middle + 0.5 * (high - low))))
    decoded = decode_picture(made.picture, true_bar(made.picture, made.frame), ticks)
    linear, bent = made.decoded.temperature_degc[made.clear], decoded.temperature_degc[made.clear]
    below = linear < middle
    assert np.allclose(bent[below], linear[below], atol=1e-3)
    # Beyond the middle this scale rises twice as fast, and so does the uncertainty.
    assert np.allclose(bent[~below] - middle, 2.0 * (linear[~below] - middle), atol=1e-2)
    ratio = decoded.u_decode_k[made.clear] / made.decoded.u_decode_k[made.clear]
    assert np.allclose(ratio[linear > middle + 1.0], 2.0, rtol=1e-3)


def test_what_is_not_decoded_holds_no_number() -> None:
    made = reread(27, ColorStyle(cmap="inferno"))
    x0, y0, x1, y1 = made.frame.bar_px
    ignored = decode_picture(
        made.picture,
        true_bar(made.picture, made.frame),
        BarScale.of_ends(20.0, 90.0),
        ignore_px=[(-5, 10, 40, 30)],
        keep_out=[(100, 100, 120, 110)],
    )
    assert (ignored.excluded[10:30, 0:40] == Excluded.IGNORED).all()
    assert (ignored.excluded[100:110, 100:120] == Excluded.BAR).all()
    assert (ignored.excluded[y0:y1, x0:x1] == Excluded.BAR).all()
    gone = ignored.excluded != Excluded.DECODED
    assert np.isnan(ignored.temperature_degc[gone]).all()
    assert np.isnan(ignored.u_decode_k[gone]).all()
    assert np.isfinite(ignored.temperature_degc[~gone]).all()
    assert not (ignored.clipped_high | ignored.clipped_low)[gone].any()


def test_a_screenshot_of_a_lossy_picture_is_taken_for_one() -> None:
    lossy = reread(28, ColorStyle(cmap="inferno"), "JPEG 70 4:2:0")
    shot = decoded_with_true_bar(picture_of(lossy.picture.rgb), lossy.frame)
    error = (shot.temperature_degc - lossy.truth)[lossy.clear & np.isfinite(shot.temperature_degc)]
    assert np.mean(np.isfinite(shot.temperature_degc)) > 0.95
    assert np.sqrt(np.mean(error**2)) / lossy.span < 0.005


def test_decoding_twice_gives_the_same_bytes() -> None:
    first, second = (reread(29, ColorStyle(cmap="jet"), "JPEG 85 4:2:0").decoded for _ in range(2))
    assert first.temperature_degc.tobytes() == second.temperature_degc.tobytes()
    assert first.u_decode_k.tobytes() == second.u_decode_k.tobytes()
