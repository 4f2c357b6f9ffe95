"""Maximum, its place and mean of every zone in one frame after another, found on the stored numbers.

Of whole numbers of 16 bits the hottest is the largest (or the smallest, where numbers fall with temperature): only
that one has to be converted. The mean is that of the temperatures, each looked up in a table of all there can be.
Where that does not hold (pixels without a number, impossible radiances, other types) every pixel is converted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import isfinite
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Camera
from irspot.measurement.applied import Applied
from irspot.measurement.extremes import runs_of
from irspot.measurement.geometry import Geometry, ZonePixels
from irspot.measurement.statistics import hottest, mean
from irspot.opencv import load_cv2
from irspot.radiometry import falls, radiance_temperature_of
from irspot.radiometry.signal import signal_table
from irspot.radiometry.stored_table import tabulates

BoolArray = NDArray[np.bool_]
Float32Array = NDArray[np.float32]

FIGURES: Final = np.dtype(
    [("hottest", "<f8"), ("coldest", "<f8"), ("mean_degc", "<f8"), ("row", "<i4"), ("column", "<i4"), ("holes", "<i4")]
)
"""Of one zone in one frame: stored numbers of the hottest and the coldest pixel, mean surface temperature, place of the
hottest (-1: none), and pixels that hold no number or an impossible radiance."""
_NOTHING: Final = (np.nan, np.nan, np.nan, -1, -1, 0)
IMPOSSIBLE: Final = 1 << 30
"""Added to ``holes`` where a radiance was impossible."""


@dataclass(frozen=True, slots=True, eq=False)
class _Zone:
    """A zone as it is read in every frame.

    Parameters
    ----------
    part : tuple of slice
    mask : ndarray of uint8, shape of the part
        1 for pixels that count.
    applied : Applied
    table : ndarray of float32, shape (65536,), or None
        Surface temperature of every stored number.
    counted : int
        Pixels that count.
    """

    part: tuple[slice, slice]
    mask: NDArray[np.uint8]
    applied: Applied
    table: Float32Array | None
    counted: int


class ZoneReader:
    """Reads zones in frames of one camera whose board stays where it is.

    Parameters
    ----------
    geometry : Geometry
    sound : ndarray of bool, shape (rows, columns)
        False for dead pixels.
    applied : sequence of Applied
        To each zone and `elsewhere`.
    camera : Camera
    dtype : numpy.dtype
        Of the frames' numbers, in the machine's byte order.
    """

    def __init__(
        self, geometry: Geometry, sound: BoolArray, applied: Sequence[Applied], camera: Camera, dtype: np.dtype[Any]
    ) -> None:
        self._camera = camera
        self._falls = falls(camera.signal)
        self._cv2 = load_cv2()
        self._zones = [
            _zone(where, sound, how, camera, dtype) for where, how in zip(geometry.all, applied, strict=True)
        ]
        tables = all(zone.table is not None for zone in self._zones)
        self._by_number = tables or dtype.str[1:] == "f4"
        self._totals: list[_TogetherTotals | _ApartTotals] = []
        if tables:
            together = _most_common(self._zones)
            self._totals = [
                _TogetherTotals(geometry, sound, self._zones, together),
                _ApartTotals(self._zones, [number for number in range(len(applied)) if number not in together]),
            ]

    def figures(self, frame: NDArray[Any]) -> NDArray[np.void]:
        """Read one frame.

        Parameters
        ----------
        frame : ndarray, shape (rows, columns)

        Returns
        -------
        ndarray of `FIGURES`, shape (zones and elsewhere,)
        """
        totals = [np.nan] * len(self._zones)
        for each in self._totals:
            each.add(frame, totals)
        figures = [
            self._figures(frame[zone.part], zone, total) for zone, total in zip(self._zones, totals, strict=True)
        ]
        return np.array(figures, FIGURES)

    def _figures(self, part: NDArray[Any], zone: _Zone, total_degc: float) -> tuple[float, float, float, int, int, int]:
        if zone.counted == 0:
            return _NOTHING
        if zone.table is None and self._by_number:
            radiance = radiance_temperature_of(part[zone.mask.view(np.bool_)], self._camera)
            total_degc = float(zone.applied.surface(radiance, self._camera.band).sum(dtype=np.float64))
        if not isfinite(total_degc):
            return self._one_by_one(part, zone)
        lowest, highest, low_at, high_at = self._cv2.minMaxLoc(part, zone.mask)
        hot, cold, at = (lowest, highest, low_at) if self._falls else (highest, lowest, high_at)
        return hot, cold, total_degc / zone.counted, zone.part[0].start + at[1], zone.part[1].start + at[0], 0

    def _one_by_one(self, part: NDArray[Any], zone: _Zone) -> tuple[float, float, float, int, int, int]:
        """Convert every pixel that counts: what is not a number, or impossible, is left out of the maximum."""
        counts = zone.mask.view(np.bool_)
        numbers = part[counts]
        if numbers.dtype.kind == "f":
            numbers = np.where(np.isfinite(numbers), numbers, numbers.dtype.type(np.nan))
        radiance = radiance_temperature_of(numbers, self._camera)
        surface = zone.applied.surface(radiance, self._camera.band)
        missing = int(np.count_nonzero(np.isnan(radiance)))
        impossible = IMPOSSIBLE if int(np.count_nonzero(np.isnan(surface))) > missing else 0
        index, _ = hottest(surface)
        known = surface[np.isfinite(radiance)]
        if index < 0:
            return np.nan, np.nan, np.nan, -1, -1, missing + impossible
        row, column = divmod(int(np.flatnonzero(counts)[index]), part.shape[1])
        coldest = float(numbers[int(np.nanargmin(radiance))])
        at = zone.part[0].start + row, zone.part[1].start + column
        return float(numbers[index]), coldest, mean(known), *at, missing + impossible


class _TogetherTotals:
    """Sums the temperatures of zones that share one table: looked up for the frame, summed run by run."""

    def __init__(self, geometry: Geometry, sound: BoolArray, zones: Sequence[_Zone], which: Sequence[int]) -> None:
        everything = geometry.all
        *others, last = (everything[number] for number in which)
        self._runs = runs_of(Geometry(geometry.size_px, tuple(others), last), sound)
        self._which = [which[number] for number in self._runs.filled.tolist()]
        table = zones[which[0]].table
        assert table is not None
        self._table = table
        self._degc = np.empty((1, self._runs.span.stop - self._runs.span.start), np.float32)
        self._cv2 = load_cv2()

    def add(self, frame: NDArray[Any], totals: list[float]) -> None:
        """Enter the sums of one frame."""
        if not self._which:
            return
        numbers = np.ascontiguousarray(frame).reshape(1, -1)[:, self._runs.span]
        self._cv2.LUT(numbers.view(np.uint16), self._table, self._degc)
        sums = np.add.reduceat(self._degc[0], self._runs.starts)
        of_zones = np.add.reduceat(sums[self._runs.members].astype(np.float64), self._runs.firsts)
        for number, total in zip(self._which, of_zones.tolist(), strict=True):
            totals[number] = total


class _ApartTotals:
    """Sums the temperatures of zones whose tables only few share, each in its own part of the frame."""

    def __init__(self, zones: Sequence[_Zone], which: Sequence[int]) -> None:
        self._zones = [(number, zones[number], _Filled.of(zones[number])) for number in which if zones[number].counted]
        largest = max((zone.mask.size for _, zone, _ in self._zones), default=0)
        self._masked = np.empty(largest, np.uint16)
        self._degc = np.empty(largest, np.float32)
        self._cv2 = load_cv2()

    def add(self, frame: NDArray[Any], totals: list[float]) -> None:
        """Enter the sums of one frame."""
        for number, zone, filled in self._zones:
            part = frame[zone.part]
            masked = self._masked[: part.size].reshape(part.shape)
            degc = self._degc[: part.size].reshape(part.shape)
            self._cv2.bitwise_and(part.view(np.uint16), filled.bits, masked)
            self._cv2.LUT(masked, filled.table, degc)
            total = self._cv2.sumElems(degc)[0] - filled.degc * (part.size - zone.counted)
            if not filled.zero_counts and self._cv2.countNonZero(masked) < zone.counted:
                total = np.nan
            totals[number] = total


@dataclass(frozen=True, slots=True, eq=False)
class _Filled:
    """A zone whose pixels that do not count are taken for the number 0.

    Parameters
    ----------
    bits : ndarray of uint16, shape of the zone's part
        All bits for pixels that count, none for others.
    table : ndarray of float32, shape (65536,)
        With a temperature for 0 in any case.
    degc : float
        That temperature.
    zero_counts : bool
        Whether it is that of pixels that do hold 0, too.
    """

    bits: NDArray[np.uint16]
    table: Float32Array
    degc: float
    zero_counts: bool

    @classmethod
    def of(cls, zone: _Zone) -> _Filled:
        """Prepare a zone."""
        assert zone.table is not None
        bits = np.where(zone.mask, np.uint16(0xFFFF), np.uint16(0))
        if isfinite(zone.table[0]):
            return cls(bits, zone.table, float(zone.table[0]), True)
        table = zone.table.copy()
        table[0] = 0.0
        return cls(bits, table, 0.0, False)


def _most_common(zones: Sequence[_Zone]) -> list[int]:
    """Zones that share the table which most pixels need."""
    pixels: dict[int, int] = {}
    for zone in zones:
        pixels[id(zone.table)] = pixels.get(id(zone.table), 0) + zone.counted
    common = max(pixels, key=lambda table: pixels[table])
    return [number for number, zone in enumerate(zones) if id(zone.table) == common]


def _zone(where: ZonePixels, sound: BoolArray, applied: Applied, camera: Camera, dtype: np.dtype[Any]) -> _Zone:
    counts = where.mask & sound[where.slices]
    table = None
    if tabulates(dtype) and dtype.itemsize == 2:
        table = surface_table(applied, camera, dtype)
        table = table if _in_order(table, camera, dtype) else None
    return _Zone(where.slices, counts.astype(np.uint8), applied, table, int(np.count_nonzero(counts)))


def surface_table(applied: Applied, camera: Camera, dtype: np.dtype[Any]) -> Float32Array:
    """Surface temperature of every number that an integer type of 16 bits can store, built once.

    Parameters
    ----------
    applied : Applied
    camera : Camera
    dtype : numpy.dtype

    Returns
    -------
    ndarray of float32
        For `irspot.radiometry.stored_table.look_up`; the same one for zones alike in what is applied.
    """
    # Without what is said about it, zones alike in what is applied share their table.
    bare = replace(applied, u_emissivity=0.0, u_reflected_k=0.0, u_transmission=0.0, u_window_k=0.0, flags=())
    return _surface_table(bare, camera, dtype)


@lru_cache(maxsize=64)
def _surface_table(applied: Applied, camera: Camera, dtype: np.dtype[Any]) -> Float32Array:
    return applied.surface(signal_table(camera.signal, camera.band, dtype), camera.band)


def _in_order(table: Float32Array, camera: Camera, dtype: np.dtype[Any]) -> bool:
    """Say whether temperatures rise with the numbers all the way, or fall where the camera's do."""
    by_number = table if dtype.kind == "u" else np.concatenate([table[32_768:], table[:32_768]])
    steps = np.diff(by_number[np.isfinite(by_number)])
    return bool(np.all(steps <= 0.0) if falls(camera.signal) else np.all(steps >= 0.0))
