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
    ImageAtBead,
    ZoneGrid,
    equality_check,
    grids_of_role,
    image_at,
    sorted_bead_flags,
)
from irspot.errors import IrspotError, Problem
from irspot.frame import FrameSource
from irspot.results import NAN, RunLabel
from irspot.series import Series
from irspot.workflow.crosscheck_bead import Bead, BeadReading, Seen, logger_of
from irspot.workflow.frame_times import FrameTimes
from irspot.workflow.opened import conditions_of, opened_sources
from irspot.workflow.run_logs import RunLogs, equality_channels, logs_of
from irspot.workflow.tasks import MeasureTask
from irspot.workflow.zone_series import Sample, SeriesMaker, samples_of, times_of

_MOST_SAMPLES: Final = 400
_SETTLED_MIN: Final = 60.0
"""Loggers want to be on for so long (published practice, see the flag's remedy)."""


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
    first = sources[0].frame(0).with_utc_offset(task.utc_offset)
    logs = logs_of(run, task.board, first.time_utc, task.utc_offset)
    if not logs.beads:
        return RunCrosscheck(run.id, timeline=_others(logs), problems=logs.problems)
    seen, problems = _seen(task, sources, [site for site, _ in logs.beads])
    label = RunLabel(run.id, run.board, run.load, run.side)
    beads = [Bead(task, site, series, logs, seen) for site, series in logs.beads]
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
    checks = equality_check(channels, logger_of(task), -math.inf, math.inf) if channels else ()
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


def _seen(
    task: MeasureTask, sources: tuple[FrameSource, ...], sites: Sequence[Site]
) -> tuple[Seen, tuple[Problem, ...]]:
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
    return Seen(tuple(samples), tuple(images), made.zones(), grids, reported), problems


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
