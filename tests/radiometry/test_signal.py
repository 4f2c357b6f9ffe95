"""From stored numbers to radiance and surface temperature, for every way a camera stores them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from irspot.camera import Accuracy, Band, Camera, Settings, Signal
from irspot.errors import IrspotError
from irspot.frame import Frame
from irspot.radiometry import (
    apparent_temperature,
    planck,
    radiance_temperature,
    range_degc,
    stored_to_surface,
    surface_temperature,
)

BAND = Band(7.5, 13.0)
POINTS = ((1000.0, 10.0), (3000.0, 40.0), (9000.0, 110.0))
SET = Settings(emissivity=0.93, reflected_degc=18.0, transmission=0.88, window_degc=27.0)


def frame(stored: np.ndarray, **signal: Any) -> Frame:
    return Frame(stored, Camera(signal=Signal(**signal), band=BAND), "test")


def in_band(degc: Any) -> Any:
    return planck.band_radiance(BAND.lower_um, BAND.upper_um, np.asarray(degc) + 273.15)


@pytest.mark.parametrize(
    ("signal", "stored", "degc"),
    [
        ({"unit": "degC"}, 71.25, 71.25),
        ({"unit": "K"}, 344.4, 71.25),
        ({"unit": "degF"}, 160.25, 71.25),
        ({"unit": "degC", "scale": 0.1, "offset": -40.0}, 1112.5, 71.25),
        ({"unit": "K", "scale": 0.01}, 34440.0, 71.25),
        ({"unit": "K", "scale": 0.04, "offset": 100.0}, 6110.0, 71.25),
        ({"unit": "degF", "scale": 0.5, "offset": 30.0}, 260.5, 71.25),
        ({"unit": "degF"}, -40.0, -40.0),
    ],
)
@pytest.mark.parametrize("dtype", ["<f4", ">f4", "<f8", ">f8"])
def test_linear_signals(signal: dict[str, Any], stored: float, degc: float, dtype: str) -> None:
    result = radiance_temperature(frame(np.full((2, 3), stored, dtype), **signal))
    assert result.dtype == np.float32
    assert result.dtype.isnative
    np.testing.assert_allclose(result, np.full((2, 3), degc), rtol=0.0, atol=1e-4)


@pytest.mark.parametrize("dtype", ["u1", "i1", "<u2", ">u2", "<i2", ">i2", "<i4", ">u4", "<i8", "<u8"])
def test_integers_of_every_type(dtype: str) -> None:
    info = np.iinfo(dtype)
    stored = np.array([[0, 3, 100], [max(info.min, -20), min(info.max, 251), 127]]).astype(dtype)
    result = radiance_temperature(frame(stored, unit="degC", scale=0.5, offset=7.0))
    np.testing.assert_allclose(result, stored.astype(float) * 0.5 + 7.0, rtol=1e-7)


def test_half_precision_floats_and_views_with_gaps() -> None:
    stored = np.arange(24.0).reshape(4, 6)[::2, ::3]
    np.testing.assert_array_equal(radiance_temperature(frame(stored.astype(np.float16))), stored)
    np.testing.assert_array_equal(radiance_temperature(frame(stored.astype(np.uint16))), stored)


def test_a_frame_already_in_degc_comes_out_as_it_is_and_anew() -> None:
    stored = np.array([[21.125, np.nan], [-3.5, 130.0078125]], np.float32)
    result = radiance_temperature(frame(stored))
    np.testing.assert_array_equal(result, stored)
    result[0, 0] = 0.0
    assert stored[0, 0] == np.float32(21.125)


@pytest.mark.parametrize(
    "signal",
    [{}, {"settings": SET}, {"unit": "counts", "points_degc": POINTS}, {"unit": "counts", "radiance": True}],
)
@pytest.mark.parametrize("dtype", [np.float32, np.float64])
def test_not_measured_stays_nan(signal: dict[str, Any], dtype: type) -> None:
    result = radiance_temperature(frame(np.array([[np.nan, 60.0, np.inf, -np.inf]], dtype), **signal))
    assert np.isnan(result[0, 0])
    assert np.isfinite(result[0, 1])


def test_counts_at_the_calibration_points() -> None:
    counts = np.array([[at for at, _ in POINTS]])
    for dtype in (np.uint16, np.float32, np.float64, np.int32):
        result = radiance_temperature(frame(counts.astype(dtype), unit="counts", points_degc=POINTS))
        np.testing.assert_allclose(result, [[10.0, 40.0, 110.0]], rtol=0.0, atol=1e-4)


def test_counts_between_points_are_interpolated_in_radiance() -> None:
    # A detector linear in radiance, L = (count - 200) / 70, calibrated at two black bodies: exact everywhere.
    def count_of(degc: Any) -> Any:
        return 200.0 + 70.0 * in_band(degc)

    points = tuple((float(count_of(T)), T) for T in (20.0, 120.0))
    degc = np.linspace(5.0, 160.0, 63).reshape(7, 9)
    result = radiance_temperature(frame(count_of(degc), unit="counts", points_degc=points))
    # Between and beyond the points alike; a straight line in temperature would be 5 K off in the middle.
    np.testing.assert_allclose(result, degc, rtol=0.0, atol=1e-4)


def test_counts_follow_the_piece_they_lie_in() -> None:
    low, middle, high = (float(in_band(T)) for _, T in POINTS)
    counts = np.array([[2000, 6000, 500, 10_000]], np.uint16)
    per_count = (middle - low) / 2000.0, (high - middle) / 6000.0
    wanted = [
        low + 1000 * per_count[0],
        middle + 3000 * per_count[1],
        low - 500 * per_count[0],
        high + 1000 * per_count[1],
    ]
    result = radiance_temperature(frame(counts, unit="counts", points_degc=POINTS))
    np.testing.assert_allclose(in_band(result.astype(float)), [wanted], rtol=1e-6)


def test_counts_that_fall_as_it_gets_hotter() -> None:
    points = ((1000.0, 90.0), (5000.0, 15.0))
    result = radiance_temperature(frame(np.array([[1000, 3000, 5000]], np.uint16), unit="counts", points_degc=points))
    np.testing.assert_allclose(result[0, [0, 2]], [90.0, 15.0], atol=1e-4)
    assert 15.0 < result[0, 1] < 90.0


def test_counts_linear_in_radiance() -> None:
    degc = np.array([[-20.0, 25.0, 300.0]])
    signal = {"unit": "counts", "scale": 0.01, "offset": -3.0, "radiance": True}
    for dtype, atol in ((np.float64, 1e-4), (np.uint16, 0.03)):
        stored = np.round((in_band(degc) + 3.0) / 0.01, 6).astype(dtype)
        np.testing.assert_allclose(radiance_temperature(frame(stored, **signal)), degc, rtol=0.0, atol=atol)
    # A count below the radiance's zero is no temperature.
    assert np.isnan(radiance_temperature(frame(np.array([[100]], np.uint16), **signal)))


@pytest.mark.parametrize("dtype", [np.uint16, np.float32, np.float64])
def test_settings_the_camera_had_applied_are_undone(dtype: type) -> None:
    # The camera turned what it received into a surface temperature by its own settings and stored that.
    received = np.array([[25.0, 60.0, 110.0], [20.5, 31.25, 149.75]])
    shown = surface_temperature(
        received, emissivity=0.93, reflected_degc=18.0, transmission=0.88, window_degc=27.0, band=BAND
    )
    stored = np.round((shown + 273.15) * 100.0).astype(dtype)
    result = radiance_temperature(frame(stored, unit="K", scale=0.01, settings=SET))
    np.testing.assert_allclose(result, received, rtol=0.0, atol=6e-3)
    assert np.all(np.abs(result - (stored.astype(float) / 100.0 - 273.15)) > 0.1)


def test_settings_apply_to_calibrated_counts_too() -> None:
    plain = radiance_temperature(frame(np.array([[4000]], np.uint16), unit="counts", points_degc=POINTS))
    undone = radiance_temperature(frame(np.array([[4000]], np.uint16), unit="counts", points_degc=POINTS, settings=SET))
    wanted = apparent_temperature(
        plain.astype(float), emissivity=0.93, reflected_degc=18.0, transmission=0.88, window_degc=27.0, band=BAND
    )
    np.testing.assert_allclose(undone, wanted, rtol=0.0, atol=1e-4)


def test_settings_that_cannot_be_give_nan() -> None:
    for stored in (np.array([[5000]], np.uint16), np.array([[50.0]], np.float32), np.array([[50.0]])):
        result = radiance_temperature(frame(stored, settings=Settings(emissivity=0.0)))
        assert np.isnan(result)


def test_words_and_floats_of_the_same_value_agree() -> None:
    words = np.arange(26_000, 45_000, 7).astype(np.uint16).reshape(1, -1)
    signal: dict[str, Any] = {"unit": "K", "scale": 0.01, "settings": SET}
    by_table = radiance_temperature(frame(words, **signal))
    for dtype in (np.float64, np.float32):
        np.testing.assert_allclose(
            by_table, radiance_temperature(frame(words.astype(dtype), **signal)), rtol=0.0, atol=1e-3
        )


@pytest.mark.parametrize(
    "signal",
    [
        {},
        {"points_degc": ((100.0, 20.0),)},
        {"points_degc": ((100.0, 20.0), (100.0, 30.0))},
        {"points_degc": ((200.0, 20.0), (100.0, 30.0))},
        {"points_degc": ((100.0, -400.0), (200.0, 30.0))},
        {"points_degc": ((100.0, float("nan")), (200.0, 30.0))},
    ],
)
def test_counts_without_a_usable_calibration_are_refused(signal: dict[str, Any]) -> None:
    for dtype in (np.uint16, np.float32):
        with pytest.raises(IrspotError) as refused:
            radiance_temperature(frame(np.array([[150]], dtype), unit="counts", **signal))
        assert refused.value.key == "signal.points"


def test_range_is_the_declared_one_or_that_of_the_calibration() -> None:
    counts = Camera(signal=Signal(unit="counts", points_degc=POINTS), band=BAND)
    assert range_degc(counts) == (10.0, 110.0)
    declared = Camera(signal=counts.signal, accuracy=Accuracy(range_degc=(-20.0, 150.0)))
    assert range_degc(declared) == (-20.0, 150.0)
    assert range_degc(Camera()) is None


HOW: dict[str, float] = {"emissivity": 0.61, "reflected_degc": 24.0, "transmission": 0.9, "window_degc": 30.0}


@pytest.mark.parametrize("dtype", ["u1", "<u2", ">i2", "<i4", "<f4", ">f8"])
def test_one_step_says_what_two_steps_say(dtype: str) -> None:
    stored = np.arange(20, 120).astype(dtype).reshape(10, 10)
    taken = frame(stored, unit="degC", scale=1.25, offset=-5.0, settings=SET)
    two = surface_temperature(radiance_temperature(taken), band=BAND, **HOW)
    np.testing.assert_array_equal(stored_to_surface(taken, **HOW), two)
    assert np.isfinite(two).sum() > 50
    out = np.empty(stored.shape, np.float32)
    assert stored_to_surface(taken, out=out, **HOW) is out
    np.testing.assert_array_equal(out, two)


def test_one_step_for_other_settings_is_another_table() -> None:
    taken = frame(np.full((2, 2), 7000, np.uint16), unit="degC", scale=0.01)
    hot = stored_to_surface(taken, **{**HOW, "emissivity": 0.3})
    assert np.all(hot > stored_to_surface(taken, **HOW))
    assert np.all(np.isnan(stored_to_surface(taken, **{**HOW, "emissivity": 0.0})))
