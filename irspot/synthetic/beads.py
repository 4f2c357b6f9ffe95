"""Soaks as a camera and a logger see them, with their truth: load steps, beads that come off, clocks apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.series import Series

FloatArray = NDArray[np.floating[Any]]


@dataclass(frozen=True, slots=True)
class Soak:
    """A board's surface under loads, and the air beside it.

    Parameters
    ----------
    loads : tuple of (float, float)
        ``(from_s, rise_k)``: from then on the surface heads for so many kelvins over ambient.
    tau_s : float
        Time constant of the surface.
    fast_share, fast_tau_s : float
        Of the rise that comes sooner: the part itself.
    ambient_degc, drift_k_per_h : float
    """

    loads: tuple[tuple[float, float], ...] = ((120.0, 50.0),)
    tau_s: float = 600.0
    fast_share: float = 0.25
    fast_tau_s: float = 60.0
    ambient_degc: float = 23.0
    drift_k_per_h: float = 0.0

    def air_degc(self, time_s: FloatArray) -> FloatArray:
        """Air beside the board."""
        return np.asarray(self.ambient_degc + self.drift_k_per_h * time_s / 3600.0)

    def surface_degc(self, time_s: FloatArray) -> FloatArray:
        """Surface under the bead: a sum of first-order answers to the steps of load."""
        rise = np.zeros_like(time_s, dtype=float)
        before_k = 0.0
        for from_s, rise_k in self.loads:
            since = np.maximum(time_s - from_s, 0.0)
            slow, fast = -np.expm1(-since / self.tau_s), -np.expm1(-since / self.fast_tau_s)
            rise += (rise_k - before_k) * ((1.0 - self.fast_share) * slow + self.fast_share * fast)
            before_k = rise_k
        return np.asarray(self.air_degc(time_s) + rise)


@dataclass(frozen=True, slots=True)
class TrueBead:
    """A thermocouple on a soak.

    Parameters
    ----------
    low_share : float
        Of the rise that wires take.
    noise_k : float
    lag_s : float
        Time constant between surface and bead.
    detached_s : float or None
        When it comes off.
    air_tau_s : float
        Time constant of a bead in the air.
    air_share : float
        Of the surface's rise that the air where it then hangs has.
    """

    low_share: float = 0.04
    noise_k: float = 0.1
    lag_s: float = 0.0
    detached_s: float | None = None
    air_tau_s: float = 5.0
    air_share: float = 0.1


def bead_degc(soak: Soak, bead: TrueBead, time_s: FloatArray) -> FloatArray:
    """What a bead without noise shows, at rising times.

    Parameters
    ----------
    soak : Soak
    bead : TrueBead
    time_s : ndarray, shape (n,)
    """
    air = soak.air_degc(time_s)
    held = air + (1.0 - bead.low_share) * (_lagged(soak, bead.lag_s, time_s) - air)
    if bead.detached_s is None:
        return np.asarray(held)
    loose = air + bead.air_share * (soak.surface_degc(time_s) - air)
    at = float(np.interp(bead.detached_s, time_s, held - loose))
    since = np.maximum(time_s - bead.detached_s, 0.0)
    return np.asarray(np.where(time_s < bead.detached_s, held, loose + at * np.exp(-since / bead.air_tau_s)))


def _lagged(soak: Soak, lag_s: float, time_s: FloatArray) -> FloatArray:
    if lag_s <= 0.0:
        return soak.surface_degc(time_s)
    # Integrated finely from well before the first time on: another way than the one that is checked by it.
    step = min(0.1, lag_s / 50.0)
    fine = np.arange(float(time_s[0]) - 5.0 * lag_s, float(time_s[-1]) + step, step)
    surface = soak.surface_degc(fine)
    later = np.empty_like(surface)
    later[0] = surface[0]
    for i in range(1, len(fine)):
        later[i] = later[i - 1] + (surface[i] - later[i - 1]) * step / lag_s
    return np.asarray(np.interp(time_s, fine, later))


def logged(
    soak: Soak, bead: TrueBead, time_s: FloatArray, rng: np.random.Generator, clock_offset_s: float = 0.0
) -> Series:
    """What a logger writes of a bead.

    Parameters
    ----------
    soak : Soak
    bead : TrueBead
    time_s : ndarray, shape (n,)
        When, truly.
    rng : Generator
    clock_offset_s : float
        The logger's clock less the true one.
    """
    value = bead_degc(soak, bead, time_s) + rng.normal(0.0, bead.noise_k, time_s.size)
    u = np.full(time_s.size, bead.noise_k)
    return Series("bead", "bead", "degC", time_s + clock_offset_s, np.round(value, 2), u, 0.9)


def imaged(
    soak: Soak, time_s: FloatArray, rng: np.random.Generator, noise_k: float = 0.08, gain: float = 1.03
) -> Series:
    """What a camera measures of the surface, its scale off by a gain."""
    air = soak.air_degc(time_s)
    value = air + gain * (soak.surface_degc(time_s) - air) + rng.normal(0.0, noise_k, time_s.size)
    return Series("zone", "zone", "degC", time_s, value, np.full(time_s.size, noise_k), 1.0)
