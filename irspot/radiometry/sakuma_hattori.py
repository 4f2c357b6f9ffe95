"""The Sakuma-Hattori interpolation equation in its Planck form: three numbers stand for a camera's whole band.

L(T) = C / (exp(c2 / (A T + B)) - 1); F. Sakuma and S. Hattori (1982), recommended for uncertainty budgets by the
working group on radiation thermometry of the CIPM's consultative committee (CCT-WG5, 2008). Temperatures are in kelvin
here, A in µm, B in µm K, and C has the unit of the radiance.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from irspot.constants import C2_UM_K

FloatArray = NDArray[np.float64]


def radiance(temperature_kelvin: ArrayLike, a_um: float, b_um_k: float, c: float) -> FloatArray:
    """Radiance by the Sakuma-Hattori equation.

    Parameters
    ----------
    temperature_kelvin : array_like
        [K]
    a_um, b_um_k, c : float
        A, B and C of the equation.

    Returns
    -------
    ndarray
        In the unit of C; NaN where A T + B is not above zero.

    Examples
    --------
    >>> float(radiance(373.15, 9.3333414, 179.17299, 6819.4971).round(2))
    136.78
    """
    return np.asarray(c / _grown(_effective(temperature_kelvin, a_um, b_um_k)))


def slope(temperature_kelvin: ArrayLike, a_um: float, b_um_k: float, c: float) -> FloatArray:
    """Change of the radiance with temperature, dL/dT = C A (z² / c2) eᶻ / (eᶻ - 1)², z = c2 / (A T + B).

    Parameters
    ----------
    temperature_kelvin : array_like
        [K]
    a_um, b_um_k, c : float
        A, B and C of the equation.

    Returns
    -------
    ndarray
        In the unit of C per kelvin.
    """
    effective = _effective(temperature_kelvin, a_um, b_um_k)
    z = C2_UM_K / effective
    # e^z / (e^z - 1)² = 1 / ((e^z - 1)(1 - e^-z)), which does not overflow before the result vanishes.
    return np.asarray(c * a_um * z / effective / (_grown(effective) * -np.expm1(-z)))


def temperature_kelvin(radiance: ArrayLike, a_um: float, b_um_k: float, c: float) -> FloatArray:
    """Temperature of a radiance, T = (c2 / ln(C / L + 1) - B) / A.

    Parameters
    ----------
    radiance : array_like
        In the unit of C.
    a_um, b_um_k, c : float
        A, B and C of the equation.

    Returns
    -------
    ndarray
        [K]; NaN where the radiance is not above zero.

    Examples
    --------
    >>> fit = (9.3333414, 179.17299, 6819.4971)
    >>> float(temperature_kelvin(radiance(350.0, *fit), *fit).round(9))
    350.0
    """
    positive = np.asarray(radiance, dtype=np.float64)
    positive = np.where(positive > 0.0, positive, np.nan)
    return np.asarray((C2_UM_K / np.log1p(c / positive) - b_um_k) / a_um)


def _effective(temperature_kelvin: ArrayLike, a_um: float, b_um_k: float) -> FloatArray:
    """A T + B, NaN where it is not above zero."""
    effective = a_um * np.asarray(temperature_kelvin, dtype=np.float64) + b_um_k
    return np.where(effective > 0.0, effective, np.nan)


def _grown(effective: FloatArray) -> FloatArray:
    """exp(c2 / (A T + B)) - 1."""
    with np.errstate(over="ignore"):
        return np.asarray(np.expm1(C2_UM_K / effective))
