"""How a place on a board answers to power and to the air around it: first-order lags, exactly.

A place that is heated through one heat capacity follows ``tau dT/dt = T_ambient + R P - T``. One that hangs on the rest
of the board through a capacity of its own has two time constants. What the air does reaches it through both of them,
one after the other, which is exact where only the board gives heat to the air (a ladder of two capacities).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.floating[Any]]


def step_response(time_s: FloatArray, tau_s: float) -> FloatArray:
    """Share of its rise that a first-order lag has made at a time after a step: ``1 - exp(-t / tau)``.

    Parameters
    ----------
    time_s : ndarray
        After the step [s].
    tau_s : float
        Time constant [s].

    Returns
    -------
    ndarray
        0 to 1; 0 before the step.

    Examples
    --------
    >>> [round(100.0 * float(step_response(np.array(n), 1.0)), 1) for n in (1.0, 2.0, 3.0, 4.0, 5.0)]
    [63.2, 86.5, 95.0, 98.2, 99.3]
    """
    return np.asarray(-np.expm1(-np.maximum(time_s, 0.0) / tau_s))


def two_step_response(time_s: FloatArray, taus_s: tuple[float, float], first_share: float) -> FloatArray:
    """Share of its rise that a sum of two lags has made: ``s (1 - exp(-t/tau1)) + (1 - s) (1 - exp(-t/tau2))``.

    Parameters
    ----------
    time_s : ndarray
        After the step [s].
    taus_s : tuple of float
        Time constants [s].
    first_share : float
        Of the rise, what comes with the first time constant.
    """
    first, second = (step_response(time_s, tau_s) for tau_s in taus_s)
    return np.asarray(first_share * first + (1.0 - first_share) * second)


def lagged(time_s: FloatArray, value: FloatArray, taus_s: FloatArray) -> FloatArray:
    """First-order lag of an input that runs straight between its samples, exact for any steps of time.

    Over a step of length h in which the input rises with slope s, the lag's distance from it goes as
    ``y - x + s tau -> (y - x + s tau) exp(-h / tau)``. Before the first sample the input had its first value for ever.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Strictly rising [s].
    value : ndarray, shape (n,)
        The input.
    taus_s : ndarray, shape (k,)
        Time constants [s].

    Returns
    -------
    ndarray, shape (n, k)
    """
    taus = np.asarray(taus_s, np.float64)
    out = np.empty((len(time_s), taus.size))
    out[0] = value[0]
    for index in range(1, len(time_s)):
        step_s = time_s[index] - time_s[index - 1]
        behind = (value[index] - value[index - 1]) / step_s * taus
        out[index] = value[index] - behind + (out[index - 1] - value[index - 1] + behind) * np.exp(-step_s / taus)
    return out


def lagged_twice(
    first: FloatArray, second: FloatArray, first_tau_s: FloatArray, second_tau_s: FloatArray
) -> FloatArray:
    """Two first-order lags one after the other, from each alone: ``(tau2 y2 - tau1 y1) / (tau2 - tau1)``.

    Partial fractions of ``1 / ((1 + s tau1) (1 + s tau2))``; the time constants must differ.

    Parameters
    ----------
    first, second : ndarray
        The input behind either lag alone.
    first_tau_s, second_tau_s : ndarray
        Broadcast against them [s].
    """
    return np.asarray((second_tau_s * second - first_tau_s * first) / (second_tau_s - first_tau_s))


def three_point_end(first: float, second: float, third: float) -> float:
    """End value of one exponential from three readings equally far apart: ``(T1 T3 - T2²) / (T1 + T3 - 2 T2)``.

    The three-point method of temperature-rise tests; NaN where the readings do not bend.

    Examples
    --------
    >>> round(three_point_end(48.60816042, 62.92723353, 71.61219039), 4)
    85.0
    """
    bend = first + third - 2.0 * second
    return (first * third - second**2) / bend if bend else float("nan")


def left_by_slope(rate_k_per_s: float, tau_s: float) -> float:
    """Rise still to come of one exponential when it rises at a rate: ``rate tau`` [K]."""
    return rate_k_per_s * tau_s


def left_by_interval(change_k: float, interval_s: float, tau_s: float) -> float:
    """Rise still to come of one exponential that rose by d over the last interval: ``d / (exp(h/tau) - 1)`` [K]."""
    return float(change_k / np.expm1(interval_s / tau_s))
