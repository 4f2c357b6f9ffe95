"""One thermocouple of a run, held against what the frames show at its place."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from irspot.board import Site
from irspot.crosscheck import (
    BeadValue,
    ClockOffset,
    Evidence,
    Fault,
    HotPlace,
    ImageAtBead,
    Logger,
    NoClock,
    ZoneGrid,
    bead_value,
    clock_offset,
    compared,
    given_offset,
    hot_place,
    likely_cause,
    masked,
    on_camera_clock,
    sampled_slowly,
    sorted_bead_flags,
)
from irspot.results import NAN
from irspot.series import Series
from irspot.uncertain import with_uncertainty
from irspot.workflow.run_logs import RunLogs, fault_of
from irspot.workflow.tasks import MeasureTask
from irspot.workflow.zone_series import Sample

_AVERAGED_S: Final = 15.0
"""A bead's value at a time is its mean over so long before and after."""
_DRIFT_S: Final = 120.0
_LEAST_SAMPLES: Final = 20
"""Frames from which the offset of the clocks is sought."""


@dataclass(frozen=True, slots=True)
class BeadReading:
    """One bead held against one frame: a row of crosscheck.csv. What is not known is NaN, or None.

    Parameters
    ----------
    site : str
    time_s : float
        Of the frame, from the run's first.
    bead_degc, U_bead_k, image_degc, U_image_k, difference_k, en : float
    agrees : str
        ``yes``, ``no`` or empty.
    clock_offset_s : float
    likely_cause, hot_zone : str
    hot_distance_mm, hot_dx_mm, hot_dy_mm, hot_gain_k : float
    detached_from_s : float
    flags : tuple of str
    advice : str
    u_clock_s, lag_s : float
    """

    site: str
    time_s: float
    bead_degc: float = NAN
    U_bead_k: float = NAN
    image_degc: float = NAN
    U_image_k: float = NAN
    difference_k: float = NAN
    en: float = NAN
    agrees: str = ""
    clock_offset_s: float = NAN
    likely_cause: str = ""
    hot_zone: str = ""
    hot_distance_mm: float = NAN
    hot_dx_mm: float = NAN
    hot_dy_mm: float = NAN
    hot_gain_k: float = NAN
    detached_from_s: float = NAN
    flags: tuple[str, ...] = ()
    advice: str = ""
    u_clock_s: float = NAN
    lag_s: float = NAN


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What the frames of a run show at its beads."""

    samples: tuple[Sample, ...]
    images: tuple[dict[str, ImageAtBead], ...]
    zones: tuple[Series, ...]
    grids: tuple[tuple[str, tuple[ZoneGrid, ...]], ...]
    reported: tuple[int, ...]


def logger_of(task: MeasureTask) -> Logger:
    """Say what the makers of a run's logger promise."""
    known = task.run.witnesses
    return Logger(known.logger_limit_k or None, known.cold_junction_limit_k or None)


