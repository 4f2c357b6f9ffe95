"""Uncertainty budgets: independent first-order terms, combined and expanded (JCGM 100:2008)."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal
from typing import Literal

from irspot.constants import COVERAGE_FACTOR, RECTANGULAR

ActsOn = Literal["radiance", "emissivity", "reflected", "transmission", "window"]


@dataclass(frozen=True, slots=True)
class Term:
    """One input of a budget.

    Parameters
    ----------
    name : str
        What is uncertain: ``camera limit``, ``emissivity``, ...
    u_input : float
        Its standard uncertainty, in its own unit.
    sensitivity : float
        Change of the result (K) per unit of the input.
    shared : str
        What has the same error: ``session`` (readings of one camera in one session), ``frame``, or empty.
    rectangular : bool
        Whether the input is a bound rather than a normal spread.
    acts_on : {"radiance", "emissivity", "reflected", "transmission", "window"}
        The input of the measurement model that is uncertain; everything the camera and the frame add acts on the
        radiance temperature.
    """

    name: str
    u_input: float
    sensitivity: float
    shared: str = ""
    rectangular: bool = False
    acts_on: ActsOn = "radiance"

    @property
    def u_k(self) -> float:
        """Standard uncertainty it contributes, in K."""
        return abs(self.sensitivity) * self.u_input


def from_bound(bound: float) -> float:
    """Standard uncertainty of a rectangular bound ±a: a / √3 (JCGM 100:2008, 4.3.7).

    Examples
    --------
    >>> round(from_bound(2.0), 4)
    1.1547
    """
    return bound / RECTANGULAR


def combined(terms: Iterable[Term]) -> float:
    """Combine independent terms: u_c = √Σ (c_i u_i)² (JCGM 100:2008, equation 10)."""
    return math.sqrt(sum(term.u_k**2 for term in terms))


def expanded(u: float) -> float:
    """Expand a standard uncertainty by k = 2."""
    return COVERAGE_FACTOR * u


def dominant(terms: Iterable[Term]) -> str:
    """Name the term that contributes most; empty for an empty or NaN budget."""
    known = [term for term in terms if term.u_k > 0.0]
    return max(known, key=lambda term: term.u_k).name if known else ""


def decimals_of(uncertainty: float, digits: int = 2) -> int:
    """Give the decimals at which an uncertainty shows `digits` significant digits.

    Examples
    --------
    >>> decimals_of(2.34), decimals_of(0.0987), decimals_of(12.3), decimals_of(0.995)
    (1, 3, 0, 1)
    """
    if not math.isfinite(uncertainty) or uncertainty <= 0.0:
        return 1
    decimals = digits - 1 - math.floor(math.log10(uncertainty))
    # 0.996 rounds to 1.0, which needs one decimal fewer; so does 0.995, as `rounded` rounds.
    if float(rounded(uncertainty, decimals)) >= 10.0 ** (digits - decimals):
        decimals -= 1
    return max(0, decimals)


def rounded(value: float, decimals: int) -> str:
    """Round half up, as people do on paper, without ``-0.0``.

    Examples
    --------
    >>> rounded(71.25, 1), rounded(-0.04, 1)
    ('71.3', '0.0')
    """
    quantum = Decimal(1).scaleb(-decimals)
    number = Decimal(repr(float(value))).quantize(quantum, rounding=ROUND_HALF_UP)
    return str(abs(number) if number == 0 else number)


def rounded_down(value: float, decimals: int) -> str:
    """Round towards minus infinity: what a value is at least.

    Examples
    --------
    >>> rounded_down(71.89, 1), rounded_down(-0.04, 1)
    ('71.8', '-0.1')
    """
    quantum = Decimal(1).scaleb(-decimals)
    number = Decimal(repr(float(value))).quantize(quantum, rounding=ROUND_FLOOR)
    return str(abs(number) if number == 0 else number)


def with_uncertainty(value: float, uncertainty: float, unit: str = "") -> str:
    """Write ``value ± uncertainty`` by the project's rule: two significant digits, value to the same place.

    Examples
    --------
    >>> with_uncertainty(71.832, 1.94, "°C")
    '71.8 ± 1.9 °C'
    >>> with_uncertainty(float("nan"), 1.0)
    ''
    """
    if not math.isfinite(value):
        return ""
    decimals = decimals_of(uncertainty)
    tail = f" {unit}" if unit else ""
    if not math.isfinite(uncertainty):
        return rounded(value, 1) + tail
    return f"{rounded(value, decimals)} ± {rounded(uncertainty, decimals)}{tail}"
