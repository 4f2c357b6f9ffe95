"""What was kept of every frame turned into temperatures: the table over time, and a series for every zone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from typing import Any, BinaryIO, Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Zone
from irspot.camera import Camera
from irspot.columns import FULL_RATE_COLUMNS
from irspot.conditions import Conditions
from irspot.constants import DEFAULT_SAMPLE_S
from irspot.flags import sorted_flags
from irspot.measurement.applied import applied_to
from irspot.measurement.budget import spreads_of
from irspot.measurement.full_rate import IMPOSSIBLE, surface_table
from irspot.measurement.geometry import geometry_of
from irspot.measurement.readings import elsewhere_zone
from irspot.measurement.zone_flags import flags_of_height, flags_of_view, flags_of_zone
from irspot.radiometry import falls, radiance_temperature_of, range_degc
from irspot.radiometry.stored_table import look_up, tabulates
from irspot.series import Series
from irspot.uncertain import expanded, from_bound, rounded
from irspot.workflow.full_rate import Blocks, kept_figures
from irspot.workflow.opened import conditions_of
from irspot.workflow.stretches import Stretch
from irspot.workflow.tasks import MeasureTask
from irspot.workflow.zone_series import sampled_indices

FloatArray = NDArray[np.float64]

_SEEN: Final = (
    "clipped",
    "clipped-low",
    "elsewhere-hottest",
    "impossible-radiance",
    "not-measured-pixels",
    "outside-range",
)
"""Flags that differ from frame to frame, in the order of their bits."""
_RETAKE: Final = frozenset({"no-pixels", "outside-frame", "not-placed", "impossible-radiance"})


@dataclass(frozen=True, slots=True, eq=False)
class FullRate:
    """A recording of which every frame was taken: what was kept, and all that turns it into temperatures.

    Parameters
    ----------
    task : MeasureTask
    part : Path
        The file of what was kept.
    layout : Blocks
    dtype : numpy.dtype
        Of the stored numbers, in the machine's byte order.
    stretches : tuple of Stretch
    time_s : ndarray, shape (frames,)
    """

    task: MeasureTask
    part: Path
    layout: Blocks
    dtype: np.dtype[Any]
    stretches: tuple[Stretch, ...]
    time_s: FloatArray

    def write(self, stream: BinaryIO) -> None:
        """Write the table series/RUN.csv, piece by piece."""
        stream.write((",".join(column.name for column in FULL_RATE_COLUMNS) + "\n").encode())
        for piece in self.pieces():
            stream.write(_lines(piece).encode())

    def zones(self) -> tuple[Series, ...]:
        """Give the maximum of every zone every ten seconds; NaN where there is none, or it is to be retaken."""
        wanted = sampled_indices(self.time_s, DEFAULT_SAMPLE_S)
        kept = list(self.pieces(wanted))
        degc, u_k = np.concatenate([each.sure_degc for each in kept]), np.concatenate([each.u_k for each in kept])
        shared_k = np.fmax.reduce([np.fmax.reduce(each.u_shared_k, axis=0, initial=0.0) for each in kept])
        return tuple(
            Series(name, "zone", "degC", self.time_s[wanted], degc[:, zone], u_k[:, zone], float(shared_k[zone]))
            for zone, name in enumerate(kept[0].names)
        )

    def pieces(self, wanted: NDArray[np.intp] | None = None) -> Iterator[Piece]:
        """Convert what was kept, or of that some frames, at most a block at a time.

        Parameters
        ----------
        wanted : ndarray of int, optional
            Rising.
        """
        converter: _Converter | None = None
        for block, figures in enumerate(kept_figures(self.part, self.layout)):
            frames = self.layout.frames_of(block)
            for stretch in self.stretches:
                first, stop = max(stretch.first, frames.start), min(stretch.stop, frames.stop)
                chosen = np.arange(first, stop) if wanted is None else wanted[(wanted >= first) & (wanted < stop)]
                if first >= stop or not len(chosen):
                    continue
                if converter is None or converter.stretch is not stretch:
                    converter = _Converter(self.task, stretch, self.dtype)
                yield converter.piece(figures[chosen - frames.start], self.time_s[chosen])


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """Temperatures of some successive frames, arrays of shape (frames, zones and elsewhere).

    Parameters
    ----------
    names : tuple of str
        Zone ids.
    flags : tuple of tuple of str
        Of each zone in all of the frames.
    time_s : ndarray, shape (frames,)
    max_degc, u_k, u_shared_k, mean_degc, x_px, y_px : ndarray
    seen : ndarray of int
        One bit for each flag that was seen in the frame.
    """

    names: tuple[str, ...]
    flags: tuple[tuple[str, ...], ...]
    time_s: FloatArray
    max_degc: FloatArray
    u_k: FloatArray
    u_shared_k: FloatArray
    mean_degc: FloatArray
    x_px: FloatArray
    y_px: FloatArray
    seen: NDArray[np.intp]
    _texts: dict[tuple[int, int], str] = field(default_factory=dict)

    @property
    def sure_degc(self) -> FloatArray:
        """Maxima, NaN where the flags say that no number can be given."""
        impossible = (self.seen >> _SEEN.index("impossible-radiance")) & 1 > 0
        retaken = np.array([bool(_RETAKE.intersection(flags)) for flags in self.flags])
        return np.where(impossible | retaken, np.nan, self.max_degc)

    def flags_text(self, zone: int, seen: int) -> str:
        """Join a zone's flags as tables do."""
        if (zone, seen) not in self._texts:
            names = (*self.flags[zone], *(name for bit, name in enumerate(_SEEN) if seen >> bit & 1))
            self._texts[zone, seen] = ";".join(sorted_flags(names))
        return self._texts[zone, seen]