class Bead:
    """One bead of a run, held against what the frames show at its place."""

    def __init__(self, task: MeasureTask, site: Site, series: Series, logs: RunLogs, seen: Seen) -> None:
        self._task, self._site, self._logs, self._seen = task, site, logs, seen
        self._series = series
        self._fault = fault_of(series, logs, task.run)
        self._sound = masked(series, self._fault)
        self._clock, self._clock_flags = self._offset()
        self.on_our_clock = on_camera_clock(self._sound, self._clock)

    def _offset(self) -> tuple[ClockOffset, tuple[str, ...]]:
        given = self._task.run.witnesses.clock_offset_s
        if given is not None:
            return given_offset(given), ("clock-offset-given",)
        if len(self._seen.samples) >= _LEAST_SAMPLES:
            found = clock_offset(self._image_series(), self._sound, same_side=self._same_side)
            if not isinstance(found, NoClock):
                return found, ()
        return given_offset(0.0, 0.0 if self._logs.aligned else 60.0), ("clock-offset-unknown",)

    @property
    def _same_side(self) -> bool:
        return self._site.side == self._task.run.side

    def _image_series(self) -> Series:
        values = np.array([images[self._site.id].degc for images in self._seen.images])
        time_s = np.array([sample.time_s for sample in self._seen.samples])
        accuracy = self._task.run.camera.accuracy
        u = np.full(values.shape, max(0.01, math.hypot(accuracy.noise_k / 4.0, accuracy.repeatability_k)))
        return Series(self._site.id, "zone", "degC", time_s, values, u)

    def readings(self) -> list[BeadReading]:
        """Give a row for every frame that is reported."""
        return [self._reading(index) for index in self._seen.reported]

    def _reading(self, index: int) -> BeadReading:
        sample, image = self._seen.samples[index], self._seen.images[index][self._site.id]
        at_s = self._bead_time_s(sample.time_s)
        bead = self._value(at_s)
        agreement = compared(bead.degc, bead.U_k, image.degc, image.U_k, same_side=self._same_side)
        ambient = self._ambient_degc(at_s)
        evidence = Evidence(
            agreement.difference_k,
            bead,
            image,
            NAN if ambient is None else image.degc - ambient,
            self._drift_k_per_s(at_s),
            self._clock,
            self._fault_until(at_s),
        )
        place = hot_place(self._task.board, sample.readings, self._site, image)
        reading = BeadReading(
            self._site.id,
            sample.time_s,
            bead_degc=bead.degc,
            U_bead_k=bead.U_k,
            image_degc=image.degc,
            U_image_k=image.U_k,
            difference_k=agreement.difference_k,
            en=agreement.en,
            agrees="" if agreement.agrees is None else ("yes" if agreement.agrees else "no"),
            clock_offset_s=self._clock.offset_s,
            u_clock_s=self._clock.u_s,
            lag_s=self._clock.lag_s,
            likely_cause=likely_cause(evidence, agreement.agrees),
            detached_from_s=NAN if self._fault is None else self._fault.from_s - self._clock.offset_s,
            flags=sorted_bead_flags(self._flags(bead, image)),
        )
        return reading if place is None else _with_place(reading, place)

    def _bead_time_s(self, frame_s: float) -> float:
        """When the frame was taken, by the time of `on_our_clock`; the log's end where nothing ties a still to it."""
        known = self._logs.aligned or "clock-offset-unknown" not in self._clock_flags
        if known or len(self._seen.samples) > 1 or not self.on_our_clock.time_s.size:
            return frame_s
        return float(self.on_our_clock.time_s[-1]) - _AVERAGED_S

    def _value(self, at_s: float) -> BeadValue:
        series = self.on_our_clock
        near = (np.abs(series.time_s - at_s) <= _AVERAGED_S) & np.isfinite(series.value)
        count = int(near.sum())
        read = float(series.value[near].mean()) if count else float(series.at(np.array([at_s]))[0])
        noise_k = float(series.u[near].mean() / math.sqrt(count)) if count else 0.0
        drift_k = abs(self._drift_k_per_s(at_s)) * self._clock.u_s
        return bead_value(
            read, self._site, logger_of(self._task), self._ambient_degc(at_s), math.hypot(noise_k, drift_k)
        )

    def _ambient_degc(self, at_s: float) -> float | None:
        if self._logs.ambient is not None:
            value = float(self._logs.ambient.at(np.array([at_s]))[0])
            if math.isfinite(value):
                return value
        return self._task.run.ambient_degc

    def _drift_k_per_s(self, at_s: float) -> float:
        series = self.on_our_clock
        near = (np.abs(series.time_s - at_s) <= _DRIFT_S) & np.isfinite(series.value)
        if near.sum() < 3:
            return 0.0
        return float(np.polyfit(series.time_s[near] - at_s, series.value[near], 1)[0])

    def _fault_until(self, at_s: float) -> Fault | None:
        fault = self._fault
        return fault if fault is not None and fault.from_s - self._clock.offset_s <= at_s else None

    def _flags(self, bead: BeadValue, image: ImageAtBead) -> list[str]:
        flags = [*bead.flags, *image.flags, *self._clock_flags]
        flags += [] if self._fault is None else [self._fault.kind]
        return flags + (["sampled-slowly"] if sampled_slowly(self._series) else [])


def _with_place(reading: BeadReading, place: HotPlace) -> BeadReading:
    return replace(
        reading,
        hot_zone=place.zone,
        hot_distance_mm=place.distance_mm,
        hot_dx_mm=place.dx_mm,
        hot_dy_mm=place.dy_mm,
        hot_gain_k=place.gain_k,
        advice=place.sentence,
    )


def sentence(reading: BeadReading) -> str:
    """Say what a row says, for people."""
    bead = with_uncertainty(reading.bead_degc, reading.U_bead_k, "°C") or "nothing to believe"
    image = with_uncertainty(reading.image_degc, reading.U_image_k, "°C") or "nothing"
    judged = {"yes": "they agree", "no": "they disagree"}.get(reading.agrees, "not judged")
    parts = [f"{reading.site} {bead}, image {image}: {judged}"]
    parts += [f"En {reading.en:.2f}"] if math.isfinite(reading.en) else []
    parts += [f"likely {reading.likely_cause}"] if reading.likely_cause else []
    parts += [f"not believed from {reading.detached_from_s:.0f} s on"] if math.isfinite(reading.detached_from_s) else []
    parts += [reading.advice] if reading.advice else []
    flags = f" [{' '.join(reading.flags)}]" if reading.flags else ""
    return "; ".join(parts) + flags
