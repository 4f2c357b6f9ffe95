"""Many small least-squares problems at once, each weighing down the observations that stray."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

_FEWEST: Final = 16
"""Observations that are needed at least."""
_REWEIGHTED: Final = 4
_WORST_CONDITION: Final = 1e12
_LEAST_DEVIATION: Final = 0.05
_TUKEY: Final = 4.685
"""Where Tukey's biweight gives no weight any more, in standard deviations: 95 % efficient for normal errors."""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Solutions of k problems of n observations and p parameters.

    Parameters
    ----------
    sound : ndarray of bool, shape (k,)
        Whether the observations hold all parameters; the rest means nothing where they do not.
    step : ndarray, shape (k, p)
        The parameters.
    weight : ndarray, shape (k, n)
    deviation : ndarray, shape (k,)
        Robust standard deviation of the observations.
    spread : ndarray, shape (k, p, p)
        Covariance of the parameters, were the observations independent.
    """

    sound: Bool
    step: FloatArray
    weight: FloatArray
    deviation: FloatArray
    spread: FloatArray


def fitted(slopes: FloatArray, observed: FloatArray, present: Bool) -> Fit:
    """Solve ``slopes @ step = observed`` by least squares with Tukey's biweight.

    Parameters
    ----------
    slopes : ndarray, shape (k, n, p)
    observed : ndarray, shape (k, n)
    present : ndarray of bool, shape (k, n)
        Which observations there are.
    """
    weight = present.astype(np.float64)
    size = np.sqrt(np.einsum("knp,kn->kp", slopes**2, weight))
    sound = np.all(size > 1e-12, axis=1) & (present.sum(axis=1) >= _FEWEST)
    size = np.where(sound[:, None], size, 1.0)
    unit = slopes / size[:, None]
    flipped = np.swapaxes(unit, 1, 2)
    deviation = np.full(len(slopes), _LEAST_DEVIATION)
    for _ in range(_REWEIGHTED):
        weighted = flipped * weight[:, None]
        normal = weighted @ unit
        spectrum = np.linalg.eigvalsh(np.where(sound[:, None, None], normal, np.eye(slopes.shape[2])))
        sound = sound & (spectrum[:, 0] * _WORST_CONDITION > spectrum[:, -1])
        inverse = np.linalg.inv(np.where(sound[:, None, None], normal, np.eye(slopes.shape[2])))
        step = (inverse @ (weighted @ observed[..., None]))[..., 0]
        miss = np.abs(observed - (unit @ step[..., None])[..., 0])
        deviation = np.maximum(_LEAST_DEVIATION, 1.4826 * _median(miss, present))
        limit = _TUKEY * deviation[:, None]
        weight = np.where(present, np.square(1.0 - np.minimum((miss / limit) ** 2, 1.0)), 0.0)
        sound = sound & (np.count_nonzero(weight, axis=1) >= _FEWEST)
    spread = inverse / (size[:, :, None] * size[:, None]) * (deviation**2)[:, None, None]
    return Fit(sound, step / size, weight, deviation, spread)


def _median(values: FloatArray, present: Bool) -> FloatArray:
    """Median, of each row, of those that are there; 0 for none."""
    count = present.sum(axis=1)
    ordered = np.sort(np.where(present, values, np.inf), axis=1)
    row, upper = np.arange(len(values)), np.minimum(count // 2, values.shape[1] - 1)
    middle = (ordered[row, np.maximum(count - 1, 0) // 2] + ordered[row, upper]) / 2.0
    return np.where(count > 0, middle, 0.0)
