"""Foil, contacts and tape: unknowns of the measurement equation recovered from frames made with them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from irspot.camera import Band
from irspot.measurement.patches import NOTHING_BETWEEN, Between, Known, emissivity_of, reflected_of_foil
from irspot.radiometry import apparent_temperature

BAND = Band(8.0, 14.0)


def seen(surface_degc: float, emissivity: float, reflected_degc: float, between: Between = NOTHING_BETWEEN) -> float:
    return float(
        apparent_temperature(
            surface_degc,
            emissivity=emissivity,
            reflected_degc=reflected_degc,
            transmission=between.transmission,
            window_degc=between.window_degc,
            band=BAND,
        )
    )


@given(
    reflected=st.floats(-20.0, 80.0),
    own=st.floats(15.0, 40.0),
    emissivity=st.floats(0.0, 0.3),
    transmission=st.floats(0.6, 1.0),
)
def test_a_known_mixture_inverts(reflected: float, own: float, emissivity: float, transmission: float) -> None:
    between = Between(transmission, 24.0)
    found = reflected_of_foil(
        Known(seen(own, max(emissivity, 1e-9), reflected, between)), Known(emissivity), Known(own), BAND, between
    )
    assert found.value == pytest.approx(reflected, abs=0.1)
    assert found.u == 0.0


@given(
    emissivity=st.floats(0.02, 1.0),
    surface=st.floats(45.0, 120.0),
    reflected=st.floats(10.0, 30.0),
    transmission=st.floats(0.6, 1.0),
)
def test_an_emissivity_inverts(emissivity: float, surface: float, reflected: float, transmission: float) -> None:
    between = Between(transmission, 24.0)
    found = emissivity_of(
        Known(seen(surface, emissivity, reflected, between)), Known(surface), Known(reflected), BAND, between
    )
    assert found.value == pytest.approx(emissivity, abs=2e-4)


def test_its_uncertainty_covers() -> None:
    random = np.random.default_rng(1)
    hits = 0
    for _ in range(600):
        emissivity = random.uniform(0.1, 0.95)
        surface, reflected = random.uniform(60.0, 90.0), random.uniform(18.0, 28.0)
        true = (Known(seen(surface, emissivity, reflected), 0.5), Known(surface, 0.8), Known(reflected, 2.0))
        drawn = [Known(each.value + each.u * random.standard_normal(), each.u) for each in true]
        found = emissivity_of(*drawn, BAND)
        hits += abs(found.value - emissivity) <= 2.0 * found.u
    assert 0.93 <= hits / 600 <= 0.98


def test_a_surface_near_its_surroundings_shows_nothing() -> None:
    assert np.isnan(emissivity_of(Known(25.0), Known(28.0), Known(22.0), BAND).value)


def test_foil_that_sends_too_little_reflects_nothing() -> None:
    assert np.isnan(reflected_of_foil(Known(-80.0, 1.0), Known(0.3), Known(80.0), BAND).value)
