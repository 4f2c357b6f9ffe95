"""The end value of a soak, how long it takes, and how sure that is, from what its samples leave possible."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.constants import COVERAGE_FACTOR
from irspot.series import Series
from irspot.soak.model import lagged, lagged_twice
from irspot.soak.posterior import Posterior, Samples, posterior

FloatArray = NDArray[np.floating[Any]]

LEAST_SAMPLES: Final = 8
LEAST_S: Final = 120.0
MOST_SAMPLES: Final = 120
"""More are averaged in groups of equal size."""
COVERED: Final = 0.9545
"""Share of a normal distribution within k = 2."""
FAR: Final = 1.5
"""Time constants that samples have to span for an end value that they alone decide (our choice)."""
NEAR_K: Final = 1.0
"""How near its end value a place counts as there."""
_DRAWS: Final = 400
_HORIZON_S: Final = 6.0 * 3600.0


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """How a soak goes on.

    Parameters
    ----------
    from_s, to_s : float
        First and last sample used, on the run's clock.
    end_degc, U_end_k : float
        End value with the air as it is last, and its expanded uncertainty without the error all samples share.
    tau_s, U_tau_s : float
        The longest time constant.
    fast_tau_s : float
        The shorter one where two are likelier than one; else NaN.
    two_share : float
        Evidence for two time constants against one.
    within_s, U_within_s : float
        When the place is, or was, within 1 K of its end value, on the run's clock.
    left : tuple of ndarray
        Times on the run's clock, and what is still to come at each by the mean of all fits [K].
    """

    from_s: float
    to_s: float
    end_degc: float
    U_end_k: float
    tau_s: float
    U_tau_s: float
    fast_tau_s: float
    two_share: float
    within_s: float
    U_within_s: float
    left: tuple[FloatArray, FloatArray]

    @property
    def far(self) -> bool:
        """Whether the samples span so little of the time constant that belief decides as much as they do."""
        return self.to_s - self.from_s < FAR * self.tau_s

    def left_k(self, time_s: float) -> float:
        """What is still to come at a time on the run's clock."""
        return float(np.interp(time_s, *self.left))


def fit_soak(series: Series, ambient: Series | None = None, from_s: float = -np.inf) -> Fit | None:
    """Fit one and two time constants to a series, averaged by their evidence.

    Parameters
    ----------
    series : Series
        Of a zone or bead [°C].
    ambient : Series, optional
        The air; held at its first and last value outside its times. None: steady air.
    from_s : float
        Samples before are left out.

    Returns
    -------
    Fit or None
        None where samples are too few.
    """
    known = series.known
    keep = known.time_s >= from_s
    time_s, value, u = known.time_s[keep], known.value[keep], known.u[keep]
    if time_s.size < LEAST_SAMPLES or time_s[-1] - time_s[0] < LEAST_S:
        return None
    samples = _samples(time_s, value, _sound_u(value, u), ambient)
    found = posterior(samples)
    if (together := errs_together(_left_over(samples, found))) > 1.0:
        found = posterior(replace(samples, together=together))
    last_s = float(samples.time_s[-1])
    return _described(found, float(time_s[-1]) - last_s, last_s)


def errs_together(left: FloatArray) -> float:
    """Give how many successive errors count as one: ``(1 + r) / (1 - r)`` with r the correlation of neighbours.

    Of a first-order autoregressive error (von Storch and Zwiers, Statistical Analysis in Climate Research, 6.6); 1
    where r is within what chance gives.
    """
    square = float(left @ left)
    if square <= 0.0:
        return 1.0
    r = float(left[1:] @ left[:-1]) / square
    return (1.0 + min(r, 0.9)) / (1.0 - min(r, 0.9)) if r > 2.0 / np.sqrt(left.size) else 1.0


def air_now(ambient: Series, time_s: float, over_s: float = 300.0) -> float:
    """Give the air's temperature at a time by a straight line through what was recorded shortly before it."""
    known = ambient.known
    near = (known.time_s <= time_s + 1.0) & (known.time_s >= time_s - over_s)
    if near.sum() < 3:
        return float(np.interp(time_s, known.time_s, known.value))
    return float(np.polyval(np.polyfit(known.time_s[near] - time_s, known.value[near], 1), 0.0))


def _sound_u(value: FloatArray, u: FloatArray) -> FloatArray:
    """Give every sample an uncertainty: the stated one, or what neighbours differ by; never one below any meaning."""
    shown = float(np.median(np.abs(np.diff(value)))) / 0.95
    least = max(1e-3, 1e-5 * float(np.ptp(value)))
    return np.maximum(np.where(np.isfinite(u) & (u > 0.0), u, shown), least)


