"""Thermocouples of one run held against its frames."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from irspot.board import Site
from irspot.conditions import Conditions
from irspot.crosscheck import (
    BeadValue,
    ClockOffset,
    Evidence,
    Fault,
    HotPlace,
    ImageAtBead,
    Logger,
    NoClock,
    Witnesses,
    ZoneGrid,
    bead_fault,
    bead_value,
    clock_offset,
    compared,
    equality_check,
    given_offset,
    grids_of_role,
    hot_place,
    image_at,
    likely_cause,
    masked,
    on_camera_clock,
    sampled_slowly,
    sorted_bead_flags,
    witnesses_of,
)
from irspot.errors import IrspotError, Problem
from irspot.frame import FrameSource
from irspot.results import NAN, RunLabel
from irspot.series import Series
from irspot.uncertain import with_uncertainty
from irspot.workflow.frame_times import FrameTimes
from irspot.workflow.opened import conditions_of, opened_sources
from irspot.workflow.run_logs import RunLogs, equality_channels, logs_of
from irspot.workflow.tasks import MeasureTask
from irspot.workflow.zone_series import Sample, SeriesMaker, samples_of, times_of

_AVERAGED_S: Final = 15.0
"""A bead's value at a time is its mean over so long before and after."""
_DRIFT_S: Final = 120.0
_LEAST_SAMPLES: Final = 20
"""Frames from which the offset of the clocks is sought."""
_MOST_SAMPLES: Final = 400
_SETTLED_MIN: Final = 60.0
"""Loggers want to be on for so long (published practice, see the flag's remedy)."""


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


@dataclass(frozen=True, slots=True)
class CrosscheckRow:
    """One row of crosscheck.csv."""

    label: RunLabel
    reading: BeadReading


@dataclass(frozen=True, slots=True, eq=False)
class RunCrosscheck:
    """What cross-checking one run gave.

    Parameters
    ----------
    run_id : str
    rows : tuple of CrosscheckRow
    timeline : tuple of Series
        Everything on the camera's clock.
    grids : dict of str to tuple of ZoneGrid
        Of every role with a bead's zone on the side seen, at the end of the run.
    problems : tuple of Problem
    """

    run_id: str
    rows: tuple[CrosscheckRow, ...] = ()
    timeline: tuple[Series, ...] = ()
    grids: tuple[tuple[str, tuple[ZoneGrid, ...]], ...] = ()
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """What the frames of a run show at its beads."""

    samples: tuple[Sample, ...]
    images: tuple[dict[str, ImageAtBead], ...]
    zones: tuple[Series, ...]
    grids: tuple[tuple[str, tuple[ZoneGrid, ...]], ...]
    reported: tuple[int, ...]


def crosscheck_run(task: MeasureTask) -> RunCrosscheck:
    """Hold a run's beads against its frames; whatever fails becomes a problem, never an error."""
    from irspot.workflow.measure_run import internal_problem, one_opencv_thread

    one_opencv_thread()
    try:
        return _crosschecked(task)
    except IrspotError as error:
        return RunCrosscheck(task.run.id, problems=error.problems())
    except Exception as error:  # a fault of ours in one run must not take the others down; it is reported as such
        return RunCrosscheck(task.run.id, problems=(internal_problem(error, task.run.id),))


def _crosschecked(task: MeasureTask) -> RunCrosscheck:
    run = task.run
    sources = opened_sources(task)
    first = sources[0].frame(0)
    first = first if task.utc_offset is None else first.with_utc_offset(task.utc_offset)
    logs = logs_of(run, task.board, first.time_utc, task.utc_offset)
    if not logs.beads:
        return RunCrosscheck(run.id, timeline=_others(logs), problems=logs.problems)
    seen, problems = _seen(task, sources, [site for site, _ in logs.beads])
    label = RunLabel(run.id, run.board, run.load, run.side)
    beads = [_Bead(task, site, series, logs, seen) for site, series in logs.beads]
    rows = tuple(CrosscheckRow(label, reading) for bead in beads for reading in bead.readings())
    off, more = _equality(task)
    rows = tuple(_with_flags(row, off.get(row.reading.site, ())) for row in rows)
    timeline = (*seen.zones, *(bead.on_our_clock for bead in beads), *_others(logs))
    return RunCrosscheck(run.id, rows, timeline, seen.grids, (*logs.problems, *problems, *more, *_unsettled(task)))


def _others(logs: RunLogs) -> tuple[Series, ...]:
    return (*(each for each in (logs.ambient, logs.power) if each is not None), *logs.sensors)


