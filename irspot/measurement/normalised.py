"""Maxima carried to a reference ambient temperature, so that runs in rooms of different warmth can be compared."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from irspot.results import Reading
from irspot.uncertain import expanded, from_bound

FEEDBACK_PER_K: Final = 0.005
"""Bound of how much a rise changes with each kelvin of ambient: losses and the resistance of copper grow, convection
eases (0.25 to 0.5 % a kelvin by our own calculation; no source)."""


def nonlinearity_k(rise_k: float, ambient_degc: float, reference_degc: float) -> float:
    """Bound of what carrying a rise to another ambient leaves out: ``0.005 / K * rise * |T_reference - T_ambient|``.

    Examples
    --------
    >>> round(nonlinearity_k(60.0, 26.0, 21.0), 3)
    1.5
    """
    return FEEDBACK_PER_K * abs(rise_k) * abs(reference_degc - ambient_degc)


def normalised(reading: Reading, reference_degc: float | None) -> Reading:
    """Give a reading its value at the reference ambient: rise plus reference, the raw value kept beside it.

    Parameters
    ----------
    reading : Reading
    reference_degc : float or None
        None leaves it as it is.

    Returns
    -------
    Reading
        Without where there is no rise, or the reading is to be retaken.
    """
    if reference_degc is None or not math.isfinite(reading.rise_k) or reading.verdict == "retake":
        return reading
    bound_k = nonlinearity_k(reading.rise_k, reading.ambient_degc, reference_degc)
    return replace(
        reading,
        normalised_degc=reference_degc + reading.rise_k,
        U_normalised_k=math.hypot(reading.U_rise_k, expanded(from_bound(bound_k))),
    )
