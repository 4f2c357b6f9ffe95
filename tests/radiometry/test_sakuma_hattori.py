"""The Sakuma-Hattori equation against fits with known residuals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from irspot.camera import Band
from irspot.errors import IrspotError
from irspot.radiometry import apparent_temperature, band_table, sakuma_hattori, surface_temperature
from irspot.radiometry.planck import band_radiance
from tests.radiometry.references import BANDS, rows, units_of_last_digit

FITS = rows("sakuma_hattori.csv")
FIT = (9.3333414, 179.17299, 6819.4971)


def numbers(row: dict[str, str]) -> tuple[float, float, float]:
    return float(row["A_um"]), float(row["B_um_K"]), float(row["C_W_m-2_sr-1"])


@pytest.mark.parametrize("row", FITS, ids=lambda r: f"{r['band_um']}-{r['t_min_degC']}..{r['t_max_degC']}-{r['kind']}")
def test_residuals_of_published_fits(row: dict[str, str]) -> None:
    # Sakuma, Ono & Hattori (1982), Planck form; fits to the flat-band integral at 1 K steps, residuals recomputed.
    band = BANDS[row["band_um"]]
    degc = np.arange(float(row["t_min_degC"]), float(row["t_max_degC"]) + 1.0)
    exact = band_radiance(band.lower_um, band.upper_um, degc + 273.15)
    residual_mk = 1e3 * (sakuma_hattori.temperature_kelvin(exact, *numbers(row)) - 273.15 - degc)
    rms = np.sqrt(np.mean(residual_mk**2))
    # A residual counted in radiance over the slope differs from one in temperature by its curvature: 1e-3 of 0.2 K.
    for ours, printed in (
        (np.max(np.abs(residual_mk)), row["max_abs_residual_mK"]),
        (rms, row["rms_residual_mK"]),
    ):
        assert abs(ours - float(printed)) <= 1.01 * units_of_last_digit(printed) + 1e-3 * float(printed)


@given(st.floats(60.0, 3000.0))
def test_round_trip(kelvin: float) -> None:
    there = sakuma_hattori.radiance(kelvin, *FIT)
    assert sakuma_hattori.temperature_kelvin(there, *FIT) == pytest.approx(kelvin, rel=1e-12)


def test_slope_is_the_derivative() -> None:
    kelvin, step = np.linspace(150.0, 1700.0, 37), 1e-3
    ahead, behind = (sakuma_hattori.radiance(kelvin + d, *FIT) for d in (step, -step))
    np.testing.assert_allclose(sakuma_hattori.slope(kelvin, *FIT), (ahead - behind) / (2.0 * step), rtol=1e-8)


def test_tables_of_the_equation_are_within_a_millikelvin() -> None:
    band = Band(sakuma_hattori=FIT)
    degc = np.linspace(-40.0, 500.0, 1237)
    for e in (0.05, 0.31, 1.0):
        there, around = (sakuma_hattori.radiance(T + 273.15, *FIT) for T in (degc, 23.0))
        seen = sakuma_hattori.temperature_kelvin(e * there + (1.0 - e) * around, *FIT) - 273.15
        kwargs = {"emissivity": e, "reflected_degc": 23.0, "band": band}
        np.testing.assert_allclose(apparent_temperature(degc, **kwargs), seen, rtol=0.0, atol=1e-6)
        np.testing.assert_allclose(surface_temperature(seen, **kwargs), degc, rtol=0.0, atol=1e-6)
        single = surface_temperature(seen.astype(np.float32), **kwargs)
        np.testing.assert_allclose(single, degc, rtol=0.0, atol=1e-3)


def test_edges_of_the_band_do_not_matter_beside_the_equation() -> None:
    one, other = (band_table(Band(*edges, sakuma_hattori=FIT)).radiance(80.0) for edges in ((8.0, 14.0), (3.0, 5.0)))
    assert one == other


def test_what_is_no_temperature_or_radiance_is_nan() -> None:
    assert np.isnan(sakuma_hattori.radiance(10.0, 9.0, -100.0, 6000.0))
    np.testing.assert_array_equal(
        np.isnan(sakuma_hattori.temperature_kelvin([-1.0, 0.0, np.nan, 5.0], *FIT)), [True, True, True, False]
    )


@pytest.mark.parametrize("fit", [(0.0, 179.0, 6819.0), (9.3, 179.0, -6819.0), (9.3, np.nan, 6819.0), (-9.3, 1e6, 7e3)])
def test_numbers_that_give_no_rising_radiance_are_refused(fit: tuple[float, float, float]) -> None:
    with pytest.raises(IrspotError) as refused:
        band_table(Band(sakuma_hattori=fit))
    assert refused.value.key == "band.sakuma_hattori"
