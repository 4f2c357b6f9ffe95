"""What is measured over a run's time, on one clock: zones, beads, air, power, sensors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.floating[Any]]
SeriesKind = Literal["zone", "bead", "ambient", "power", "clock", "sensor"]


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """One quantity over the time of one run.

    Parameters
    ----------
    name : str
        Zone id, site id, or what the log calls it.
    kind : {"zone", "bead", "ambient", "power", "clock", "sensor"}
    unit : str
        ``degC``, ``W`` or ``GHz``.
    time_s : ndarray, shape (n,)
        Seconds on the run's clock, strictly rising.
    value : ndarray, shape (n,)
        NaN where there is none.
    u : ndarray, shape (n,)
        Standard uncertainty of each value by itself: noise, repeatability.
    u_shared : float
        Standard uncertainty of what is the same error in all of them: a camera's limit, an emissivity, a thermocouple's
        tolerance.

    Raises
    ------
    ValueError
        If the arrays do not fit, or time does not rise.
    """

    name: str
    kind: SeriesKind
    unit: str
    time_s: FloatArray
    value: FloatArray
    u: FloatArray
    u_shared: float = 0.0

    def __post_init__(self) -> None:
        """Hold the arrays against one another."""
        if not self.time_s.shape == self.value.shape == self.u.shape or self.time_s.ndim != 1:
            raise ValueError(f"series {self.name}: {self.time_s.shape}, {self.value.shape}, {self.u.shape}")
        if np.any(np.diff(self.time_s) <= 0.0) or not np.all(np.isfinite(self.time_s)):
            raise ValueError(f"series {self.name}: its times do not rise")

    @property
    def known(self) -> Series:
        """Only the samples that have a value."""
        keep = np.isfinite(self.value)
        return Series(self.name, self.kind, self.unit, self.time_s[keep], self.value[keep], self.u[keep], self.u_shared)

    def at(self, time_s: FloatArray) -> FloatArray:
        """Values at other times, interpolated linearly between samples; NaN before the first and after the last."""
        known = self.known
        if known.time_s.size == 0:
            return np.full(np.shape(time_s), np.nan)
        return np.interp(time_s, known.time_s, known.value, left=np.nan, right=np.nan)
