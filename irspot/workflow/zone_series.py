"""Zones over a run's time: frames taken every so often, each followed and fully measured."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from irspot.columns import FULL_RATE_COLUMNS, SERIES_COLUMNS, Column
from irspot.constants import DEFAULT_SAMPLE_S
from irspot.errors import IrspotError, PlacementRefused, Problem
from irspot.frame import Frame, FrameSource
from irspot.readers.times import Taken
from irspot.results import Reading, Row, RunLabel, flagged
from irspot.series import Series
from irspot.uncertain import combined
from irspot.workflow.camera_state import cold_frame_of, in_that_state
from irspot.workflow.even_frames import map_of_run
from irspot.workflow.follow_run import RunPlacer
from irspot.workflow.frame_times import FrameTimes, rising_times
from irspot.workflow.logged_references import LoggedReferences
from irspot.workflow.opened import conditions_of, opened_sources, wish_of
from irspot.workflow.readout import Joined
from irspot.workflow.tasks import FrameFacts, MeasureTask, RunSeries

if TYPE_CHECKING:
    from irspot.registration.placement import Placement

BY_ITSELF: Final = frozenset({"noise", "repeatability", "noise bias"})
"""Terms whose error differs from frame to frame; those of all others are the same over a run."""


@dataclass(frozen=True, slots=True)
class Sample:
    """One frame of a run, measured.

    Parameters
    ----------
    index : int
        Of the frame among all of the run.
    time_s : float
    readings : tuple of Reading
    refusal : PlacementRefused or None
        Why the board was not placed in it.
    frame : Frame or None
        As it was measured; None where it was measured before.
    placement : Placement or None
    """

    index: int
    time_s: float
    readings: tuple[Reading, ...]
    refusal: PlacementRefused | None = None
    frame: Frame | None = None
    placement: Placement | None = None


def zone_series(task: MeasureTask) -> tuple[Series, ...]:
    """Measure a run's zones over its time.

    Parameters
    ----------
    task : MeasureTask
        A run that states no `sample_s`, or 0, is sampled every 10 s; of stills every frame is a sample.

    Returns
    -------
    tuple of Series
        The maximum of each zone of the side in the board file's order, then of `elsewhere`: NaN where it could not be
        measured, or the reading is to be retaken. ``u`` is what noise and repeatability add in each frame; ``u_shared``
        the rest, the largest of all samples.

    Raises
    ------
    IrspotError
        If a file cannot be read, or nothing says when the frames were taken.
    """
    sources = opened_sources(task)
    made = SeriesMaker()
    for sample in samples_of(task, sources, times_of(task, sources)):
        made.add(sample)
    return made.zones()


def sampled_series(task: MeasureTask) -> tuple[RunSeries, tuple[Problem, ...]]:
    """Measure a recording over its time, with the table that says all of it, and what is worth a warning.

    Raises
    ------
    IrspotError
        As `zone_series`.
    """
    sources = opened_sources(task)
    return _made(task, samples_of(task, sources, times_of(task, sources)))


def every_frame(task: MeasureTask) -> tuple[RunSeries, tuple[Problem, ...]]:
    """Measure every picture of a recording whose numbers have to be decoded; the table has the columns of full rate.

    Raises
    ------
    IrspotError
        As `zone_series`.
    """
    sources = opened_sources(task)
    times = times_of(task, sources)
    return _made(task, samples_of(task, sources, times, range(len(times.time_s))), FULL_RATE_COLUMNS)


def series_of_stills(task: MeasureTask, facts: Sequence[FrameFacts], taken: Sequence[Taken]) -> RunSeries:
    """Give stills that were measured already as a series.

    Parameters
    ----------
    task : MeasureTask
    facts : sequence of FrameFacts
    taken : sequence of Taken
        When each was.

    Raises
    ------
    FrameUnreadable
        If nothing says when they were taken, or they are not in the order of their times.
    """
    times = rising_times(_Stamps(tuple(taken)), task.run.frame_interval_s, f"run {task.run.id}")
    measured = (
        Sample(index, float(time_s), tuple(flagged(r, times.flags) for r in fact.readings), fact.refusal)
        for index, (fact, time_s) in enumerate(zip(facts, times.time_s, strict=True))
    )
    return _made(task, measured)[0]


@dataclass(frozen=True, slots=True)
class _Stamps:
    """Frames of which only the times are left."""

    stamps: tuple[Taken, ...]

    @property
    def count(self) -> int:
        return len(self.stamps)

    def taken(self) -> Iterator[Taken]:
        return iter(self.stamps)

    def frame(self, index: int) -> Frame:
        raise IndexError(index)


def sampled_indices(time_s: NDArray[np.float64], sample_s: float) -> NDArray[np.intp]:
    """Find the frames nearest to every multiple of a time, each once.

    Parameters
    ----------
    time_s : ndarray, shape (count,)
        Rising from 0.
    sample_s : float

    Returns
    -------
    ndarray of int

    Examples
    --------
    >>> sampled_indices(np.arange(10) * 0.4, 1.0).tolist()
    [0, 2, 5, 7]
    """
    # A little more than the last: a recording of one hour at 9 Hz ends a ninth of a second before the hour.
    wanted = np.arange(np.floor(time_s[-1] / sample_s + 1e-9) + 1.0) * sample_s
    after = np.clip(np.searchsorted(time_s, wanted), 1, max(len(time_s) - 1, 1))
    before = after - 1
    if len(time_s) == 1:
        return np.zeros(1, np.intp)
    nearer = np.where(wanted - time_s[before] <= time_s[after] - wanted, before, after)
    return np.unique(nearer)


def times_of(task: MeasureTask, sources: tuple[FrameSource, ...]) -> FrameTimes:
    """Find when all frames of a run were taken."""
    files = task.run.frame_files
    name = files[0].name if len(files) == 1 else f"{files[0].name}..{files[-1].name}"
    return rising_times(Joined(sources), task.run.frame_interval_s, name)


def samples_of(
    task: MeasureTask, sources: tuple[FrameSource, ...], times: FrameTimes, chosen: Iterable[int] | None = None
) -> Iterator[Sample]:
    """Measure the frames of a run that are its samples, or chosen ones, one after another.

    Yields
    ------
    Sample
    """
    run = task.run
    joined = Joined(sources)
    placer = RunPlacer(task)
    stills = not run.recording and all(source.count == 1 for source in sources)
    if not stills:
        placer.begin(joined)
    measurer = FrameMeasurer(task)
    if chosen is None:
        every_s = run.sample_s or DEFAULT_SAMPLE_S
        chosen = range(joined.count) if stills else sampled_indices(times.time_s, every_s).tolist()
    for index in chosen:
        frame = joined.frame(index).with_utc_offset(task.utc_offset)
        frame = replace(frame, flags=(*frame.flags, *times.flags))
        yield measurer.measured(placer, frame, index, float(times.time_s[index]))


class FrameMeasurer:
    """Measures a run's frames, corrected by cold frame, warm-up and emissivity map.

    Raises
    ------
    MapRefused
        If the run's emissivity map cannot be trusted.
    """

    def __init__(self, task: MeasureTask) -> None:
        self._task = task
        self._conditions = conditions_of(task.run)
        self._cold = cold_frame_of(task.run, self._conditions)
        self._map = map_of_run(task.run, task.board, wish_of(task.run), self._cold)
        self._references = LoggedReferences(task)

    def measured(self, placer: RunPlacer, frame: Frame, index: int, time_s: float) -> Sample:
        """Measure one frame, or say why the board was not placed in it."""
        from irspot.measurement import held, measure_zones, unplaced_readings

        task = self._task
        frame, _ = in_that_state(frame, self._cold, task.run.camera_on_min)
        try:
            placed = placer.place(frame)
        except PlacementRefused as refusal:
            readings = unplaced_readings(frame, task.board, task.run.side, self._conditions)
            return Sample(index, time_s, readings, refusal)
        frame = replace(frame, flags=(*frame.flags, *placed.flags))
        board = self._references.board_at(frame, time_s)
        frame = held(frame, board, placed.placement, self._conditions)
        readings = measure_zones(frame, board, placed.placement, self._conditions, self._map)
        return Sample(index, time_s, readings, None, frame, placed.placement)


@dataclass(slots=True)
class _Values:
    """One zone's values as they come."""

    time_s: list[float] = field(default_factory=list)
    value: list[float] = field(default_factory=list)
    u: list[float] = field(default_factory=list)
    u_shared: float = 0.0


