"""Values with their errors source by source, so that what two of them share cancels in their difference."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from irspot.constants import COVERAGE_FACTOR

Source = tuple[str, ...]
"""What has one error: the camera in a session, a surface's emissivity, one frame's noise."""

COVERED: Final = math.erf(COVERAGE_FACTOR / math.sqrt(2.0))
"""Share of a normal distribution within ± k = 2 (0.9545)."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and the standard uncertainties of independent sources in it.

    Parameters
    ----------
    value : float
    parts : mapping of Source to float
        Signed: how far the value moves with one standard uncertainty of the source. [K]
    freedom : mapping of Source to float
        Degrees of freedom of sources that were estimated from scatter; others are known.
    """

    value: float
    parts: Mapping[Source, float] = field(default_factory=dict)
    freedom: Mapping[Source, float] = field(default_factory=dict)

    @property
    def u_k(self) -> float:
        """Combined standard uncertainty (JCGM 100:2008, equation 10)."""
        return math.sqrt(math.fsum(part * part for part in self.parts.values()))

    @property
    def U_k(self) -> float:
        """Expanded uncertainty, 95.45 %: twice `u_k` but for few degrees of freedom (JCGM 100:2008, annex G)."""
        return coverage_factor(self._effective_freedom()) * self.u_k

    def with_part(self, source: Source, u_k: float, freedom: float = math.inf) -> Estimate:
        """Add a further source, or more of one that is there."""
        parts = {**self.parts, source: self.parts.get(source, 0.0) + u_k}
        known = dict(self.freedom) if math.isinf(freedom) else {**self.freedom, source: freedom}
        return Estimate(self.value, parts, known)

    def _effective_freedom(self) -> float:
        """Welch and Satterthwaite: u⁴ / Σ u_i⁴ / ν_i (JCGM 100:2008, G.2b); sources of one name have one pooled ν."""
        pools: dict[tuple[str, float], float] = {}
        for source, nu in self.freedom.items():
            pools[source[0], nu] = pools.get((source[0], nu), 0.0) + self.parts.get(source, 0.0) ** 2
        below = math.fsum(variance**2 / nu for (_, nu), variance in pools.items())
        return self.u_k**4 / below if below > 0.0 else math.inf


def combination(terms: Sequence[tuple[float, Estimate]]) -> Estimate:
    """Add estimates with weights; errors of one source add before they are squared (JCGM 100:2008, 5.2).

    Parameters
    ----------
    terms : sequence of (float, Estimate)

    Examples
    --------
    >>> offset = ("camera", "monday")
    >>> warm, hot = Estimate(60.0, {offset: 1.0, ("noise", "1"): 0.1}), Estimate(63.0, {offset: 1.0})
    >>> apart = combination([(1.0, hot), (-1.0, warm)])
    >>> apart.value, round(apart.u_k, 3)
    (3.0, 0.1)
    """
    parts: dict[Source, float] = {}
    freedom: dict[Source, float] = {}
    for weight, estimate in terms:
        for source, part in estimate.parts.items():
            parts[source] = parts.get(source, 0.0) + weight * part
        freedom |= estimate.freedom
    return Estimate(math.fsum(weight * estimate.value for weight, estimate in terms), parts, freedom)


def difference(a: Estimate, b: Estimate) -> Estimate:
    """Give a less b."""
    return combination([(1.0, a), (-1.0, b)])


def mean(estimates: Sequence[Estimate]) -> Estimate:
    """Give the plain mean."""
    return combination([(1.0 / len(estimates), each) for each in estimates])


def coverage_factor(freedom: float) -> float:
    """Student's t for 95.45 %: 2 for a known standard uncertainty (JCGM 100:2008, table G.2).

    Examples
    --------
    >>> coverage_factor(math.inf), round(coverage_factor(5.0), 2)
    (2.0, 2.65)
    """
    if math.isinf(freedom):
        return COVERAGE_FACTOR
    from scipy.special import stdtrit

    return float(stdtrit(freedom, 0.5 * (1.0 + COVERED)))


@dataclass(frozen=True, slots=True)
class WeightedMean:
    """A weighted mean of independent values.

    Parameters
    ----------
    value, u : float
    birge : float
        √(χ²/ν): how far the values scatter beyond their uncertainties; NaN for a single one.
    """

    value: float
    u: float
    birge: float

    @property
    def u_inflated(self) -> float:
        """The uncertainty, made larger where the values scatter beyond theirs."""
        return self.u * max(1.0, self.birge) if math.isfinite(self.birge) else self.u


def weighted_mean(values: Sequence[float], uncertainties: Sequence[float]) -> WeightedMean:
    """Weight values by 1/u² (M. G. Cox, Metrologia 39 (2002) 589, procedure A; Birge ratio: R. T. Birge, 1932).

    Parameters
    ----------
    values, uncertainties : sequence of float
        Uncertainties above 0.

    Examples
    --------
    >>> mean = weighted_mean([84.6, 85.3], [0.45, 0.6])
    >>> round(mean.value, 3), round(mean.u, 3)
    (84.852, 0.36)
    """
    weights = [u**-2.0 for u in uncertainties]
    total = math.fsum(weights)
    value = math.fsum(w * x for w, x in zip(weights, values, strict=True)) / total
    chi2 = math.fsum(w * (x - value) ** 2 for w, x in zip(weights, values, strict=True))
    birge = math.sqrt(chi2 / (len(values) - 1)) if len(values) > 1 else math.nan
    return WeightedMean(value, total**-0.5, birge)
