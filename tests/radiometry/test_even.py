"""Emissivities of an evenly warm surface, against worked cases and the `uncertainties` library."""

from __future__ import annotations

import numpy as np
import pytest
from uncertainties import ufloat, wrap

from irspot.even_frame import EvenConditions
from irspot.radiometry.even import emissivity_of_even, even_slopes, seen_of_even

from .references import BANDS, radiance_temperature, received, rows

CASES = [
    row
    for row in rows("apparent_temperature.csv")
    if row["transmission"] == "1" and abs(float(row["t_obj_degC"]) - float(row["t_reflected_degC"])) >= 20.0
]
"""Those with the contrast that a map wants."""


@pytest.mark.parametrize("row", CASES, ids=[f"{row['case']}-{row['band_um']}" for row in CASES])
def test_the_emissivities_of_worked_cases_come_back(row: dict[str, str]) -> None:
    """Worked cases of tests/reference/apparent_temperature.csv, the other way round; they are printed to 1e-6 K."""
    taken = EvenConditions(float(row["t_obj_degC"]), reflected_degc=float(row["t_reflected_degC"]))
    found = float(emissivity_of_even(float(row["t_apparent_degC"]), taken, BANDS[row["band_um"]]))
    assert found == pytest.approx(float(row["emissivity"]), abs=1e-7)


def test_window_and_path_are_undone() -> None:
    """Against Planck's integral to 25 digits (`references`)."""
    band = BANDS["7.5-13"]
    signal = received(band, 55.0, 0.3, 22.0, 0.85, 28.0)
    seen = float(radiance_temperature(band, signal, 30.0))
    taken = EvenConditions(55.0, reflected_degc=22.0, transmission=0.85, window_degc=28.0)
    assert float(emissivity_of_even(seen, taken, band)) == pytest.approx(0.3, abs=1e-7)
    assert seen_of_even(0.3, taken, band) == pytest.approx(seen, abs=1e-6)


@pytest.mark.parametrize("emissivity", [0.1, 0.35, 0.9, 1.0])
@pytest.mark.parametrize("transmission", [1.0, 0.8])
def test_slopes_are_those_of_the_formula(emissivity: float, transmission: float) -> None:
    """The library `uncertainties` takes its derivatives numerically and combines them by itself."""
    band = BANDS["8-14"]
    taken = EvenConditions(50.0, 0.4, 23.0, 0.7, transmission, 21.0)
    seen = seen_of_even(emissivity, taken, band)

    def formula(radiance_degc: float, surface_degc: float, reflected_degc: float) -> float:
        stated = EvenConditions(surface_degc, 0.4, reflected_degc, 0.7, transmission, 21.0)
        return float(emissivity_of_even(radiance_degc, stated, band))

    wanted = wrap(formula)(ufloat(seen, 0.2), ufloat(50.0, 0.4), ufloat(23.0, 0.7))
    slopes = even_slopes(emissivity, taken, band)
    parts = (0.2 * slopes.to_radiance_temperature, 0.4 * slopes.to_surface, 0.7 * slopes.to_reflected)
    assert wanted.nominal_value == pytest.approx(emissivity, abs=1e-9)
    assert np.linalg.norm(parts) == pytest.approx(wanted.std_dev, rel=2e-4)


def test_what_was_not_measured_stays_unknown() -> None:
    found = emissivity_of_even(np.array([np.nan, 40.0]), EvenConditions(50.0), BANDS["8-14"])
    assert np.isnan(found[0])
    assert 0.5 < found[1] < 1.0
