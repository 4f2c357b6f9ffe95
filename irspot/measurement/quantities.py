"""What a zone's maximum is a temperature of: junctions behind it, and limits of the same quantity."""

from __future__ import annotations

import math
from dataclasses import replace

from irspot.board import Limit, Zone
from irspot.results import NAN, Reading, flagged
from irspot.uncertain import expanded


def junction_degc(top_degc: float, psi_jt_k_per_w: float, power_w: float) -> float:
    """Junction temperature behind the middle of a package's top.

    ``T_J = T_T + psi_JT * P`` (JEDEC JESD51-12, thermal characterisation parameter junction to top). psi_JT is not a
    resistance: it holds for the board and air flow it was found on.

    Examples
    --------
    >>> round(junction_degc(96.0, 0.8, 3.1), 2)
    98.48
    """
    return top_degc + psi_jt_k_per_w * power_w


def u_over_top_k(psi_jt_k_per_w: float, u_psi_jt_k_per_w: float, power_w: float, u_power_w: float) -> float:
    """Standard uncertainty of ``psi_JT * P``, to first order (JCGM 100:2008, equation 10).

    Examples
    --------
    >>> round(u_over_top_k(0.8, 0.16, 3.0, 0.3), 4)
    0.5367
    """
    return math.hypot(power_w * u_psi_jt_k_per_w, psi_jt_k_per_w * u_power_w)


def with_quantities(reading: Reading, zone: Zone) -> Reading:
    """Give a reading its junction and what is left to its limit; a reading to be retaken has neither.

    Parameters
    ----------
    reading : Reading
        Complete but for these.
    zone : Zone
        Of it.

    Returns
    -------
    Reading
        A limit of another quantity than is known is shown and flagged, never compared.
    """
    if reading.verdict != "retake":
        reading = _with_junction(reading, zone)
    return reading if zone.limit is None else _with_limit(reading, zone, zone.limit)


def _with_junction(reading: Reading, zone: Zone) -> Reading:
    part = zone.junction
    if part is None or math.isnan(reading.max_degc):
        return reading
    further_u_k = u_over_top_k(part.psi_jt_k_per_w, part.u_psi_jt_k_per_w, part.power_w, part.u_power_w)
    return replace(
        flagged(reading, ["junction-u-assumed"] * part.u_assumed),
        junction_degc=junction_degc(reading.max_degc, part.psi_jt_k_per_w, part.power_w),
        U_junction_k=math.hypot(reading.U_max_k, expanded(further_u_k)),
    )


def _with_limit(reading: Reading, zone: Zone, limit: Limit) -> Reading:
    reading = replace(reading, limit_degc=limit.limit_degc, limit_kind=limit.kind)
    if limit.kind not in zone.quantities:
        return flagged(reading, ["limit-not-comparable"])
    value, U_k = _known(reading, limit)
    return replace(reading, margin_k=limit.limit_degc - value, U_margin_k=U_k)


def _known(reading: Reading, limit: Limit) -> tuple[float, float]:
    if reading.verdict == "retake":
        return NAN, NAN
    if limit.kind == "junction":
        return reading.junction_degc, reading.U_junction_k
    return reading.max_degc, reading.U_max_k