class _Converter:
    """Turns what was kept of the frames of a stretch into temperatures."""

    def __init__(self, task: MeasureTask, stretch: Stretch, dtype: np.dtype[Any]) -> None:
        run, board = task.run, task.board
        self.stretch = stretch
        self._dtype, self._camera = dtype, stretch.camera
        self._zones = (*board.zones_of(run.side), elsewhere_zone(board, run.side))
        conditions = conditions_of(run)
        self._applied = [applied_to(zone, conditions) for zone in self._zones]
        self._names = tuple(zone.id for zone in self._zones)
        self._flags, pixels = _flags_of(stretch, task, self._zones, conditions)
        noise_k = stretch.camera.accuracy.noise_k
        # The hottest of n noisy pixels may be anything from not to √(2 ln n) standard deviations too high.
        self._noise_k = [
            float(np.hypot(noise_k, from_bound(noise_k * np.sqrt(2.0 * np.log(max(count, 1)))))) for count in pixels
        ]
        self._texts: dict[tuple[int, int], str] = {}

    def piece(self, figures: NDArray[np.void], time_s: FloatArray) -> Piece:
        """Convert some frames."""
        hottest, camera = figures["hottest"], self._camera
        radiance = _radiance(hottest, self._dtype, camera)
        maxima = self._maxima(hottest, radiance)
        spreads = spreads_of(
            radiance, self._applied, camera.accuracy, self._noise_k, camera.band, self.stretch.misplaced_k
        )
        return Piece(
            self._names,
            self._flags,
            time_s,
            maxima,
            spreads.by_itself,
            spreads.shared,
            figures["mean_degc"],
            np.where(figures["column"] < 0, np.nan, figures["column"]),
            np.where(figures["row"] < 0, np.nan, figures["row"]),
            self._seen(figures, radiance, maxima),
            self._texts,
        )

    def _maxima(self, hottest: FloatArray, radiance: NDArray[np.float32]) -> FloatArray:
        """Surface temperatures of the hottest pixels."""
        maxima = np.empty(hottest.shape)
        tabulated = tabulates(self._dtype) and self._dtype.itemsize == 2
        numbers = _numbers(hottest, self._dtype)
        for zone, applied in enumerate(self._applied):
            if tabulated:
                table = surface_table(applied, self._camera, self._dtype)
                maxima[:, zone] = look_up(table, numbers[:, zone])
            else:
                maxima[:, zone] = applied.surface(radiance[:, zone], self._camera.band)
        return np.where(np.isfinite(hottest), maxima, np.nan)

    def _seen(self, figures: NDArray[np.void], radiance: NDArray[np.float32], maxima: FloatArray) -> NDArray[np.intp]:
        """Say what each frame shows in each zone: bits in the order of `_SEEN`."""
        hottest, coldest, holes = figures["hottest"], figures["coldest"], figures["holes"]
        cold = _radiance(coldest, self._dtype, self._camera)
        clipped, low, beyond = (np.zeros(hottest.shape, np.bool_) for _ in range(3))
        if self._dtype.kind in "iu":
            ends = np.iinfo(self._dtype)
            top, bottom = (ends.min, ends.max) if falls(self._camera.signal) else (ends.max, ends.min)
            clipped, low = hottest == top, coldest == bottom
        if (span := range_degc(self._camera)) is not None:
            lowest, highest = np.float32(span[0]), np.float32(span[1])
            clipped, low, beyond = clipped | (radiance >= highest), low | (cold <= lowest), radiance > highest
        elsewhere = np.zeros(hottest.shape, np.bool_)
        if hottest.shape[1] > 1:
            elsewhere[:, -1] = maxima[:, -1] > np.fmax.reduce(maxima[:, :-1], axis=1)
        seen = (clipped, low, elsewhere, holes >= IMPOSSIBLE, holes % IMPOSSIBLE > 0, beyond)
        return np.asarray(sum(each.astype(np.intp) << bit for bit, each in enumerate(seen)))


