"""What the samples of a soak leave possible: time constants on a grid that grows finer where the evidence is.

For given time constants the response is linear in what else is unknown:

    T(t) = A(t) + E + b1 exp(-t / tau1) + b2 exp(-t / tau2)

with A the air's temperature behind the lags, E the end value's rise over it and b whatever the start was. With normal
priors these are integrated out exactly (a linear model with a normal-inverse-gamma prior; Gelman et al., Bayesian Data
Analysis, chapter 14), so that a time constant nobody can know widens the end value instead of being chosen.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.soak.model import lagged

FloatArray = NDArray[np.floating[Any]]
IntArray = NDArray[np.intp]

SHORTEST_TAU_S: Final = 45.0
LONGEST_TAU_S: Final = 90.0 * 60.0
"""Time constants sought (common practice: parts and boards in air take from a minute to an hour or so)."""
LEAST_RATIO: Final = 1.2
"""Two time constants nearer than this are one."""
BELIEF: Final = 6.0
"""Samples' worth of belief in the stated scatter of the samples against the scatter they show."""
WIDE: Final = 0.75
"""Spread of the prior of each exponential, in ranges of the samples; ten times that for the end value."""
USUAL_S: Final = (60.0, 25.0 * 60.0)
BEYOND: Final = 0.1
UNUSUAL: Final = 5.0
"""Time constants that are as likely as one another beforehand; how quickly others become less so (spread of the
logarithm), and down to which odds (their logarithm). Our choice: boards take 3 to 25 min. Samples that show another one
overrule it; samples that do not tell 25 min from 60 leave too narrow an end value for a board of 60."""
UNKNOWN_SHARE: Final = 0.01
UNKNOWN_LAG: Final = 0.15
"""What no two time constants tell of a board: see `_beyond_the_model`."""
_FIRST_CELLS: Final = 16
_MOST_CELLS: Final = 400
_FINEST: Final = 12
_LOST: Final = 1e-4
"""Share of the evidence that may be left out at each refinement."""
_RESOLVED: Final = 0.8
"""Logarithm of odds by which neighbours on the grid may differ, on average, where the evidence is."""


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Grid points that the samples leave possible, the likeliest first.

    Parameters
    ----------
    taus_s : ndarray, shape (k, 2)
        Time constants, the shorter first; equal where there is one only.
    weight : ndarray, shape (k,)
        Adds up to 1.
    mean : ndarray, shape (k, 3)
        Of end value, b1, b2 [°C, K, K] at time 0 of the fit; b2 is 0 where there is one time constant.
    cov : ndarray, shape (k, 3, 3)
        Their covariance.
    freedom : float
        Degrees of freedom of the Student distribution of each.
    """

    taus_s: FloatArray
    weight: FloatArray
    mean: FloatArray
    cov: FloatArray
    freedom: float

    @property
    def two_share(self) -> float:
        """Evidence for two time constants against one, 0 to 1."""
        return float(self.weight[self.taus_s[:, 0] != self.taus_s[:, 1]].sum())


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """What is fitted.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        From 0 [s], strictly rising.
    value, u : ndarray, shape (n,)
        Samples and their standard uncertainty [°C, K].
    air : ndarray, shape (n,)
        Air less its last value, so that end values are those with the air as it is last [K].
    together : float
        How many samples err alike (1: each by itself); they count as one.
    """

    time_s: FloatArray
    value: FloatArray
    u: FloatArray
    air: FloatArray
    together: float = 1.0

    @property
    def span_k(self) -> float:
        """Range of the values, at least their uncertainty."""
        return max(float(np.ptp(self.value)), float(np.median(self.u)))


def posterior(samples: Samples) -> Posterior:
    """Weigh one and two time constants, each on its grid, against samples.

    Returns
    -------
    Posterior
    """
    one, two = _refined(samples, 1), _refined(samples, 2)
    odds = np.concatenate([one.log_mass, two.log_mass])
    weight = np.exp(odds - odds.max())
    weight /= weight.sum()
    order = np.argsort(-weight, kind="stable")
    order = order[: int(np.searchsorted(np.cumsum(weight[order]), 1.0 - _LOST)) + 1]
    parts = [np.concatenate([a, b])[order] for a, b in zip(one.arrays, two.arrays, strict=True)]
    return Posterior(parts[0], weight[order] / weight[order].sum(), parts[1], parts[2], one.freedom)


@dataclass(frozen=True, slots=True, eq=False)
class _Cells:
    """Grid points with the logarithm of their evidence, times their share of the prior."""

    taus_s: FloatArray
    log_mass: FloatArray
    mean: FloatArray
    cov: FloatArray
    freedom: float

    @property
    def arrays(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        return self.taus_s, self.mean, self.cov


def _refined(samples: Samples, count: int) -> _Cells:
    """Halve the cells of the grid until neighbours are alike, keeping those that the evidence speaks for.

    Cells far wider than the evidence say little of it at their centres: early on many are kept whatever they say.
    """
    places = _first_places(count)
    for level in range(_FINEST + 1):
        cells = _weighed(samples, places, level, count)
        if level >= 2 and _resolved(places, cells.log_mass):
            break
        if level < _FINEST:
            places = _children(places[_kept(cells.log_mass, level)], count)
    return cells


def _first_places(count: int) -> IntArray:
    """Cells as integers of the finest level's half steps are not needed: a cell is its index at its level."""
    if count == 1:
        return np.arange(_FIRST_CELLS)[:, None]
    first, second = np.triu_indices(_FIRST_CELLS)
    return np.stack([first, second], axis=1)


