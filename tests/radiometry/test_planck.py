"""Planck's law against published and recomputed values."""

from __future__ import annotations

import math

import numpy as np
import pytest

from irspot import constants
from irspot.radiometry import planck
from tests.radiometry.references import BANDS, radiance, rows, units_of_last_digit

CONSTANTS = {row["symbol"]: row for row in rows("constants.csv")}


@pytest.mark.parametrize(
    ("symbol", "ours"),
    [
        ("h", constants.PLANCK_J_S),
        ("c", constants.LIGHT_M_PER_S),
        ("k", constants.BOLTZMANN_J_PER_K),
        ("sigma", constants.STEFAN_BOLTZMANN_W_PER_M2_K4),
        ("c1L = 2 h c^2", constants.C1L_W_UM4_PER_M2_SR * 1e-24),
        ("c2 = h c / k", constants.C2_UM_K * 1e-6),
        ("T0", constants.ZERO_DEGC_KELVIN),
    ],
)
def test_constants_are_those_of_the_si(symbol: str, ours: float) -> None:
    # SI Brochure 9th ed. and CODATA 2022, to the digits printed.
    printed = CONSTANTS[symbol]["value"]
    assert abs(ours - float(printed)) <= 0.51 * units_of_last_digit(printed)


@pytest.mark.parametrize("row", rows("spectral_radiance.csv"), ids=lambda r: f"{r['wavelength_um']}um-{r['T_K']}K")
def test_spectral_radiance(row: dict[str, str]) -> None:
    # Planck's law, CODATA 2022, recomputed with mpmath to 12 digits.
    ours = planck.spectral_radiance(float(row["wavelength_um"]), float(row["T_K"]))
    printed = row["L_W_m-2_sr-1_um-1"]
    assert abs(ours - float(printed)) <= 0.51 * units_of_last_digit(printed)


@pytest.mark.parametrize("row", rows("band_radiance.csv"), ids=lambda r: f"{r['band_um']}um-{r['T_K']}K")
def test_band_radiance_and_slope(row: dict[str, str]) -> None:
    # Planck integral over a flat band, CODATA 2022, recomputed with mpmath to 12 digits.
    band, kelvin = BANDS[row["band_um"]], float(row["T_K"])
    ours = {
        "L_band_W_m-2_sr-1": planck.band_radiance(band.lower_um, band.upper_um, kelvin),
        "M_band_W_m-2": math.pi * planck.band_radiance(band.lower_um, band.upper_um, kelvin),
        "dL_dT_W_m-2_sr-1_K-1": planck.band_slope(band.lower_um, band.upper_um, kelvin),
    }
    for column, value in ours.items():
        assert abs(value - float(row[column])) <= 0.51 * units_of_last_digit(row[column]), column


def test_band_fraction_recomputed() -> None:
    # The 60 places of the table in the usual heat-transfer textbooks; the recomputed column, as the printed one errs.
    for row in rows("band_fraction.csv"):
        ours = planck.fraction_below(float(row["lambdaT_um_K"]))
        assert abs(ours - float(row["F_recomputed_10dp"])) <= 0.51e-10, row["lambdaT_um_K"]


def test_band_fraction_keeps_its_digits_where_it_is_small() -> None:
    # Mechanical Engineers' Handbook places, recomputed with mpmath to 10 significant digits, from 1e-12 upwards.
    for row in rows("band_fraction_4digit_handbook.csv"):
        ours, printed = planck.fraction_below(float(row["lambdaT_um_K"])), row["F_recomputed_10sig"]
        assert abs(ours - float(printed)) <= 0.51 * units_of_last_digit(printed), row["lambdaT_um_K"]


def test_band_fraction_of_the_handbook_as_printed() -> None:
    # Mechanical Engineers' Handbook (Wiley), vol. 4, Table 16, printed to 4 digits with c2 = 14388 um K. One of its
    # 90 entries is a rounding tie, so half a unit and a hundredth is the digit itself.
    table = rows("band_fraction_4digit_handbook.csv")
    assert len(table) == 90
    for row in table:
        ours, printed = planck.fraction_below(float(row["lambdaT_um_K"]), c2_um_k=14388.0), row["F_handbook_printed"]
        assert abs(ours - float(printed)) <= 0.51 * units_of_last_digit(printed), row["lambdaT_um_K"]


def test_fraction_percentiles() -> None:
    # Planck's integral inverted with mpmath; λT is given to 1e-4, so the fraction is known to its slope times that.
    for row in rows("fraction_percentiles.csv"):
        place = float(row["lambdaT_um_K"])
        below, above = planck.fraction_below([place - 0.51e-4, place + 0.51e-4])
        assert below <= float(row["fraction_below"]) <= above


@pytest.mark.parametrize("kelvin", [77.0, 233.15, 300.0, 773.15, 5772.0])
def test_all_wavelengths_together_give_stefan_boltzmann(kelvin: float) -> None:
    # M = σ T⁴ with σ of CODATA 2022 (5.670374419184e-8); 0.05 to 1e6 µm leaves out less than 1e-12 at these.
    exitance = math.pi * planck.band_radiance(0.05, 1e6, kelvin)
    assert exitance == pytest.approx(5.670374419184e-8 * kelvin**4, rel=2e-12)


def test_wien_peak() -> None:
    # b = 2897.771955185 µm K (CODATA 2022): the spectral radiance falls to both sides of b / T.
    peak = float(CONSTANTS["b"]["value"]) * 1e6 / 300.0
    left, top, right = planck.spectral_radiance(peak * np.array([1 - 1e-5, 1.0, 1 + 1e-5]), 300.0)
    assert left < top > right
    assert left == pytest.approx(right, rel=1e-12)


@pytest.mark.parametrize(("lower_um", "upper_um"), [(8.0, 14.0), (7.5, 13.0), (3.0, 5.0), (9.9, 10.1)])
def test_band_radiance_against_quadrature(lower_um: float, upper_um: float) -> None:
    degc = [-120.0, -40.0, 0.1, 71.3, 250.0, 500.0, 1500.0]
    kelvin = np.array(degc) + 273.15
    ours = planck.band_radiance(lower_um, upper_um, kelvin)
    theirs = [float(radiance(lower_um, upper_um, T)) for T in degc]
    # A band is the difference of two integrals: a few last places of the larger one are what it can be known to, and
    # rounding the temperature to a float64 moves exp(-x) by x last places more.
    larger = np.array([float(radiance(0.4, upper_um, T)) for T in degc])
    places = 8.0 + 2.0 * constants.C2_UM_K / (upper_um * kelvin)
    assert np.all(np.abs(ours - theirs) <= places * np.finfo(float).eps * larger)


def test_the_two_series_meet() -> None:
    x = planck.SMALL_X
    below, above = planck.integral_above([np.nextafter(x, 0.0), x])
    assert below == pytest.approx(above, rel=2e-15)


def test_what_is_no_temperature_is_nan_without_a_warning() -> None:
    kelvin = np.array([[-5.0, 0.0, np.nan], [5e-324, 1.0, 300.0]])
    radiance_ = planck.band_radiance(8.0, 14.0, kelvin)
    assert radiance_.shape == kelvin.shape
    np.testing.assert_array_equal(np.isnan(radiance_), [[True, True, True], [False, False, False]])
    assert radiance_[1, 0] == 0.0
    assert np.isnan(planck.spectral_radiance(0.0, 300.0))
    assert np.isnan(planck.fraction_below(-1.0))
