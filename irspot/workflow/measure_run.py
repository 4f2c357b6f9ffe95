"""Phase one: a run's frames read, placed and measured. A task of its own, so it can run anywhere."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from irspot.color_wish import BarScale, ColorWish, ScaleLog
from irspot.conditions import Conditions
from irspot.constants import DEFAULT_U_REFLECTED_K
from irspot.errors import IrspotError, PlacementRefused, Problem
from irspot.frame import Frame
from irspot.results import Reading, Row, RunLabel
from irspot.study import Run
from irspot.workflow.photos import placed_photo
from irspot.workflow.provenance import file_digest, placement_json
from irspot.workflow.tasks import FrameFacts, MeasureTask, RunResult

if TYPE_CHECKING:
    from irspot.registration.placement import Placement


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
        return _measured(task)
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


def conditions_of(run: Run) -> Conditions:
    """Gather a run's conditions."""
    return Conditions(
        ambient_degc=run.ambient_degc,
        u_ambient_k=run.u_ambient_k,
        reflected_degc=run.reflected_degc,
        u_reflected_k=DEFAULT_U_REFLECTED_K if run.u_reflected_k is None else run.u_reflected_k,
        transmission=run.transmission,
        u_transmission=run.u_transmission,
        window_degc=run.window_degc,
    )


def wish_of(run: Run) -> ColorWish:
    """Gather what a run says about colour bars: labels are read only where the study asks for it."""
    given = run.color_scale_degc
    scale = BarScale.of_ends(*given) if isinstance(given, tuple) else None
    log = given if isinstance(given, ScaleLog) else None
    return ColorWish(scale=scale, printed=given == "printed", ambient_degc=run.ambient_degc, log=log)


@dataclass(frozen=True, slots=True)
class Opened:
    """A frame to be reported, or why there is none."""

    file_index: int
    frame: Frame | None
    problems: tuple[Problem, ...] = ()


def reported_frames(task: MeasureTask) -> Iterator[Opened]:
    """Read what a run reports: each still, or the one readout of a recording.

    Yields
    ------
    Opened
        A still that cannot be read is a problem; the others follow all the same.
    """
    from irspot.workflow.open_any import open_any
    from irspot.workflow.readout import Joined, readout_frame

    run, wish = task.run, wish_of(task.run)
    if run.recording and len(run.frame_files) > 1:
        joined = Joined(tuple(open_any(file, run.camera, wish) for file in run.frame_files))
        name = f"{run.frame_files[0].name}..{run.frame_files[-1].name}"
        yield Opened(0, readout_frame(joined, run.readout, run.frame_interval_s, task.utc_offset, name))
        return
    for index, file in enumerate(run.frame_files):
        try:
            source = open_any(file, run.camera, wish)
            if source.count > 1:
                frame = readout_frame(source, run.readout, run.frame_interval_s, task.utc_offset, file.name)
            else:
                frame = source.frame(0)
                frame = frame if task.utc_offset is None else frame.with_utc_offset(task.utc_offset)
            yield Opened(index, frame)
        except IrspotError as error:
            yield Opened(index, None, error.problems())


def place_run(task: MeasureTask, frame: Frame) -> Placement:
    """Place a run's board in one of its frames, as the study says.

    Raises
    ------
    PlacementRefused
        With the reason.
    """
    from irspot.registration import place_frame

    run = task.run
    return place_frame(frame, task.board, run.placement, side=run.side, top=run.top)


def _measured(task: MeasureTask) -> RunResult:
    run = task.run
    label = RunLabel(run.id, run.board, run.load, run.side)
    facts: list[FrameFacts] = []
    problems: list[Problem] = []
    for opened in reported_frames(task):
        problems.extend(opened.problems)
        if opened.frame is None:
            continue
        fact, refusal = _measured_frame(task, opened.frame, opened.file_index)
        facts.append(fact)
        problems.extend(refusal)
    photo, without = placed_photo(task)
    problems.extend(without)
    rows = tuple(Row(label, reading) for fact in facts for reading in fact.readings)
    digests = {str(file): file_digest(file) for file in run.input_files if file.is_file()}
    return RunResult(run.id, rows, tuple(facts), tuple(problems), digests, photo)


def _measured_frame(task: MeasureTask, frame: Frame, file_index: int) -> tuple[FrameFacts, tuple[Problem, ...]]:
    from irspot.measurement import measure_zones, surface_map, unplaced_readings

    conditions = conditions_of(task.run)
    try:
        placement = place_run(task, frame)
    except PlacementRefused as refusal:
        readings = unplaced_readings(frame, task.board, task.run.side, conditions)
        return _facts(frame, file_index, {}, readings, None), refusal.problems()
    readings = measure_zones(frame, task.board, placement, conditions)
    shown = surface_map(frame, task.board, placement, conditions)
    return _facts(frame, file_index, placement_json(placement), readings, shown), ()


def _facts(
    frame: Frame, file_index: int, placement: dict[str, Any], readings: tuple[Reading, ...], shown: np.ndarray | None
) -> FrameFacts:
    low, high = (np.nan, np.nan) if shown is None else robust_extremes(shown, readings)
    size = (frame.shape[1], frame.shape[0])
    return FrameFacts(frame.name, frame.time_text, file_index, size, frame.notes, placement, low, high, readings)


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