def _radiance(stored: FloatArray, dtype: np.dtype[Any], camera: Camera) -> NDArray[np.float32]:
    """Radiance temperatures of stored numbers, exactly as those of whole frames; NaN where there is none."""
    radiance = radiance_temperature_of(_numbers(stored, dtype), camera)
    return np.where(np.isfinite(stored), radiance, np.float32(np.nan))


def _numbers(stored: FloatArray, dtype: np.dtype[Any]) -> NDArray[Any]:
    return np.where(np.isfinite(stored), stored, 0.0).astype(dtype)


def _flags_of(
    stretch: Stretch, task: MeasureTask, zones: Sequence[Zone], conditions: Conditions
) -> tuple[tuple[tuple[str, ...], ...], list[int]]:
    """Flags of every zone in all frames of a stretch, and the pixels that count."""
    if stretch.placement is None:
        return ((*stretch.flags, "not-placed"),) * len(zones), [0] * len(zones)
    declared, found = np.zeros(stretch.shape, np.bool_), np.zeros(stretch.shape, np.bool_)
    declared.flat[stretch.declared], found.flat[stretch.found] = True, True
    flags, counts = [], []
    for zone, where in zip(zones, geometry_of(task.board, stretch.placement).all, strict=True):
        dead, out = where.mask & declared[where.slices], where.mask & found[where.slices]
        counts.append(int(np.count_nonzero(where.mask & ~dead & ~out)))
        flags.append(
            (
                *stretch.flags,
                *applied_to(zone, conditions).flags,
                *flags_of_height(zone, stretch.placement),
                *flags_of_view(zone, stretch.placement),
                *flags_of_zone(zone, where, counts[-1] > 0),
                *(("dead-pixels-excluded",) if dead.any() else ()),
                *(("dead-pixel-found",) if out.any() else ()),
                *(("not-corrected",) if counts[-1] else ()),
            )
        )
    return tuple(flags), counts


_FORMAT: Final = "%.3f,%s,%.3f,%.3f,%.2f,%.2f,%.3f,%s\n"
_DECIMALS: Final = (3, 3, 3, 2, 2, 3)


def _lines(piece: Piece) -> str:
    """Write frames as lines of the table: all by one format where everything is known, else cell by cell."""
    frames, zones = piece.max_degc.shape
    time_s = np.repeat(piece.time_s[:, None], zones, axis=1)
    u_max_k = expanded(1.0) * np.hypot(piece.u_k, piece.u_shared_k)
    numbers = (time_s, piece.max_degc, u_max_k, piece.x_px, piece.y_px, piece.mean_degc)
    names = piece.names * frames
    flags = [piece.flags_text(zone, int(bits)) for row in piece.seen for zone, bits in enumerate(row)]
    if all(np.isfinite(each).all() for each in numbers):
        ready = [_ready(each, digits).ravel().tolist() for each, digits in zip(numbers, _DECIMALS, strict=True)]
        rows = zip(ready[0], names, *ready[1:], flags, strict=True)
        return (_FORMAT * len(names)) % tuple(chain.from_iterable(rows))
    cells = [
        [_cell(float(value), digits) for value in each.ravel()] for each, digits in zip(numbers, _DECIMALS, strict=True)
    ]
    rows_of_text = zip(cells[0], names, *cells[1:], flags, strict=True)
    return "".join(",".join(row) + "\n" for row in rows_of_text)


def _ready(values: FloatArray, decimals: int) -> FloatArray:
    """Make values round half up as everywhere else, without a negative zero, when they are formatted."""
    lifted = values + np.copysign(1e-9, values)
    return np.where(np.abs(lifted) < 0.5 * 10.0**-decimals, 0.0, lifted)


def _cell(value: float, decimals: int) -> str:
    return rounded(value, decimals) if np.isfinite(value) else ""