def _with_flags(row: CrosscheckRow, flags: Sequence[str]) -> CrosscheckRow:
    reading = replace(row.reading, flags=sorted_bead_flags((*row.reading.flags, *flags)))
    return replace(row, reading=reading)


def _unsettled(task: MeasureTask) -> tuple[Problem, ...]:
    on_min = task.run.witnesses.logger_on_min
    if on_min is None or on_min >= _SETTLED_MIN:
        return ()
    message = f"the logger had been on for {on_min:g} min only; {_SETTLED_MIN:g} are wanted before it has settled"
    return (Problem(message, severity="warning"),)


def _equality(task: MeasureTask) -> tuple[dict[str, tuple[str, ...]], tuple[Problem, ...]]:
    """Hold the channels against one another without power; give the flags of each site, and warnings."""
    channels, problems = equality_channels(task.run, task.board)
    checks = equality_check(channels, _logger(task), -math.inf, math.inf) if channels else ()
    off = tuple(
        Problem(
            f"without power the channel of '{check.name}' is {check.off_k:+.2f} K from the others, more than the "
            f"{check.allowed_k:.2f} K that they allow",
            str(task.run.witnesses.equality_log),
            severity="warning",
        )
        for check in checks
        if check.agrees is False
    )
    return {check.name: check.flags for check in checks}, (*problems, *off)


def _logger(task: MeasureTask) -> Logger:
    known = task.run.witnesses
    return Logger(known.logger_limit_k or None, known.cold_junction_limit_k or None)


def _seen(
    task: MeasureTask, sources: tuple[FrameSource, ...], sites: Sequence[Site]
) -> tuple[_Seen, tuple[Problem, ...]]:
    run, conditions = task.run, conditions_of(task.run)
    stills = not run.recording and all(source.count == 1 for source in sources)
    times, problems = _times(task, sources, stills=stills)
    sampled = task
    if not stills:
        sample_s = max(run.sample_s or 1.0, float(times.time_s[-1]) / _MOST_SAMPLES)
        sampled = replace(task, run=replace(run, sample_s=sample_s))
    made, samples, images = SeriesMaker(), [], []
    last: Sample | None = None
    for sample in samples_of(sampled, sources, times):
        made.add(sample)
        images.append({site.id: _image(task, sample, site, conditions) for site in sites})
        last = sample if sample.placement is not None else last
        samples.append(replace(sample, frame=None, placement=None))
    grids = () if last is None else _grids(task, last, sites, conditions)
    reported = tuple(range(len(samples))) if stills else (len(samples) - 1,)
    return _Seen(tuple(samples), tuple(images), made.zones(), grids, reported), problems


def _times(
    task: MeasureTask, sources: tuple[FrameSource, ...], *, stills: bool
) -> tuple[FrameTimes, tuple[Problem, ...]]:
    """Give the times of frames; a single still needs none."""
    if stills and len(sources) == 1:
        return FrameTimes(np.zeros(1)), ()
    return times_of(task, sources), ()


def _image(task: MeasureTask, sample: Sample, site: Site, conditions: Conditions) -> ImageAtBead:
    if sample.frame is None or sample.placement is None:
        return ImageAtBead(NAN, NAN, (), 0, ("not-placed",), NAN, "", site.side == task.run.side)
    return image_at(sample.frame, task.board, sample.placement, conditions, site)


def _grids(
    task: MeasureTask, sample: Sample, sites: Sequence[Site], conditions: Conditions
) -> tuple[tuple[str, tuple[ZoneGrid, ...]], ...]:
    assert sample.frame is not None
    assert sample.placement is not None
    roles = dict.fromkeys(zone.role for zone in task.board.zones_of(task.run.side) if zone.role)
    return tuple((role, grids_of_role(sample.frame, task.board, sample.placement, conditions, role)) for role in roles)


class _Bead:
    """One bead of a run, held against what the frames show at its place."""

    def __init__(self, task: MeasureTask, site: Site, series: Series, logs: RunLogs, seen: _Seen) -> None:
        self._task, self._site, self._logs, self._seen = task, site, logs, seen
        others = [other for other_site, other in logs.beads if other_site.id != site.id]
        around = Witnesses(
            logs.ambient if logs.ambient is not None else task.run.ambient_degc,
            witnesses_of(series, others, ()),
            logs.power,
        )
        self._series = series
        self._fault = bead_fault(series, around)
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
        reading = replace(
            BeadReading(self._site.id, sample.time_s),
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
        return bead_value(read, self._site, _logger(self._task), self._ambient_degc(at_s), math.hypot(noise_k, drift_k))

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
