"""Phase one: a run's frames read, placed and measured. A task of its own, so it can run anywhere."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from irspot.errors import IrspotError, MapRefused, PlacementRefused, Problem
from irspot.frame import Frame, FrameSource
from irspot.readers.times import Taken
from irspot.results import Reading, Row, RunLabel
from irspot.study import Run
from irspot.workflow.camera_state import ColdFrame, cold_frame_of, held_json, in_that_state, reference_warnings
from irspot.workflow.even_frames import map_of_run, named
from irspot.workflow.follow_run import RunPlacer
from irspot.workflow.logged_references import LoggedReferences
from irspot.workflow.moves import moved_json, nudge_warnings, readout_json
from irspot.workflow.opened import Opened, conditions_of, opened_files, wish_of
from irspot.workflow.photos import placed_photo
from irspot.workflow.provenance import file_digest, placement_json
from irspot.workflow.still_watch import Break, StillWatch
from irspot.workflow.tasks import FrameFacts, MeasureTask, RunResult, RunSeries

if TYPE_CHECKING:
    from irspot.measurement import EmissivityMap
    from irspot.registration.moved import Moved


def measure_run(task: MeasureTask) -> RunResult:
    """Measure every still of a run, or its readout; whatever fails becomes a problem of the result, never an error.

    Parameters
    ----------
    task : MeasureTask

    Returns
    -------
    RunResult
    """
    one_opencv_thread()
    try:
        with ThreadPoolExecutor(1) as beside:
            # Beside the measuring, so that a long recording comes from the disk once for both.
            digests = beside.submit(_digests, task.run)
            return replace(_measured(task), digests=digests.result())
    except IrspotError as error:
        return RunResult(task.run.id, problems=error.problems())
    except Exception as error:  # a fault of ours in one run must not take the others down; it is reported as such
        return RunResult(task.run.id, problems=(internal_problem(error, task.run.id),))


def internal_problem(error: Exception, run_id: str) -> Problem:
    """Describe a fault of the tool itself in one line."""
    return Problem(
        f"a fault of irspot itself ({type(error).__name__}: {error})",
        key=f"run {run_id}",
        hint="please report it with this line; the other runs are not affected",
    )


def one_opencv_thread() -> None:
    """Keep OpenCV to one thread a task: the tasks themselves use the cores."""
    from irspot.opencv import load_cv2

    load_cv2().setNumThreads(1)


def still_frame(source: FrameSource, task: MeasureTask) -> Frame:
    """Read a still."""
    return source.frame(0).with_utc_offset(task.utc_offset)


def _measured(task: MeasureTask) -> RunResult:
    run = task.run
    label = RunLabel(run.id, run.board, run.load, run.side)
    placer, logged = RunPlacer(task), LoggedReferences(task)
    cold = cold_frame_of(run, conditions_of(run))
    mapped = _map_or_why(task, cold)
    facts: list[FrameFacts] = []
    readings: list[Reading] = []
    taken: list[Taken] = []
    problems: list[Problem] = [*cold.problems]
    before: Moved | None = None
    for opened in opened_files(task):
        problems.extend(opened.problems)
        if opened.source is None:
            continue
        try:
            reported, disagreements = _in_that_state(_reported(task, placer, opened, opened.source), cold, run)
        except IrspotError as error:
            problems.extend(error.problems())
            continue
        try:
            fact, moved = _measured_frame(task, placer, reported, (mapped, logged))
        except MapRefused as refused:
            readings += unmapped_readings(reported.frame, task)
            problems += [problem for problem in refused.problems() if problem not in problems]
            continue
        facts.append(fact)
        taken.append(Taken(reported.frame.time_utc, reported.frame.time_local))
        readings += fact.readings
        problems += (*disagreements, *fact.warnings)
        problems += () if fact.refusal is None else fact.refusal.problems()
        problems += nudge_warnings(fact.name, moved, before, reported.breaks)
        before = moved
    series, more = _series(task, facts, taken)
    problems += (*more, *logged.problems)
    photo, without = placed_photo(task)
    problems.extend(problem for problem in without if problem not in problems)
    rows = tuple(Row(label, reading) for reading in readings)
    even = None if mapped is None or isinstance(mapped, MapRefused) else mapped.placement
    return RunResult(run.id, rows, tuple(facts), tuple(problems), {}, photo, series, even, cold)


def _series(
    task: MeasureTask, facts: list[FrameFacts], taken: list[Taken]
) -> tuple[RunSeries | None, tuple[Problem, ...]]:
    """Measure over time where the run asks for it: its stills are its samples, of a recording frames are taken."""
    from irspot.workflow.full_rate_run import full_rate_series
    from irspot.workflow.zone_series import every_frame, sampled_series, series_of_stills

    if task.run.sample_s is None or not facts:
        return None, ()
    try:
        if all(fact.kept is None for fact in facts):
            return series_of_stills(task, facts, taken), ()
        if task.run.sample_s != 0.0:
            return sampled_series(task)
        return every_frame(task) if _corrected(task) else full_rate_series(task)
    except IrspotError as error:
        return None, error.problems()


def _corrected(task: MeasureTask) -> bool:
    """Whether frames are corrected before they are measured, which what is found on stored counts would pass over."""
    from irspot.measurement.warm_up import warming

    run = task.run
    too_soon = warming(run.camera.accuracy, run.camera_on_min)
    return bool(run.cold_frame_files or run.even or task.board.references or too_soon)


def _digests(run: Run) -> dict[str, str]:
    return {str(file): file_digest(file) for file in run.input_files if file.is_file()}


def _map_or_why(task: MeasureTask, cold: ColdFrame) -> EmissivityMap | MapRefused | None:
    """Make the run's emissivity map; where there is none that could be trusted, say why."""
    try:
        return map_of_run(task.run, task.board, wish_of(task.run), cold)
    except MapRefused as refused:
        return refused


