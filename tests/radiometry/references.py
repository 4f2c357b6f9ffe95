"""Published and recomputed values, and Planck's integral to any number of digits."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import mpmath

from irspot.camera import Band

REFERENCE = Path(__file__).parents[1] / "reference"
BANDS = {"8-14": Band(8.0, 14.0), "7.5-13": Band(7.5, 13.0)}

# Typed here once more, so that a slip in irspot.constants cannot hide in its own reflection.
MP = mpmath.mp.clone()
MP.dps = 25
H, C, K = MP.mpf("6.62607015e-34"), MP.mpf(299792458), MP.mpf("1.380649e-23")


def rows(name: str) -> list[dict[str, str]]:
    """Rows of a file of tests/reference, without its citation line."""
    with (REFERENCE / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def units_of_last_digit(printed: str) -> float:
    """Worth of one unit of the last printed digit: 0.001 for 1.234, 1e-12 for 1.234e-9."""
    mantissa, _, exponent = printed.lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    return 10.0 ** (int(exponent or 0) - decimals)


@cache
def radiance(lower_um: float, upper_um: float, degc: mpmath.mpf | float) -> mpmath.mpf:
    """In-band radiance by quadrature of Planck's law, with the integrand in metres."""
    kelvin = MP.mpf(degc) + MP.mpf("273.15")

    def spectral(wavelength: mpmath.mpf) -> mpmath.mpf:
        return 2 * H * C**2 / wavelength**5 / MP.expm1(H * C / (wavelength * K * kelvin))

    return MP.quad(spectral, [MP.mpf(lower_um) * MP.mpf("1e-6"), MP.mpf(upper_um) * MP.mpf("1e-6")])


def received(band: Band, degc: float, e: float, reflected: float, t: float, window: float) -> mpmath.mpf:
    """What the camera receives, by the model as it is written down."""
    surface, around, glass = (radiance(band.lower_um, band.upper_um, T) for T in (degc, reflected, window))
    e, t = MP.mpf(e), MP.mpf(t)
    return t * (e * surface + (1 - e) * around) + (1 - t) * glass


def radiance_temperature(band: Band, signal: mpmath.mpf, near: float) -> mpmath.mpf:
    """Temperature of a black body of that radiance, by the secant rule."""
    return MP.findroot(
        lambda degc: radiance(band.lower_um, band.upper_um, degc) / signal - 1, (near, near + 0.5), tol=1e-32
    )
