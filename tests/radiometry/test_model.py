"""The measurement model against worked cases, a high-precision integral, and itself backwards."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from irspot.camera import Band
from irspot.radiometry import apparent_temperature, impossible, sensitivities, surface_temperature
from irspot.radiometry import carrying as carrying_module
from tests.radiometry.references import BANDS, radiance_temperature, received, rows, units_of_last_digit

CASES = rows("apparent_temperature.csv")
BAND = BANDS["8-14"]
EACH_CASE = pytest.mark.parametrize("row", CASES, ids=lambda r: f"{r['case']}-{r['band_um']}um")
EACH_BAND = pytest.mark.parametrize("band", BANDS.values(), ids=BANDS)


def conditions(row: dict[str, str]) -> dict[str, Any]:
    return {
        "emissivity": float(row["emissivity"]),
        "reflected_degc": float(row["t_reflected_degC"]),
        "transmission": float(row["transmission"]),
        "window_degc": float(row["t_atm_or_window_degC"]),
        "band": BANDS[row["band_um"]],
    }


def test_there_are_sixty_cases_in_two_bands() -> None:
    assert len({(row["case"], row["band_um"]) for row in CASES}) == 120


@EACH_CASE
def test_worked_apparent_temperatures(row: dict[str, str]) -> None:
    # Recomputed with mpmath to 1e-6 °C; the model both ways, in both precisions.
    surface, apparent = float(row["t_obj_degC"]), float(row["t_apparent_degC"])
    given_, gain = conditions(row), float(row["dTobj_dTapp"])
    assert apparent_temperature(surface, **given_) == pytest.approx(apparent, abs=0.51e-6)
    # The printed apparent temperature is rounded, and the way back enlarges that by dTobj/dTapp.
    assert surface_temperature(apparent, **given_) == pytest.approx(surface, abs=0.51e-6 * gain + 1e-8)
    assert apparent_temperature(np.float32(surface), **given_) == pytest.approx(apparent, abs=1e-3)
    single = np.float32(apparent)
    rounding = abs(float(single) - apparent) * gain
    assert surface_temperature(single, **given_) == pytest.approx(surface, abs=1e-3 + rounding)


@EACH_CASE
def test_worked_derivatives(row: dict[str, str]) -> None:
    # Recomputed with mpmath: dT_obj/dT_app, and dT_obj/d(emissivity) at fixed signal.
    ours = sensitivities(float(row["t_apparent_degC"]), **conditions(row))
    for value, column in (
        (ours.to_radiance_temperature, "dTobj_dTapp"),
        (ours.to_emissivity, "dTobj_demissivity_K"),
    ):
        printed = row[column]
        # Beside the printed digits, the rounding of t_apparent (half of 1e-6 °C) moves the place they are taken at.
        moved = 1e-6 * float(row["dTobj_dTapp"]) * (abs(float(printed)) / 20.0 + 2.0 / float(row["emissivity"]))
        assert abs(value - float(printed)) <= 0.51 * units_of_last_digit(printed) + moved, column


@pytest.mark.parametrize("row", rows("ir_propagation.csv"), ids=lambda r: r["case"])
def test_derivatives_of_a_worked_budget(row: dict[str, str]) -> None:
    # Law of propagation through the inverse measurement equation, derivatives by mpmath.
    given_ = {
        "emissivity": float(row["emissivity"]),
        "reflected_degc": float(row["t_reflected_degC"]),
        "band": BANDS[row["band_um"]],
    }
    apparent = float(row["t_apparent_degC"])
    ours = sensitivities(apparent, **given_)
    for value, column in (
        (surface_temperature(apparent, **given_), "t_object_degC"),
        (ours.to_radiance_temperature, "c_apparent"),
        (ours.to_emissivity, "c_emissivity_K"),
        (ours.to_reflected, "c_reflected"),
    ):
        assert abs(value - float(row[column])) <= 0.51 * units_of_last_digit(row[column]), column


def awkward_cases(count: int, seed: int) -> list[tuple[float, float, float, float, float]]:
    """Surface, emissivity, reflected, transmission, window; the corners of the declared range first."""
    rng = np.random.default_rng(seed)
    corners = [(T, e, r, 1.0, 20.0) for T in (-40.0, 500.0) for e in (0.05, 1.0) for r in (-40.0, 23.0, 500.0)]
    drawn = zip(
        rng.uniform(-40.0, 500.0, count),
        rng.uniform(0.05, 1.0, count),
        rng.uniform(-60.0, 120.0, count),
        rng.uniform(0.3, 1.0, count),
        rng.uniform(-10.0, 80.0, count),
        strict=True,
    )
    return corners + [tuple(float(v) for v in case) for case in drawn]


def hold_against_high_precision(band: Band, cases: list[tuple[float, float, float, float, float]]) -> None:
    truth = []
    for surface, e, reflected, t, window in cases:
        signal = received(band, surface, e, reflected, t, window)
        truth.append(float(radiance_temperature(band, signal, near=surface * e + reflected * (1.0 - e))))
    apparent = np.array(truth)
    surface, e, reflected, t, window = np.array(cases).T
    given_ = {"emissivity": e, "reflected_degc": reflected, "transmission": t, "window_degc": window, "band": band}
    # What is promised is 1 mK; the float64 way is a thousand times better and is held to that.
    np.testing.assert_allclose(apparent_temperature(surface, **given_), apparent, rtol=0.0, atol=1e-6)
    np.testing.assert_allclose(surface_temperature(apparent, **given_), surface, rtol=0.0, atol=1e-6)
    gain = sensitivities(apparent, **given_).to_radiance_temperature
    for i in range(len(cases)):
        mine = {k: v if k == "band" else v[i] for k, v in given_.items()}
        single = np.array([apparent[i]], np.float32)
        rounding = gain[i] * abs(float(single[0]) - apparent[i])
        assert abs(surface_temperature(single, **mine)[0] - surface[i]) <= 1e-3 + 1.1 * rounding, cases[i]
        seen = apparent_temperature(np.array([surface[i]], np.float32), **mine)[0]
        assert abs(seen - apparent[i]) <= 1e-3 + np.spacing(np.float32(500.0)), cases[i]


@EACH_BAND
def test_within_a_millikelvin_of_a_high_precision_integral(band: Band) -> None:
    hold_against_high_precision(band, awkward_cases(18, seed=7))


@pytest.mark.full
@EACH_BAND
def test_within_a_millikelvin_of_a_high_precision_integral_in_many_places(band: Band) -> None:
    hold_against_high_precision(band, awkward_cases(1_000, seed=8))


@EACH_BAND
@pytest.mark.parametrize("reflected_degc", [-40.0, 23.0, 100.0])
def test_float32_frames_are_within_a_millikelvin_of_float64(band: Band, reflected_degc: float) -> None:
    rng = np.random.default_rng(19)
    surface = rng.uniform(-40.0, 500.0, (83, 1201))
    e = rng.uniform(0.05, 1.0, surface.shape).astype(np.float32)
    e[:20] = 0.05
    how: dict[str, Any] = {"reflected_degc": reflected_degc, "transmission": 0.9, "window_degc": 31.0, "band": band}
    seen = apparent_temperature(surface, emissivity=e.astype(float), **how).astype(np.float32)
    single = surface_temperature(seen, emissivity=e, **how)
    double = surface_temperature(seen.astype(float), emissivity=e.astype(float), **how)
    assert single.dtype == np.float32
    assert double.dtype == np.float64
    np.testing.assert_allclose(single, double, rtol=0.0, atol=1e-3)
    again = apparent_temperature(single, emissivity=e, **how)
    np.testing.assert_allclose(again, seen, rtol=0.0, atol=1e-3)


EMISSIVITIES = st.floats(0.05, 1.0)
TEMPERATURES = st.floats(-40.0, 500.0)
AROUND = st.floats(-60.0, 120.0)
SHARES = st.floats(0.2, 1.0)


def check_round_trip(degc: float, e: float, reflected: float, t: float, window: float, band: Band) -> None:
    how: dict[str, Any] = {
        "emissivity": e,
        "reflected_degc": reflected,
        "transmission": t,
        "window_degc": window,
        "band": band,
    }
    seen = apparent_temperature(degc, **how)
    assert surface_temperature(seen, **how) == pytest.approx(degc, abs=1e-7)
    assert not impossible(seen, surface_temperature(seen, **how))


@given(TEMPERATURES, EMISSIVITIES, AROUND, SHARES, AROUND, st.sampled_from(list(BANDS.values())))
def test_round_trip(degc: float, e: float, reflected: float, t: float, window: float, band: Band) -> None:
    check_round_trip(degc, e, reflected, t, window, band)


@pytest.mark.full
@settings(max_examples=5_000)
@given(TEMPERATURES, EMISSIVITIES, AROUND, SHARES, AROUND, st.sampled_from(list(BANDS.values())))
def test_round_trip_in_many_places(
    degc: float, e: float, reflected: float, t: float, window: float, band: Band
) -> None:
    check_round_trip(degc, e, reflected, t, window, band)


@given(TEMPERATURES, EMISSIVITIES, AROUND, SHARES, st.floats(1e-6, 5.0))
def test_a_hotter_surface_appears_hotter_and_the_other_way_round(
    degc: float, e: float, reflected: float, t: float, step_k: float
) -> None:
    how: dict[str, Any] = {"emissivity": e, "reflected_degc": reflected, "transmission": t, "band": BAND}
    low, high = apparent_temperature([degc, degc + step_k], **how)
    assert low < high
    low, high = surface_temperature([low, high], **how)
    assert low < high


@given(st.floats(30.0, 120.0), st.floats(0.06, 0.99), st.floats(0.001, 0.01))
def test_a_lower_emissivity_means_a_hotter_surface_where_it_is_hotter_than_its_surroundings(
    degc: float, e: float, less: float
) -> None:
    high, low = surface_temperature(degc, emissivity=[e, e - less], reflected_degc=25.0, band=BAND)
    assert low > high


def test_float32_frames_keep_their_order() -> None:
    degc = np.linspace(20.0, 150.0, 400_001).astype(np.float32)
    surface = surface_temperature(degc, emissivity=0.31, reflected_degc=21.0, band=BAND)
    # Neighbours may fall on either side of a rounding, never further apart than one float32 step or two.
    assert np.all(np.diff(surface) > -2.0 * np.spacing(np.float32(400.0)))
    assert np.all(surface[50:] > surface[:-50])


def test_a_black_surface_without_a_window_is_what_it_seems() -> None:
    degc = np.array([-40.0, 0.0, 71.25, 500.0])
    seen = apparent_temperature(degc, emissivity=1.0, reflected_degc=300.0, band=BAND)
    np.testing.assert_allclose(seen, degc, rtol=0.0, atol=1e-9)


def test_a_surface_as_warm_as_all_around_it_needs_no_emissivity() -> None:
    for e in (0.05, 0.5, 1.0):
        seen = surface_temperature(
            30.0, emissivity=e, reflected_degc=30.0, transmission=0.4, window_degc=30.0, band=BAND
        )
        assert seen == pytest.approx(30.0, abs=1e-8)


DOUBLES_AND_SINGLES = pytest.mark.parametrize("dtype", [np.float64, np.float32])


@DOUBLES_AND_SINGLES
@pytest.mark.parametrize("share", [0.0, -0.0, -0.5, 1.001, 2.0, np.nan, np.inf, -np.inf])
@pytest.mark.parametrize("which", ["emissivity", "transmission"])
def test_shares_that_cannot_be_give_nan_without_a_warning(dtype: type, share: float, which: str) -> None:
    degc = np.array([40.0, 80.0, 120.0], dtype)
    for value in (share, np.array([share, 0.5, share])):
        how: dict[str, Any] = {"emissivity": 0.9, "reflected_degc": 23.0, "band": BAND, which: value}
        wanted = np.isnan(np.broadcast_to(np.where(np.array(value) == 0.5, 1.0, np.nan), 3))
        for model in (surface_temperature, apparent_temperature):
            result = model(degc, **how)
            np.testing.assert_array_equal(np.isnan(result), wanted)
            np.testing.assert_array_equal(impossible(degc, result), wanted)


@DOUBLES_AND_SINGLES
def test_a_reflected_term_larger_than_the_signal_gives_nan(dtype: type) -> None:
    degc = np.array([20.0, np.nan, 60.0], dtype)
    surface = surface_temperature(degc, emissivity=0.1, reflected_degc=60.0, band=BAND)
    np.testing.assert_array_equal(np.isnan(surface), [True, True, False])
    np.testing.assert_array_equal(impossible(degc, surface), [True, False, False])
    behind = surface_temperature(
        degc, emissivity=1.0, reflected_degc=20.0, transmission=0.1, window_degc=90.0, band=BAND
    )
    np.testing.assert_array_equal(impossible(degc, behind), [True, False, True])


@DOUBLES_AND_SINGLES
def test_temperatures_far_out_give_nan_and_never_another_temperature(dtype: type) -> None:
    # Among them places at which a table numbered by the lowest bits of a float would come round again.
    out = [
        -273.15,
        -300.0,
        -500.0,
        -512.0,
        -2000.0,
        1536.0,
        2048.0 + 60.0,
        2.0**18 + 80.0,
        1e30,
        -1e30,
        np.inf,
        -np.inf,
    ]
    degc = np.array([*out, 60.0], dtype)
    for model in (surface_temperature, apparent_temperature):
        result = model(degc, emissivity=0.9, reflected_degc=23.0, band=BAND)
        np.testing.assert_array_equal(np.isnan(result), [True] * len(out) + [False])


@DOUBLES_AND_SINGLES
@pytest.mark.parametrize("which", ["reflected_degc", "window_degc"])
def test_unknown_surroundings_give_nan(dtype: type, which: str) -> None:
    how: dict[str, Any] = {"emissivity": 0.9, "reflected_degc": 23.0, "transmission": 0.8, "window_degc": 23.0}
    assert np.isnan(surface_temperature(dtype(50.0), band=BAND, **{**how, which: np.nan}))
    assert not np.isnan(surface_temperature(dtype(50.0), band=BAND, **how))


@DOUBLES_AND_SINGLES
def test_where_there_is_no_window_its_temperature_is_of_no_account(dtype: type) -> None:
    how: dict[str, Any] = {"emissivity": 0.9, "reflected_degc": 23.0, "band": BAND}
    without = surface_temperature(dtype(50.0), window_degc=np.nan, **how)
    assert without == surface_temperature(dtype(50.0), window_degc=20.0, **how)
    assert sensitivities(50.0, window_degc=np.nan, **how).to_window == 0.0


@DOUBLES_AND_SINGLES
def test_everything_broadcasts(dtype: type) -> None:
    degc = np.linspace(30.0, 90.0, 15).astype(dtype).reshape(3, 5)
    how: dict[str, Any] = {
        "emissivity": np.linspace(0.4, 0.9, 5),
        "reflected_degc": np.array([[20.0], [24.0], [28.0]]),
        "transmission": 0.9,
        "window_degc": np.full((3, 5), 25.0),
        "band": BAND,
    }
    whole = surface_temperature(degc, **how)
    assert whole.shape == (3, 5)
    assert whole.dtype == dtype
    for row in range(3):
        for column in range(5):
            one = surface_temperature(
                float(degc[row, column]),
                emissivity=how["emissivity"][column],
                reflected_degc=how["reflected_degc"][row, 0],
                transmission=0.9,
                window_degc=25.0,
                band=BAND,
            )
            assert whole[row, column] == pytest.approx(float(one), abs=1e-3)


def test_one_pixel_against_a_map_of_emissivity() -> None:
    e = np.linspace(0.4, 0.9, 6).reshape(2, 3).astype(np.float32)
    surface = surface_temperature(np.float32(60.0), emissivity=e, reflected_degc=20.0, band=BAND)
    assert surface.shape == (2, 3)
    np.testing.assert_allclose(
        surface, surface_temperature(60.0, emissivity=e, reflected_degc=20.0, band=BAND), atol=1e-3
    )


def test_a_pixel_does_not_depend_on_its_block(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(23)
    degc = rng.uniform(10.0, 200.0, (37, 41)).astype(np.float32)
    degc[3, 4] = np.nan
    e = rng.uniform(0.1, 1.0, degc.shape).astype(np.float32)
    whole = surface_temperature(degc, emissivity=e, reflected_degc=20.0, band=BAND)
    monkeypatch.setattr(carrying_module, "BLOCK", 100)
    np.testing.assert_array_equal(surface_temperature(degc, emissivity=e, reflected_degc=20.0, band=BAND), whole)
    turned = surface_temperature(degc.T, emissivity=e.T, reflected_degc=20.0, band=BAND)
    np.testing.assert_array_equal(turned, whole.T)


def test_both_ways_of_reading_tables_give_the_same_bits(monkeypatch: pytest.MonkeyPatch) -> None:
    from irspot.radiometry import gather as gathering

    degc = np.random.default_rng(29).uniform(5.0, 500.0, (61, 67)).astype(np.float32)
    results = []
    for way in (gathering._BY_NUMPY, gathering._by_opencv()):
        monkeypatch.setattr(carrying_module, "gather", lambda way=way: way)
        results.append(surface_temperature(degc, emissivity=0.7, reflected_degc=-10.0, band=BAND))
    assert np.all(np.isfinite(results[0]))
    np.testing.assert_array_equal(*results)


@DOUBLES_AND_SINGLES
def test_out_is_written_and_returned(dtype: type) -> None:
    degc = np.linspace(30.0, 90.0, 12).astype(dtype).reshape(3, 4)
    how: dict[str, Any] = {"emissivity": 0.7, "reflected_degc": 20.0, "band": BAND}
    out = np.empty((3, 4), np.float32)
    assert surface_temperature(degc, out=out, **how) is out
    np.testing.assert_array_equal(out, surface_temperature(degc, **how).astype(np.float32))
    for wrong in (np.empty((4, 3), np.float32), np.empty((3, 4)), np.empty((3, 8), np.float32)[:, ::2]):
        with pytest.raises(ValueError, match="out must be"):
            surface_temperature(degc, out=wrong, **how)


@DOUBLES_AND_SINGLES
def test_nothing_in_gives_nothing_out(dtype: type) -> None:
    empty = np.empty((0, 7), dtype)
    for e in (0.9, np.empty((0, 7))):
        assert surface_temperature(empty, emissivity=e, reflected_degc=20.0, band=BAND).shape == (0, 7)


INPUTS = ("emissivity", "reflected_degc", "transmission", "window_degc")


@given(st.floats(40.0, 120.0), st.floats(0.2, 0.95), st.floats(0.0, 35.0), st.floats(0.3, 0.95), st.floats(0.0, 35.0))
def test_sensitivities_are_the_derivatives(degc: float, e: float, reflected: float, t: float, window: float) -> None:
    place = dict(zip(INPUTS, (e, reflected, t, window), strict=True))
    ours = sensitivities(degc, band=BAND, **place)

    def quotient(name: str, step: float) -> float:
        ahead, behind = (
            surface_temperature(
                degc + (d if name == "degc" else 0.0),
                band=BAND,
                **{key: value + (d if key == name else 0.0) for key, value in place.items()},
            )
            for d in (step, -step)
        )
        return float(ahead - behind) / (2.0 * step)

    for name, step, value in (
        ("degc", 1e-3, ours.to_radiance_temperature),
        ("emissivity", 1e-5, ours.to_emissivity),
        ("reflected_degc", 1e-3, ours.to_reflected),
        ("transmission", 1e-5, ours.to_transmission),
        ("window_degc", 1e-3, ours.to_window),
    ):
        assert value == pytest.approx(quotient(name, step), rel=2e-5, abs=2e-5), name


def test_sensitivities_are_nan_where_the_surface_is() -> None:
    ours = sensitivities([20.0, 80.0], emissivity=0.1, reflected_degc=60.0, band=BAND)
    for name in ("to_radiance_temperature", "to_emissivity", "to_reflected", "to_transmission"):
        np.testing.assert_array_equal(np.isnan(getattr(ours, name)), [True, False])


def test_a_window_counts_though_it_is_perfectly_clear() -> None:
    # At a transmission of 1 the value forgets the window, but not what a little less transmission would do.
    how: dict[str, Any] = {"emissivity": 0.8, "reflected_degc": 22.0, "window_degc": 35.0, "band": BAND}
    ours = sensitivities(90.0, transmission=1.0, **how).to_transmission
    step = 1e-6
    less = surface_temperature(90.0, transmission=1.0 - step, **how)
    assert ours == pytest.approx(float(surface_temperature(90.0, transmission=1.0, **how) - less) / step, rel=1e-4)