def _children(places: IntArray, count: int) -> IntArray:
    corners = np.array([[0], [1]]) if count == 1 else np.array([[0, 0], [0, 1], [1, 0], [1, 1]])
    return np.asarray((2 * places[:, None, :] + corners[None]).reshape(-1, count))


def _kept(log_mass: FloatArray, level: int) -> IntArray:
    weight = np.exp(log_mass - log_mass.max())
    order = np.argsort(-weight, kind="stable")
    enough = int(np.searchsorted(np.cumsum(weight[order]) / weight.sum(), 1.0 - _LOST)) + 1
    least = max(40, _MOST_CELLS // 4 - 10 * level)
    return np.sort(order[np.isfinite(log_mass[order])][: min(_MOST_CELLS, max(enough, least))])


def _resolved(places: IntArray, log_mass: FloatArray) -> bool:
    """Say whether siblings (cells of one parent) have like evidence, where there is any."""
    count = 2 if places.shape[1] == 1 else 4
    siblings = log_mass.reshape(-1, count)
    with np.errstate(invalid="ignore"):
        spread = np.nan_to_num(siblings.max(axis=1) - siblings.min(axis=1), nan=0.0, posinf=0.0)
    weight = np.exp(log_mass - log_mass.max()).reshape(-1, count).sum(axis=1)
    return bool((weight * spread).sum() <= _RESOLVED * weight.sum())


def _weighed(samples: Samples, places: IntArray, level: int, count: int) -> _Cells:
    """Give the evidence of cells: see the module. Sums over the samples are taken once for every time constant."""
    steps = _FIRST_CELLS * 2**level
    unique, index = np.unique(places, return_inverse=True)
    taus = SHORTEST_TAU_S * (LONGEST_TAU_S / SHORTEST_TAU_S) ** ((unique + 0.5) / steps)
    index = index.reshape(places.shape)
    first, second = index[:, 0], index[:, -1]
    sums = _Sums.of(samples, taus)
    gram, seen, square = sums.of_pairs(taus, first, second, count)
    prior = 1.0 / (WIDE * samples.span_k * np.array([10.0, 1.0, 1.0])) ** 2
    precision = gram + np.diag(prior)
    cov = np.linalg.inv(precision)
    if count == 1:
        cov[:, 2, :] = cov[:, :, 2] = 0.0
    mean = np.einsum("kij,kj->ki", cov, seen)
    misfit = np.maximum(square - np.einsum("ki,ki->k", mean, seen), 0.0)
    freedom = BELIEF + samples.time_s.size / samples.together
    log_mass = 0.5 * (np.log(prior).sum() - np.linalg.slogdet(precision)[1])
    log_mass = log_mass - 0.5 * freedom * np.log(BELIEF + misfit)
    log_mass = log_mass + _usual(taus)[index].sum(axis=1)
    # Both ways are as likely beforehand, and so is every logarithm of a time constant.
    log_mass -= count * np.log(steps) - (np.log(2.0) if count == 2 else 0.0)
    if count == 2:
        log_mass[taus[second] < LEAST_RATIO * taus[first]] = -np.inf
    mean[:, 0] += samples.value[-1]
    scale = (BELIEF + misfit) / freedom
    cov = cov * scale[:, None, None]
    pairs = taus[index[:, [0, -1]]]
    cov[:, 0, 0] += _beyond_the_model(samples, pairs, mean)
    return _Cells(pairs, log_mass, mean, cov, freedom)


def _beyond_the_model(samples: Samples, taus_s: FloatArray, mean: FloatArray) -> FloatArray:
    """Give the variance of an end value because no board has just two capacities, nor takes the air's warmth just so.

    A share of what is still to come, and a part of the shorter lag of what the air did, which reaches a place directly
    as well as through the board (our choices, without a source).
    """
    last_s = samples.time_s[-1]
    left = (mean[:, 1:] * np.exp(-last_s / taus_s)).sum(axis=1)
    rate = float(np.ptp(samples.air)) / last_s
    behind_s = np.where(taus_s[:, 0] < taus_s[:, 1], np.minimum(taus_s[:, 0], last_s), 0.0)
    return np.asarray((UNKNOWN_SHARE * left) ** 2 + (UNKNOWN_LAG * rate * behind_s) ** 2)


def _usual(taus: FloatArray) -> FloatArray:
    """Give the logarithm of how likely time constants are beforehand."""
    far = np.maximum(np.log(taus / USUAL_S[1]), np.log(USUAL_S[0] / taus))
    return np.asarray(np.maximum(-0.5 * (np.maximum(far, 0.0) / BEYOND) ** 2, -UNUSUAL))


@dataclass(frozen=True, slots=True, eq=False)
class _Sums:
    """Products of all that a fit is made of, summed over the samples.

    Parameters
    ----------
    table : ndarray, shape (2 k + 2, 2 k + 2)
        Of a constant, the k exponentials, the values and the air behind each of the k lags, in that order.
    """

    table: FloatArray

    @classmethod
    def of(cls, samples: Samples, taus: FloatArray) -> _Sums:
        """Sum up."""
        u = samples.u * np.sqrt(samples.together)
        time_s = samples.time_s
        still = not np.any(samples.air)
        behind = np.zeros((time_s.size, taus.size)) if still else lagged(time_s, samples.air, taus)
        values = samples.value - samples.value[-1]
        columns = (np.ones((time_s.size, 1)), np.exp(-time_s[:, None] / taus), values[:, None], behind)
        all_of = np.concatenate(columns, axis=1) / u[:, None]
        return cls(all_of.T @ all_of)

    def of_pairs(
        self, taus: FloatArray, first: IntArray, second: IntArray, count: int
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give normal matrix, right side and sum of squares of the linear problem of each pair of time constants."""
        table, k = self.table, taus.size
        columns = np.stack([np.zeros_like(first), first + 1, second + 1], axis=1)
        gram = table[columns[:, :, None], columns[:, None, :]]
        # Air behind both lags is (tau2 L2 - tau1 L1) / (tau2 - tau1).
        if count == 1:
            share_1, share_2 = np.ones(first.size), np.zeros(first.size)
        else:
            apart = taus[second] - taus[first]
            apart[apart == 0.0] = np.inf
            share_1, share_2 = -taus[first] / apart, taus[second] / apart
        value, air_1, air_2 = k + 1, k + 2 + first, k + 2 + second
        seen = (
            table[columns, value]
            - share_1[:, None] * table[columns, air_1[:, None]]
            - share_2[:, None] * table[columns, air_2[:, None]]
        )
        square = (
            table[value, value]
            - 2.0 * (share_1 * table[value, air_1] + share_2 * table[value, air_2])
            + share_1**2 * table[air_1, air_1]
            + share_2**2 * table[air_2, air_2]
            + 2.0 * share_1 * share_2 * table[air_1, air_2]
        )
        if count == 1:
            gram[:, 2, :] = gram[:, :, 2] = 0.0
            seen[:, 2] = 0.0
        return gram, seen, square