def unmapped_readings(frame: Frame, task: MeasureTask) -> tuple[Reading, ...]:
    """Give a frame whose map was refused empty rows: other emissivities than the run wants would give others."""
    from irspot.measurement import unplaced_readings

    return unplaced_readings(frame, task.board, task.run.side, conditions_of(task.run), "map-refused")


@dataclass(frozen=True, slots=True)
class _Reported:
    """A frame to be reported: a still, or the readout of a recording.

    Parameters
    ----------
    file_index : int
    frame : Frame
    kept : range or None
        Which frames of the recording are in it.
    breaks : tuple of Break
        Where the board moved during the readout.
    """

    file_index: int
    frame: Frame
    kept: range | None = None
    breaks: tuple[Break, ...] = ()


def _reported(task: MeasureTask, placer: RunPlacer, opened: Opened, source: FrameSource) -> _Reported:
    from irspot.workflow.readout import still_readout

    run = task.run
    if source.count == 1:
        return _Reported(opened.file_index, still_frame(source, task))
    placer.begin(source)
    watch = StillWatch(placer)
    frame, kept = still_readout(source, run.readout, run.frame_interval_s, task.utc_offset, opened.name, watch)
    if any(found.nudge for found in watch.breaks):
        frame = replace(frame, flags=(*frame.flags, "nudged"))
    return _Reported(opened.file_index, frame, kept, tuple(watch.breaks))


def _in_that_state(reported: _Reported, cold: ColdFrame, run: Run) -> tuple[_Reported, tuple[Problem, ...]]:
    frame, problems = in_that_state(reported.frame, cold, run.camera_on_min)
    return replace(reported, frame=frame), problems


def _measured_frame(
    task: MeasureTask,
    placer: RunPlacer,
    reported: _Reported,
    known: tuple[EmissivityMap | MapRefused | None, LoggedReferences],
) -> tuple[FrameFacts, Moved | None]:
    from irspot.measurement import blur_of, held, measure_zones, surface_map, unplaced_readings, with_draws
    from irspot.measurement.normalised import normalised

    mapped, logged = known
    if isinstance(mapped, MapRefused):
        raise mapped
    frame, conditions = reported.frame, conditions_of(task.run)
    board = logged.board_at(frame, _middle_s(task.run, reported.kept))
    try:
        placed = placer.place(frame)
    except PlacementRefused as refusal:
        readings = unplaced_readings(frame, task.board, task.run.side, conditions)
        return replace(_facts(reported, frame, readings), refusal=refusal), None
    frame = held(replace(frame, flags=(*frame.flags, *placed.flags)), board, placed.placement, conditions)
    try:
        readings = measure_zones(frame, board, placed.placement, conditions, mapped)
    except MapRefused as refused:
        assert task.run.even is not None
        raise named(refused, task.run.even) from refused
    readings = tuple(normalised(reading, task.reference_ambient_degc) for reading in readings)
    if task.draws:
        readings = with_draws(readings, board, task.run.side, frame.camera.band, task.draws)
    shown = surface_map(frame, board, placed.placement, conditions, mapped)
    low, high = robust_extremes(shown, readings)
    described = (
        placement_json(placed.placement) | moved_json(placed.moved) | readout_json(reported.kept, reported.breaks)
    )
    facts = _facts(reported, frame, readings)
    outline_px = blur_of(frame, placed.placement, task.board.outline).outline_px
    facts = replace(
        facts,
        placement=described,
        placed=placed.placement,
        low_degc=low,
        high_degc=high,
        outline_blur_px=np.nan if outline_px is None else outline_px,
        held=held_json(frame.held),
        warnings=reference_warnings(frame),
        board=board,
    )
    return facts, placed.moved


def _middle_s(run: Run, kept: range | None) -> float | None:
    """Say when a readout was taken, from the run's first frame, where frames come at a stated interval."""
    if kept is None or run.frame_interval_s is None:
        return None
    return run.frame_interval_s * (kept[0] + kept[-1]) / 2.0


def _facts(reported: _Reported, frame: Frame, readings: tuple[Reading, ...]) -> FrameFacts:
    size = (frame.shape[1], frame.shape[0])
    return FrameFacts(
        frame.name, frame.time_text, reported.file_index, size, frame.notes, {}, np.nan, np.nan, readings, reported.kept
    )


def robust_extremes(shown_degc: np.ndarray, readings: tuple[Reading, ...]) -> tuple[float, float]:
    """Find what a picture's scale has to span: the 1st percentile of the frame, and the hottest reading in it.

    Parameters
    ----------
    shown_degc : ndarray, shape (rows, columns)
    readings : tuple of Reading

    Returns
    -------
    tuple of float
        NaN where there is nothing to show.
    """
    finite = shown_degc[np.isfinite(shown_degc)]
    if finite.size == 0:
        return float("nan"), float("nan")
    maxima = [reading.max_degc for reading in readings if np.isfinite(reading.max_degc)]
    return float(np.percentile(finite, 1.0)), max(maxima, default=float(np.percentile(finite, 99.9)))
