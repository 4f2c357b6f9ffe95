"""Soaks of known truth: a part on a board under a load, air that drifts, a camera that errs.

The truth is a ladder of heat capacities (part, board, air), solved through the eigenvalues of its matrix over short
straight pieces of the air's temperature, which shares nothing with how a soak is fitted.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.series import Series

FloatArray = NDArray[np.floating[Any]]


@dataclass(frozen=True, slots=True, eq=False)
class Soak:
    """One simulated soak.

    Parameters
    ----------
    zone, ambient : Series
        As a camera and a probe would give them.
    end_degc : float
        Where the zone would end with the air as it is at the last sample.
    last_degc : float
        Where the zone truly is at the last sample.
    taus_s : tuple of float
        One or two time constants.
    camera_k : float
        What the camera's limit added to every reading.
    """

    zone: Series
    ambient: Series
    end_degc: float
    last_degc: float
    taus_s: tuple[float, ...]
    camera_k: float

    @property
    def left_k(self) -> float:
        """Rise still to come at the last sample."""
        return abs(self.end_degc - self.last_degc)


def random_soak(rng: np.random.Generator, minutes: float = 30.0, step_s: float = 10.0) -> Soak:
    """Draw a soak: one or two time constants of 3 to 25 min, a rise of 10 to 80 K, air that ramps by up to 3 K/h.

    Frames every `step_s` with 0.05 to 0.25 K of scatter each, a camera good to 2 K.

    Parameters
    ----------
    rng : numpy.random.Generator
    minutes, step_s : float
        How long it is watched, and how often.
    """
    time_s = np.arange(0.0, minutes * 60.0 + 0.5 * step_s, step_s)
    air_degc = rng.uniform(18.0, 28.0) + rng.uniform(-3.0, 3.0) * time_s / 3600.0
    rise_k = rng.uniform(10.0, 80.0)
    scatter_k = rng.uniform(0.05, 0.25)
    camera_k = rng.uniform(-2.0, 2.0)
    slow_s = 60.0 * float(np.exp(rng.uniform(np.log(3.0), np.log(25.0))))
    if rng.random() < 0.5:
        taus_s: tuple[float, ...] = (slow_s,)
        truth = _one(time_s, air_degc, rise_k, slow_s)
    else:
        taus_s, truth = _two(time_s, air_degc, rise_k, rng)
    zone = truth + camera_k + rng.normal(0.0, scatter_k, time_s.size)
    u = np.full(time_s.size, scatter_k)
    probe = air_degc + rng.normal(0.0, 0.3) + rng.normal(0.0, 0.05, time_s.size)
    return Soak(
        Series("zone", "zone", "degC", time_s, zone, u, 2.0 / np.sqrt(3.0)),
        Series("air", "ambient", "degC", time_s, probe, np.full(time_s.size, 0.05), 0.3),
        float(air_degc[-1] + rise_k),
        float(truth[-1]),
        taus_s,
        camera_k,
    )


def _one(time_s: FloatArray, air_degc: FloatArray, rise_k: float, tau_s: float) -> FloatArray:
    matrix = np.array([[-1.0 / tau_s]])
    return ladder(time_s, air_degc, matrix, np.array([1.0 / tau_s]), np.array([rise_k / tau_s]))[:, 0]


def _two(
    time_s: FloatArray, air_degc: FloatArray, rise_k: float, rng: np.random.Generator
) -> tuple[tuple[float, ...], FloatArray]:
    """Draw a part (capacity 1, resistance to the board 1) on a board until both time constants lie in 3 to 25 min."""
    while True:
        capacity, resistance = np.exp(rng.uniform(-1.0, 3.0)), np.exp(rng.uniform(-2.0, 1.5))
        matrix = np.array([[-1.0, 1.0], [1.0 / capacity, -(1.0 + 1.0 / resistance) / capacity]])
        rates = -np.linalg.eigvals(matrix).real
        if rates.max() / rates.min() <= 25.0 / 3.0 and rates.max() / rates.min() >= 1.5:
            break
    longest_s = 60.0 * rng.uniform(3.0 * rates.max() / rates.min(), 25.0)
    scale = 1.0 / (longest_s * rates.min())
    to_air = np.array([0.0, 1.0 / (resistance * capacity)]) * scale
    # Half of the soaks are seen on the part itself, which carries the power; half on the board beside it.
    seen = int(rng.integers(2))
    ends = -np.linalg.solve(matrix * scale, np.array([1.0, 0.0]))
    heat = np.array([rise_k / ends[seen], 0.0])
    taus_s = tuple(sorted(float(1.0 / (rate * scale)) for rate in rates))
    return taus_s, ladder(time_s, air_degc, matrix * scale, to_air, heat)[:, seen]


def ladder(
    time_s: FloatArray, air_degc: FloatArray, matrix: FloatArray, to_air: FloatArray, heat: FloatArray
) -> FloatArray:
    """Solve ``dT/dt = M T + a T_air + q`` from rest at the first air temperature, by steps of the matrix exponential.

    Parameters
    ----------
    time_s, air_degc : ndarray, shape (n,)
        Evenly spaced times; the air is taken at its mean over each of 20 parts of a step.
    matrix : ndarray, shape (k, k)
    to_air, heat : ndarray, shape (k,)

    Returns
    -------
    ndarray, shape (n, k)
    """
    parts = 20
    step_s = float(time_s[1] - time_s[0]) / parts
    values, vectors = np.linalg.eig(matrix)
    back = np.linalg.inv(vectors)
    over = (vectors * np.exp(values * step_s)) @ back
    fine_s = time_s[0] + (np.arange((time_s.size - 1) * parts) + 0.5) * step_s
    air = np.interp(fine_s, time_s, air_degc)
    state = np.full(heat.size, air_degc[0])
    out = [state]
    for number, air_now in enumerate(air, start=1):
        rest = -np.linalg.solve(matrix, to_air * air_now + heat)
        state = rest + over @ (state - rest)
        if number % parts == 0:
            out.append(state)
    return np.array(out).real