def _samples(time_s: FloatArray, value: FloatArray, u: FloatArray, ambient: Series | None) -> Samples:
    """Average in groups, and subtract from the air what it is last."""
    group = int(np.ceil(time_s.size / MOST_SAMPLES))
    from_ = time_s.size % group

    def mean(array: FloatArray) -> FloatArray:
        return np.asarray(array[from_:].reshape(-1, group).mean(axis=1))

    air = np.zeros(time_s.size)
    if ambient is not None and ambient.known.time_s.size:
        known = ambient.known
        air = np.interp(time_s, known.time_s, known.value) - air_now(ambient, float(time_s[-1]))
    u_mean = np.sqrt((u[from_:].reshape(-1, group) ** 2).sum(axis=1)) / group
    at_s = mean(time_s)
    return Samples(at_s - at_s[0], mean(value), u_mean, mean(air))


def _left_over(samples: Samples, found: Posterior) -> FloatArray:
    """Give what the likeliest fit leaves of the samples, in their uncertainties."""
    taus, (end, b1, b2) = found.taus_s[0], found.mean[0]
    behind = lagged(samples.time_s, samples.air, taus)
    air = behind[:, 0] if taus[0] == taus[1] else lagged_twice(behind[:, 0], behind[:, 1], taus[0], taus[1])
    decays = np.exp(-samples.time_s[:, None] / taus)
    return np.asarray((samples.value - end - air - b1 * decays[:, 0] - b2 * decays[:, 1]) / samples.u)


def _described(found: Posterior, start_s: float, last_s: float) -> Fit:
    end, U_end = _middle_and_half(found)
    times = np.concatenate([np.linspace(0.0, last_s, 200), last_s + np.geomspace(1.0, _HORIZON_S, 300)])
    drawn = _drawn(found)
    left = _left(drawn[1], drawn[0], times)
    last_far = np.where(np.abs(left) > NEAR_K, times, 0.0).max(axis=1)
    low, within, high = np.quantile(last_far, [0.025, 0.5, 0.975])
    order = found.taus_s[:, 1] @ found.weight
    spread = float(np.sqrt(found.weight @ (found.taus_s[:, 1] - order) ** 2))
    fast = float(found.taus_s[:, 0] @ found.weight) if found.two_share > 0.5 else float("nan")
    return Fit(
        from_s=start_s,
        to_s=start_s + last_s,
        end_degc=end,
        U_end_k=U_end,
        tau_s=float(order),
        U_tau_s=COVERAGE_FACTOR * spread,
        fast_tau_s=fast,
        two_share=found.two_share,
        within_s=start_s + float(within),
        U_within_s=float(high - low) / 2.0,
        left=(start_s + times, left.mean(axis=0)),
    )


def _left(weights: FloatArray, taus_s: FloatArray, times: FloatArray) -> FloatArray:
    out = np.zeros((len(taus_s), times.size))
    for column in range(2):
        out -= weights[:, column, None] * np.exp(-times[None, :] / taus_s[:, column, None])
    return out


def _drawn(found: Posterior) -> tuple[FloatArray, FloatArray]:
    """Draw time constants and what they weigh; evenly over the evidence, the same at every call."""
    rng = np.random.default_rng(1)
    at = (np.arange(_DRAWS) + 0.5) / _DRAWS
    index = np.minimum(np.searchsorted(np.cumsum(found.weight), at), found.weight.size - 1)
    cov = found.cov[index][:, 1:, 1:] + 1e-12 * np.eye(2)
    steps = np.einsum("kij,kj->ki", np.linalg.cholesky(cov), rng.standard_normal((_DRAWS, 2)))
    return found.taus_s[index], found.mean[index, 1:] + steps


def _middle_and_half(found: Posterior) -> tuple[float, float]:
    """Give the mean of the end value, and the half width about it that holds as much as k = 2 of a normal one."""
    from scipy.special import ndtr

    # A Student distribution of so many degrees of freedom is as good as a normal one of its variance.
    wider = found.freedom / (found.freedom - 2.0)
    mean, spread = found.mean[:, 0], np.sqrt(found.cov[:, 0, 0] * wider)
    middle = float(found.weight @ mean)
    low, high = 0.0, 20.0 * float(np.sqrt(found.weight @ (spread**2 + (mean - middle) ** 2)))
    for _ in range(30):
        half = 0.5 * (low + high)
        above, below = ((middle + sign * half - mean) / spread for sign in (1.0, -1.0))
        inside = found.weight @ (ndtr(above) - ndtr(below))
        low, high = (low, half) if inside > COVERED else (half, high)
    return middle, high
