"""Coverage where an uncertainty comes from few repeats: degrees of freedom, factors of the t-distribution."""

from __future__ import annotations

import math
from collections.abc import Sequence


def t_factor(freedom: float, coverage: float = 0.95) -> float:
    """Factor that expands a standard uncertainty of so many degrees of freedom (JCGM 100:2008, G.3, table G.2).

    Parameters
    ----------
    freedom : float
        Degrees of freedom, above 0; infinite for a normal distribution.
    coverage : float
        Between 0 and 1, two-sided.

    Raises
    ------
    ValueError
        For numbers that are no freedom or no coverage.

    Examples
    --------
    >>> round(t_factor(2), 2), round(t_factor(16, 0.99), 2), round(t_factor(math.inf), 2)
    (4.3, 2.92, 1.96)
    """
    if not freedom > 0.0 or not 0.0 < coverage < 1.0:
        raise ValueError(f"no degrees of freedom and coverage: {freedom}, {coverage}")
    from scipy.special import ndtri, stdtrit

    quantile = (1.0 + coverage) / 2.0
    return float(ndtri(quantile) if math.isinf(freedom) else stdtrit(freedom, quantile))


def effective_freedom(u: Sequence[float], freedom: Sequence[float]) -> float:
    """Effective degrees of freedom of a combined uncertainty: u_c⁴ / Σ (u_i⁴ / ν_i) (JCGM 100:2008, equation G.2b).

    Parameters
    ----------
    u : sequence of float
        Contributions in the result's unit, c_i u_i.
    freedom : sequence of float
        Of each; infinite where it is known from elsewhere.

    Returns
    -------
    float
        Infinite if nothing was repeated.

    Examples
    --------
    >>> round(effective_freedom([5.8, 3.9, 6.7], [24, 5, 8]), 1)
    25.4
    """
    spread = sum(each**4 / of_each for each, of_each in zip(u, freedom, strict=True))
    return math.inf if spread == 0.0 else sum(each**2 for each in u) ** 2 / spread
