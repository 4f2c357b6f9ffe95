"""Tables of one band: in-band radiance of a temperature, temperature of a radiance, quick and exact.

Two pairs of tables serve two kinds of numbers:

- float64: radiance at every whole kelvin with its exact slope, between them the cubic that meets both (error below a
  microkelvin); backwards a first guess and one Newton step on the same cubic.
- float32, for whole frames: straight pieces ``a + b x`` that are found without searching and without a cast. Forwards
  a piece every 1/32 K: adding 2¹⁸ + 512 to a temperature leaves its number of thirty-seconds of a kelvin in the lowest
  16 bits. Backwards a piece for every 1/128 to 1/256 of the radiance: its number is the upper 16 bits of the radiance
  itself, which send a negative, infinite or missing radiance to an entry that holds NaN.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from irspot.camera import Band
from irspot.constants import ZERO_DEGC_KELVIN
from irspot.errors import IrspotError
from irspot.radiometry.band import OfTemperature, formula
from irspot.radiometry.gather import ENTRIES, high_half

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]

LOWEST_DEGC: Final = -120.0
HIGHEST_DEGC: Final = 1500.0
"""Ends of every table; outside them there is NaN. A clear sky reflects down to about -100 °C."""
_MARGIN: Final = 20
"""Knots beyond the ends, so that a Newton step from an end stays on the curve."""
_KNOTS_DEGC: Final = np.arange(LOWEST_DEGC - _MARGIN, HIGHEST_DEGC + _MARGIN + 1.0)

PIECES_PER_K: Final = 32
FIRST_PIECE_DEGC: Final = -512.0
END_OF_PIECES_DEGC: Final = FIRST_PIECE_DEGC + ENTRIES / PIECES_PER_K
"""Between these two a temperature finds its own piece; outside it would find a wrong one."""
PIECE_SHIFT: Final = np.float32(2.0**18 - FIRST_PIECE_DEGC)
"""From 2¹⁸ to 2¹⁹ neighbouring float32 numbers are 1/32 apart."""
_DIMMEST: Final = 1e-30
"""W m⁻² sr⁻¹; less is no measurement, and float32 numbers lose their digits further down."""


@dataclass(frozen=True, slots=True, eq=False)
class BandTable:
    """Radiance and temperature of one band; get it from `band_table`.

    Parameters
    ----------
    lowest_degc, highest_degc : float
        Where the table ends.
    knots : ndarray, shape (4, n)
        Radiance at whole kelvins, and the three further coefficients of the cubic up to the next.
    backward : ndarray of float32, shape (2, 65536)
        Straight pieces ``a + b L`` of the temperature, numbered by the upper 16 bits of L.
    """

    lowest_degc: float
    highest_degc: float
    knots: FloatArray
    backward: Float32Array

    def radiance(self, temperature_degc: ArrayLike) -> FloatArray:
        """In-band radiance of temperatures.

        Parameters
        ----------
        temperature_degc : array_like
            [°C]

        Returns
        -------
        ndarray of float64
            [W m⁻² sr⁻¹]; NaN outside the table.

        Examples
        --------
        >>> float(band_table(Band(8.0, 14.0)).radiance(100.0).round(6))
        136.778339
        """
        x, (c0, c1, c2, c3) = self._cubic(self._within(temperature_degc))
        return np.asarray(((c3 * x + c2) * x + c1) * x + c0)

    def slope(self, temperature_degc: ArrayLike) -> FloatArray:
        """Change of the radiance with temperature.

        Parameters
        ----------
        temperature_degc : array_like
            [°C]

        Returns
        -------
        ndarray of float64
            [W m⁻² sr⁻¹ K⁻¹]; NaN outside the table.
        """
        x, (_, c1, c2, c3) = self._cubic(self._within(temperature_degc))
        return np.asarray((3.0 * c3 * x + 2.0 * c2) * x + c1)

    def temperature_degc(self, radiance: ArrayLike) -> FloatArray:
        """Temperature of a black body of that in-band radiance.

        Parameters
        ----------
        radiance : array_like
            [W m⁻² sr⁻¹]

        Returns
        -------
        ndarray of float64
            [°C]; NaN where no temperature of the table has that radiance.

        Examples
        --------
        >>> table = band_table(Band(8.0, 14.0))
        >>> float(table.temperature_degc(table.radiance(71.25)).round(9))
        71.25
        """
        radiance = np.asarray(radiance, dtype=np.float64)
        guess = self._first_guess(radiance)
        x, (c0, c1, c2, c3) = self._cubic(guess)
        excess = ((c3 * x + c2) * x + c1) * x + c0 - radiance
        # The guess is less than a millikelvin off, so one Newton step leaves nothing that float64 could show.
        refined = guess - excess / ((3.0 * c3 * x + 2.0 * c2) * x + c1)
        return self._within(refined, rounding_k=1e-9)

    def forward(self, offset: float = 0.0) -> Float32Array:
        """Straight pieces of the radiance less `offset`: value at the middle of each piece and slope.

        Parameters
        ----------
        offset : float
            Taken off in float64, so that a small difference of large radiances keeps its digits. [W m⁻² sr⁻¹]

        Returns
        -------
        ndarray of float32, shape (2, 65536), read-only
        """
        return _forward(self, offset)

    def _within(self, temperature_degc: ArrayLike, rounding_k: float = 0.0) -> FloatArray:
        degc = np.asarray(temperature_degc, dtype=np.float64)
        inside = (degc >= self.lowest_degc - rounding_k) & (degc <= self.highest_degc + rounding_k)
        return np.where(inside, degc, np.nan)

    def _cubic(self, degc: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Place within its kelvin and the four coefficients there; NaN stays NaN."""
        place = degc - _KNOTS_DEGC[0]
        knot = np.fmin(np.fmax(place, 0.0), self.knots.shape[1] - 1.0).astype(np.intp)
        return place - knot, self.knots[:, knot]

    def _first_guess(self, radiance: FloatArray) -> FloatArray:
        with np.errstate(over="ignore"):
            single = np.ascontiguousarray(radiance, dtype=np.float32)
        a, b = self.backward[:, high_half(np.atleast_1d(single).ravel()).astype(np.intp)]
        return np.asarray(a.reshape(radiance.shape) + b.reshape(radiance.shape) * radiance)


