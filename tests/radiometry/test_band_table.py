"""The tables of a band against its formulas, and their behaviour at and beyond their ends."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from irspot.camera import Band
from irspot.errors import IrspotError
from irspot.radiometry import BandTable, band_table, planck
from irspot.radiometry.band_table import HIGHEST_DEGC, LOWEST_DEGC, PIECES_PER_K
from tests.radiometry.references import BANDS

TABLES = [band_table(band) for band in BANDS.values()]
TABLE = TABLES[0]
EACH_BAND = pytest.mark.parametrize("band", BANDS.values(), ids=BANDS)


@EACH_BAND
def test_radiance_slope_and_temperature_agree_with_the_formulas(band: Band) -> None:
    degc = np.random.default_rng(3).uniform(LOWEST_DEGC, HIGHEST_DEGC, 5_003)
    exact = planck.band_radiance(band.lower_um, band.upper_um, degc + 273.15)
    slope = planck.band_slope(band.lower_um, band.upper_um, degc + 273.15)
    table = band_table(band)
    np.testing.assert_array_less(np.abs(table.radiance(degc) - exact) / slope, 1e-7)
    np.testing.assert_allclose(table.slope(degc), slope, rtol=1e-6)
    np.testing.assert_allclose(table.temperature_degc(exact), degc, rtol=0.0, atol=1e-7)


@pytest.mark.parametrize("band", [Band(3.0, 5.0), Band(1.0, 1.7), Band(0.9, 30.0), Band(9.99, 10.01)], ids=str)
def test_other_bands_are_within_a_millikelvin_too(band: Band) -> None:
    table = band_table(band)
    degc = np.random.default_rng(4).uniform(table.lowest_degc, table.highest_degc, 5_003)
    exact = planck.band_radiance(band.lower_um, band.upper_um, degc + 273.15)
    np.testing.assert_allclose(table.temperature_degc(exact), degc, rtol=0.0, atol=1e-3)


@given(st.sampled_from(TABLES), st.floats(LOWEST_DEGC, HIGHEST_DEGC))
def test_round_trip(table: BandTable, degc: float) -> None:
    assert table.temperature_degc(table.radiance(degc)) == pytest.approx(degc, abs=1e-8)


@given(st.sampled_from(TABLES), st.floats(LOWEST_DEGC, HIGHEST_DEGC - 1e-3), st.floats(1e-9, 1e-3))
def test_radiance_and_temperature_rise(table: BandTable, degc: float, step_k: float) -> None:
    low, high = table.radiance([degc, degc + step_k])
    assert high >= low
    below, above = table.temperature_degc([low, high])
    assert above >= below - 1e-10


@EACH_BAND
def test_first_guesses_rise_throughout(band: Band) -> None:
    # What float32 frames get is these straight pieces: they must join, so that a hotter pixel never turns cooler.
    radiance = np.geomspace(2.0, 4000.0, 300_001)
    guess = band_table(band)._first_guess(radiance)
    assert np.all(np.diff(guess) > -1e-4)
    assert np.all(guess[40:] > guess[:-40])


def test_outside_is_nan_without_a_warning() -> None:
    degc = np.array([LOWEST_DEGC - 0.01, HIGHEST_DEGC + 0.01, np.nan, np.inf, -np.inf, -273.15, 1e300])
    assert np.all(np.isnan(TABLE.radiance(degc)))
    assert np.all(np.isnan(TABLE.slope(degc)))
    radiance = np.array([0.0, -0.0, -5.0, np.nan, np.inf, -np.inf, 1e-300, 1e300, 1e-3, 1e5])
    assert np.all(np.isnan(TABLE.temperature_degc(radiance)))


def test_the_ends_belong_to_the_table() -> None:
    ends = np.array([LOWEST_DEGC, HIGHEST_DEGC])
    np.testing.assert_allclose(TABLE.temperature_degc(TABLE.radiance(ends)), ends, rtol=0.0, atol=1e-8)


def test_shapes_are_kept() -> None:
    for shape in ((), (1,), (3, 5), (2, 0, 4)):
        degc = np.full(shape, 40.0)
        assert TABLE.radiance(degc).shape == TABLE.slope(degc).shape == shape
        assert TABLE.temperature_degc(TABLE.radiance(degc)).shape == shape


def test_pieces_hold_the_radiance_of_their_node_less_the_offset() -> None:
    values, slopes = TABLE.forward(37.5)
    node = round((61.25 + 512.0) * PIECES_PER_K)
    assert values[node] == np.float32(TABLE.radiance(61.25) - 37.5)
    assert slopes[node] == np.float32(TABLE.slope(61.25))
    assert np.isnan(values[0])
    assert np.isnan(values[-1])


def test_tables_are_built_once_and_read_only() -> None:
    assert band_table(Band(8.0, 14.0)) is band_table(Band(8.0, 14.0))
    for array in (TABLE.knots, TABLE.backward, TABLE.forward()):
        with pytest.raises(ValueError, match="read-only"):
            array[0, 0] = 1.0


@pytest.mark.parametrize("edges", [(14.0, 8.0), (8.0, 8.0), (0.0, 8.0), (-1.0, 8.0), (8.0, np.inf), (np.nan, 8.0)])
def test_an_empty_band_is_refused(edges: tuple[float, float]) -> None:
    with pytest.raises(IrspotError) as refused:
        band_table(Band(*edges))
    assert refused.value.key == "band"


def test_a_band_without_light_at_these_temperatures_is_refused() -> None:
    with pytest.raises(IrspotError, match="no radiance"):
        band_table(Band(0.05, 0.06))


def test_a_band_that_is_dark_when_cold_starts_later() -> None:
    table = band_table(Band(0.4, 0.5))
    assert LOWEST_DEGC < table.lowest_degc < 500.0
    assert np.isnan(table.radiance(table.lowest_degc - 1.0))
    degc = np.linspace(table.lowest_degc, HIGHEST_DEGC, 97)
    exact = planck.band_radiance(0.4, 0.5, degc + 273.15)
    np.testing.assert_allclose(table.temperature_degc(exact), degc, rtol=0.0, atol=0.01)