class SeriesMaker:
    """Keeps of measured frames what a series needs."""

    def __init__(self) -> None:
        self._zones: dict[str, _Values] = {}

    def add(self, sample: Sample) -> None:
        """Add a frame."""
        for reading in sample.readings:
            values = self._zones.setdefault(reading.zone, _Values())
            values.time_s.append(sample.time_s)
            values.value.append(np.nan if reading.verdict == "retake" else reading.max_degc)
            values.u.append(combined(term for term in reading.budget if term.name in BY_ITSELF))
            shared = combined(term for term in reading.budget if term.name not in BY_ITSELF)
            values.u_shared = max(values.u_shared, shared)

    def zones(self) -> tuple[Series, ...]:
        """Give every zone's series."""
        return tuple(
            Series(name, "zone", "degC", np.array(kept.time_s), np.array(kept.value), np.array(kept.u), kept.u_shared)
            for name, kept in self._zones.items()
        )


def _made(
    task: MeasureTask, samples: Iterable[Sample], columns: Sequence[Column] = SERIES_COLUMNS
) -> tuple[RunSeries, tuple[Problem, ...]]:
    from irspot.exports.tables import csv_head, csv_lines

    run = task.run
    label = RunLabel(run.id, run.board, run.load, run.side)
    made, lines, count, refused = SeriesMaker(), [csv_head(columns)], 0, []
    for sample in samples:
        made.add(sample)
        rows = [Row(label, reading, sample.time_s) for reading in sample.readings]
        lines.append(csv_lines(rows, columns))
        count += 1
        if sample.refusal is not None:
            refused.append(sample.refusal)
    return RunSeries(made.zones(), "".join(lines).encode()), unplaced_warning(refused, len(refused), count)


def unplaced_warning(refused: list[PlacementRefused], frames: int, count: int) -> tuple[Problem, ...]:
    """Say once of all samples in which the board was not placed that it was not, and why in the first."""
    if not refused:
        return ()
    first: IrspotError = refused[0]
    message = f"over time the board could not be placed in {frames} of {count} frames; in the first: "
    return (Problem(message + first.message, first.file, hint=first.hint, severity="warning"),)