@lru_cache(maxsize=16)
def band_table(band: Band) -> BandTable:
    """Give the tables of a band, built once.

    Parameters
    ----------
    band : Band

    Returns
    -------
    BandTable

    Raises
    ------
    IrspotError
        If the band's radiance does not rise with temperature.
    """
    knots = _knots(formula(band))
    bright = np.flatnonzero(knots[0] > _DIMMEST)
    if not len(bright) or np.any(knots[1, bright] <= 0.0) or np.any(np.diff(knots[0, bright]) <= 0.0):
        raise IrspotError("the band has no radiance that rises with temperature", key="band", found=str(band))
    lowest = max(LOWEST_DEGC, float(_KNOTS_DEGC[bright[0]]) + 1.0)
    return BandTable(lowest, HIGHEST_DEGC, _frozen(knots), _frozen(_backward(knots[:, bright[0] :], bright[0])))


def _knots(radiance_and_slope: OfTemperature) -> FloatArray:
    """Coefficients of the cubics that meet radiance and slope at both ends of every kelvin, shape (4, n)."""
    value, rise = (np.nan_to_num(part) for part in radiance_and_slope(_KNOTS_DEGC + ZERO_DEGC_KELVIN))
    step = np.diff(value)
    square = 3.0 * step - 2.0 * rise[:-1] - rise[1:]
    cube = rise[:-1] + rise[1:] - 2.0 * step
    return np.array([value[:-1], rise[:-1], square, cube])


def _backward(knots: FloatArray, skipped: int) -> Float32Array:
    """Straight pieces of the temperature over radiance, one for each upper half of a float32, shape (2, 65536)."""
    table = np.full((2, ENTRIES), np.nan, dtype=np.float32)
    ends = np.array([knots[0, 0], knots[0, -1]], dtype=np.float32)
    first, last = (int(n) for n in high_half(ends))
    edges = _float_of_high_half(np.arange(first + 1, last + 1))
    middles = 0.5 * (edges[:-1] + edges[1:])
    at_edges, at_middles = (_solve(knots, radiance) + _KNOTS_DEGC[skipped] for radiance in (edges, middles))
    # A chord lies below the curve by up to twice `sag`; its ends are lifted by half of that, each by the mean of its
    # two pieces, so that the pieces still join and the whole keeps rising.
    sag = 0.5 * (at_middles - 0.5 * (at_edges[:-1] + at_edges[1:]))
    at_edges += 0.5 * (np.append(sag, sag[-1]) + np.insert(sag, 0, sag[0]))
    rise = np.diff(at_edges) / np.diff(edges)
    table[0, first + 1 : last] = at_edges[:-1] - rise * edges[:-1]
    table[1, first + 1 : last] = rise
    return table


def _float_of_high_half(number: NDArray[Any]) -> FloatArray:
    return (number.astype(np.uint32) << 16).view(np.float32).astype(np.float64)


def _solve(knots: FloatArray, radiance: FloatArray) -> FloatArray:
    """Kelvins above the first knot at which the cubics reach a radiance."""
    knot = np.searchsorted(knots[0], radiance, side="right") - 1
    c0, c1, c2, c3 = knots[:, knot]
    x = (radiance - c0) / c1
    for _ in range(4):
        x -= (((c3 * x + c2) * x + c1) * x + c0 - radiance) / ((3.0 * c3 * x + 2.0 * c2) * x + c1)
    return np.asarray(knot + x)


@lru_cache(maxsize=32)
def _forward(table: BandTable, offset: float) -> Float32Array:
    pieces = np.full((2, ENTRIES), np.nan, dtype=np.float32)
    first = round((table.lowest_degc - FIRST_PIECE_DEGC) * PIECES_PER_K)
    end = round((table.highest_degc - FIRST_PIECE_DEGC) * PIECES_PER_K) + 1
    x = np.arange(PIECES_PER_K)[:, None] / PIECES_PER_K
    knots = table.knots[:, round(table.lowest_degc - _KNOTS_DEGC[0]) :][:, : (end - first) // PIECES_PER_K + 1]
    c0, c1, c2, c3 = knots
    value = ((c3 * x + c2) * x + c1) * x + (c0 - offset)
    slope = (3.0 * c3 * x + 2.0 * c2) * x + c1
    pieces[0, first:end] = value.T.ravel()[: end - first]
    pieces[1, first:end] = slope.T.ravel()[: end - first]
    return _frozen(pieces)


def _frozen(array: NDArray[Any]) -> NDArray[Any]:
    array.flags.writeable = False
    return array
