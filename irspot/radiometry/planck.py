"""Planck's law: spectral radiance, and its integral over a flat band by convergent series.

Legend: x = c2 / (λ T); I(x) = ∫ t³ / (eᵗ - 1) dt from x to infinity, with I(0) = π⁴ / 15.
Temperatures are in kelvin here, wavelengths in µm. Everything is float64 and good to a few units of its last place.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from irspot.constants import C1L_W_UM4_PER_M2_SR, C2_UM_K

FloatArray = NDArray[np.float64]

WHOLE_INTEGRAL: Final = math.pi**4 / 15.0
"""I(0)."""
SMALL_X: Final = 1.0
"""Below it the series in powers of x is used, above it the series in powers of exp(-x)."""
_NOTHING_ABOVE: Final = 800.0
"""exp(-x) is zero here already; a larger x, up to infinity at no temperature, would only make 0 × infinity."""
_BERNOULLI: Final = (
    1.0 / 6.0,
    -1.0 / 30.0,
    1.0 / 42.0,
    -1.0 / 30.0,
    5.0 / 66.0,
    -691.0 / 2730.0,
    7.0 / 6.0,
    -3617.0 / 510.0,
    43867.0 / 798.0,
    -174611.0 / 330.0,
    854513.0 / 138.0,
)
"""B2, B4, ... B22: at x = 1 the first term left out is 1e-19 of the sum."""


def spectral_radiance(wavelength_um: ArrayLike, temperature_kelvin: ArrayLike) -> FloatArray:
    """Spectral radiance of a black body.

    Parameters
    ----------
    wavelength_um, temperature_kelvin : array_like
        Broadcast against one another. [µm], [K]

    Returns
    -------
    ndarray
        [W m⁻² sr⁻¹ µm⁻¹]; NaN where a temperature or wavelength is not above zero.

    Notes
    -----
    L(λ, T) = 2 h c² / (λ⁵ (exp(c2 / (λ T)) - 1)); M. Planck (1900), with the exact SI constants.

    Examples
    --------
    >>> float(spectral_radiance(10.0, 300.0).round(8))
    9.92403333
    """
    wavelength = _above_zero(wavelength_um)
    with np.errstate(over="ignore", under="ignore"):
        grown = np.expm1(C2_UM_K / (wavelength * _above_zero(temperature_kelvin)))
        return np.asarray(C1L_W_UM4_PER_M2_SR / (wavelength**5 * grown))


def fraction_below(wavelength_temperature_um_k: ArrayLike, c2_um_k: float = C2_UM_K) -> FloatArray:
    """Share of black-body radiance at wavelengths below λ, F(0→λT).

    Parameters
    ----------
    wavelength_temperature_um_k : array_like
        λ T. [µm K]
    c2_um_k : float
        Second radiation constant; another than the exact one reproduces older tables. [µm K]

    Returns
    -------
    ndarray
        0 to 1; NaN where λ T is not above zero.

    Notes
    -----
    F = (15 / π⁴) ∫ t³ / (eᵗ - 1) dt from c2 / (λ T) to infinity.

    Examples
    --------
    >>> float(fraction_below(2897.771955185).round(6))
    0.250055
    """
    with np.errstate(over="ignore"):
        return integral_above(c2_um_k / _above_zero(wavelength_temperature_um_k)) / WHOLE_INTEGRAL


def band_radiance(lower_um: float, upper_um: float, temperature_kelvin: ArrayLike) -> FloatArray:
    """Radiance of a black body within a flat band.

    Parameters
    ----------
    lower_um, upper_um : float
        Edges of the band. [µm]
    temperature_kelvin : array_like
        [K]

    Returns
    -------
    ndarray
        [W m⁻² sr⁻¹]; NaN where a temperature is not above zero.

    Notes
    -----
    L(T) = 2 h c² (T / c2)⁴ (I(c2 / (λ2 T)) - I(c2 / (λ1 T))).

    Examples
    --------
    >>> float(band_radiance(8.0, 14.0, 373.15).round(6))
    136.778339
    """
    kelvin = _above_zero(temperature_kelvin)
    with np.errstate(over="ignore"):
        share = integral_above(C2_UM_K / (upper_um * kelvin)) - integral_above(C2_UM_K / (lower_um * kelvin))
    return np.asarray(C1L_W_UM4_PER_M2_SR * (kelvin / C2_UM_K) ** 4 * share)


def band_slope(
    lower_um: float, upper_um: float, temperature_kelvin: ArrayLike, radiance: FloatArray | None = None
) -> FloatArray:
    """Change of a flat band's radiance with temperature, dL/dT.

    Parameters
    ----------
    lower_um, upper_um : float
        Edges of the band. [µm]
    temperature_kelvin : array_like
        [K]
    radiance : ndarray, optional
        What `band_radiance` gives for the same, where it is known already. [W m⁻² sr⁻¹]

    Returns
    -------
    ndarray
        [W m⁻² sr⁻¹ K⁻¹]

    Notes
    -----
    With L(T) = T⁴ (g(λ2 T) - g(λ1 T)) the derivative needs no second integral:
    dL/dT = (4 L + λ2 L(λ2, T) - λ1 L(λ1, T)) / T.

    Examples
    --------
    >>> float(band_slope(8.0, 14.0, 373.15).round(8))
    1.39722591
    """
    edges = upper_um * spectral_radiance(upper_um, temperature_kelvin)
    edges = edges - lower_um * spectral_radiance(lower_um, temperature_kelvin)
    if radiance is None:
        radiance = band_radiance(lower_um, upper_um, temperature_kelvin)
    return np.asarray((4.0 * radiance + edges) / _above_zero(temperature_kelvin))


def integral_above(x: ArrayLike) -> FloatArray:
    """I(x) = ∫ t³ / (eᵗ - 1) dt from x to infinity.

    Parameters
    ----------
    x : array_like
        Zero or more.

    Returns
    -------
    ndarray
        π⁴ / 15 at 0, falling to 0.
    """
    x = np.asarray(x, dtype=np.float64)
    small = x < SMALL_X
    # Each series runs on all of x, with the places that belong to the other one moved to where it is quick.
    far = _by_exponentials(np.where(small, SMALL_X, x))
    near = WHOLE_INTEGRAL - _by_powers(np.where(small, x, 0.0))
    return np.asarray(np.where(small, near, far))


def _by_exponentials(x: FloatArray) -> FloatArray:
    """Σ e⁻ⁿˣ (x³/n + 3x²/n² + 6x/n³ + 6/n⁴), n from 1; for x of 1 or more 40 terms leave less than 1e-17."""
    x = np.minimum(x, _NOTHING_ABOVE)
    decay = np.exp(-x)
    power = decay.copy()
    total = np.zeros_like(x)
    least = max(SMALL_X, float(np.fmin.reduce(x, axis=None, initial=_NOTHING_ABOVE)))
    for n in range(1, math.ceil(40.0 / least) + 1):
        total += power * (((x / n + 3.0 / n**2) * x + 6.0 / n**3) * x + 6.0 / n**4)
        power *= decay
    return total


def _by_powers(x: FloatArray) -> FloatArray:
    """x³/3 - x⁴/8 + Σ B2k x²ᵏ⁺³ / ((2k)! (2k + 3)): the integral from 0 to x, for x below 1."""
    square = x * x
    total = np.zeros_like(x)
    for k in range(len(_BERNOULLI), 0, -1):
        total = (total + _BERNOULLI[k - 1] / (math.factorial(2 * k) * (2 * k + 3))) * square
    return np.asarray(x**3 * (1.0 / 3.0 - x / 8.0 + total))


def _above_zero(values: ArrayLike) -> FloatArray:
    numbers = np.asarray(values, dtype=np.float64)
    return np.where(numbers > 0.0, numbers, np.nan)
