"""Thermocouples: voltages to temperatures by the ITS-90 reference functions, tolerances of their classes."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.floating[Any]]

_STEP_K: Final = 0.25
"""Of the table that reference functions are inverted through: their curvature makes an error of under 1e-5 K of it."""

_RULES: Final[dict[tuple[str, int], tuple[float, float, float, float]]] = {
    ("K", 1): (1.5, 0.004, -40.0, 1000.0),
    ("K", 2): (2.5, 0.0075, -40.0, 1200.0),
    ("K", 3): (2.5, 0.015, -200.0, 40.0),
    ("N", 1): (1.5, 0.004, -40.0, 1000.0),
    ("N", 2): (2.5, 0.0075, -40.0, 1200.0),
    ("N", 3): (2.5, 0.015, -200.0, 40.0),
    ("T", 1): (0.5, 0.004, -40.0, 350.0),
    ("T", 2): (1.0, 0.0075, -40.0, 350.0),
    ("T", 3): (1.0, 0.015, -200.0, 40.0),
    ("J", 1): (1.5, 0.004, -40.0, 750.0),
    ("J", 2): (2.5, 0.0075, -40.0, 750.0),
    ("E", 1): (1.5, 0.004, -40.0, 800.0),
    ("E", 2): (2.5, 0.0075, -40.0, 900.0),
    ("E", 3): (2.5, 0.015, -200.0, 40.0),
    ("R", 2): (1.5, 0.0025, 0.0, 1600.0),
    ("S", 2): (1.5, 0.0025, 0.0, 1600.0),
    ("B", 3): (4.0, 0.005, 600.0, 1700.0),
}
"""Type, class → the larger of a fixed bound and one of |t|, and the range it holds in.

IEC 60584-1:2013, read in public reproductions for K, T and J; N, E, R, S and B are from memory. R 1 and S 1 have
another rule.
"""


def bead_degc(kind: str, emf_mv: ArrayLike, cold_junction_degc: ArrayLike) -> FloatArray:
    """Temperature of a thermocouple's bead from the voltage at its cold junction.

    The voltage of the cold junction is added, not its temperature: ``T = E^-1(emf + E(T_cold))`` with E the reference
    function of ITS-90 (NIST Monograph 175, IEC 60584-1).

    Parameters
    ----------
    kind : str
        ``K``, ``T``, ``J``, ``N``, ``E``, ``S``, ``R`` or ``B``.
    emf_mv : array_like
    cold_junction_degc : array_like
        Broadcast against the voltage.

    Returns
    -------
    ndarray
        NaN where the reference function has no inverse (type B below about 250 °C), or the cold junction is beyond it.

    Raises
    ------
    KeyError
        For a type that is not known.

    Examples
    --------
    >>> round(float(bead_degc("K", 3.095988, 25.0)), 3)
    100.0
    """
    degc, emf = _table(kind)
    cold = np.interp(np.asarray(cold_junction_degc, float), degc, emf, left=np.nan, right=np.nan)
    first = _first_rising(kind)
    total = np.asarray(emf_mv, float) + cold
    return np.asarray(np.interp(total, emf[first:], degc[first:], left=np.nan, right=np.nan))


@lru_cache(maxsize=8)
def _table(kind: str) -> tuple[FloatArray, FloatArray]:
    import thermocouple_its90

    function = thermocouple_its90.get(kind)
    low, high = function.range
    degc = np.linspace(low, high, round((high - low) / _STEP_K) + 1)
    return degc, np.array([function.emf(float(t)) for t in degc])


@lru_cache(maxsize=8)
def _first_rising(kind: str) -> int:
    """Index from which a voltage stands for one temperature only."""
    import thermocouple_its90

    degc, emf = _table(kind)
    lowest = thermocouple_its90.get(kind).invertible_emf_range[0]
    return int(np.argmax((emf >= lowest) & (degc >= degc[int(np.argmin(emf))])))


def tolerance_k(kind: str, tolerance_class: int | None, degc: float) -> float:
    """Bound that a thermocouple of a tolerance class keeps to (IEC 60584-1).

    Parameters
    ----------
    kind : str
    tolerance_class : int or None
        1, 2 or 3; None for one that is not stated: the widest that the type has.
    degc : float

    Returns
    -------
    float
        NaN where the class does not cover the temperature.

    Examples
    --------
    >>> tolerance_k("K", 1, 90.0), tolerance_k("K", 2, 90.0), tolerance_k("T", None, 90.0)
    (1.5, 2.5, 1.0)
    """
    if tolerance_class is None:
        bounds = [tolerance_k(kind, each, degc) for each in (1, 2, 3)]
        return max((bound for bound in bounds if math.isfinite(bound)), default=math.nan)
    if (kind, tolerance_class) in (("R", 1), ("S", 1)):
        return max(1.0, 1.0 + 0.003 * (degc - 1100.0)) if 0.0 <= degc <= 1600.0 else math.nan
    rule = _RULES.get((kind, tolerance_class))
    if rule is None:
        return math.nan
    fixed, share, low, high = rule
    return max(fixed, share * abs(degc)) if low <= degc <= high else math.nan
