"""What pictures are made of: chosen runs of a study, or one frame, measured now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Side
from irspot.conditions import Conditions
from irspot.errors import IrspotError, Problem, UsageError
from irspot.photo import PhotoWish
from irspot.placing import HowToPlace, ImageSide
from irspot.results import Reading, Row, RunLabel
from irspot.study import Run, Study
from irspot.workflow.draw_run import reread_frames
from irspot.workflow.focus import judged_by_session
from irspot.workflow.logged_ambient import with_logged_ambient
from irspot.workflow.measure_run import measure_run
from irspot.workflow.pool import Progress, executor_for, run_tasks, silent
from irspot.workflow.run_problems import of_run
from irspot.workflow.study_document import inputs_of
from irspot.workflow.tasks import DrawTask, FrameFacts, MeasureTask, RunResult

if TYPE_CHECKING:
    from irspot.registration.placement import Placement
    from irspot.rendering import Caption, Underlay


@dataclass(frozen=True, slots=True)
class Chosen:
    """One run that was asked for.

    Parameters
    ----------
    id : str
    title : str
        Of its board.
    task : MeasureTask or None
        None where the run cannot be evaluated.
    load : str
    problems : tuple of Problem
        Why.
    """

    id: str
    title: str
    task: MeasureTask | None
    load: str = ""
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class PictureSource:
    """What was asked for.

    Parameters
    ----------
    title : str
        Of the study.
    chosen : tuple of Chosen
        In the order asked for.
    inputs : tuple of Path
        Never written over.
    scale_degc : tuple of float or None
        The study's, if it states one.
    """

    title: str
    chosen: tuple[Chosen, ...]
    inputs: tuple[Path, ...]
    scale_degc: tuple[float, float] | None = None

    @property
    def one_task(self) -> MeasureTask:
        """The only run.

        Raises
        ------
        UsageError
            If several were asked for.
        IrspotError
            If it cannot be evaluated.
        """
        if len(self.chosen) != 1:
            raise UsageError(
                "this picture is of one run",
                found=", ".join(each.id for each in self.chosen),
                wanted="one --run",
                hint="--as grid shows several",
            )
        (only,) = self.chosen
        if only.task is None:
            raise error_of(only.problems)
        return only.task


def from_study(study_file: Path, run_ids: Sequence[str]) -> PictureSource:
    """Choose runs of a study.

    Parameters
    ----------
    study_file : Path
    run_ids : sequence of str
        In the order wanted; none for all of them.

    Raises
    ------
    FileInvalid
        If the study cannot be used.
    UsageError
        If it has no such run, or one is asked for twice.
    """
    from irspot.files import read_study

    study = read_study(study_file)
    inputs = inputs_of(study)
    ids = list(run_ids) or list(study.order)
    _check_ids(ids, study)
    good = {run.id: run for run in study.runs if run.id in ids}
    study, said = with_logged_ambient(replace(study, runs=tuple(good.values())))
    good = {run.id: run for run in study.runs}
    bad = {run.id: run for run in study.bad_runs}
    titles = {board.id: board.board.name for board in study.boards}
    chosen = []
    for run_id in ids:
        if run_id in good:
            run = good[run_id]
            load = study.load(run.load)
            task = MeasureTask(
                run,
                study.board(run.board).board,
                study.utc_offset,
                reference_ambient_degc=study.reference_ambient_degc,
            )
            chosen.append(Chosen(run_id, titles[run.board], task, load.description or load.id, said[run_id]))
        else:
            broken = bad[run_id]
            problems = tuple(of_run(run_id, problem) for problem in broken.problems)
            chosen.append(Chosen(run_id, titles.get(broken.board, broken.board), None, broken.load, problems))
    return PictureSource(study.title, tuple(chosen), tuple(inputs), study.scale_degc)


def _check_ids(ids: Sequence[str], study: Study) -> None:
    known = study.order
    for run_id in ids:
        if run_id not in known:
            near = get_close_matches(run_id, known, n=1)
            hint = f"did you mean '{near[0]}'?" if near else f"its runs are {', '.join(known)}"
            raise UsageError("the study has no such run", file=str(study.file), key="--run", found=run_id, hint=hint)
    if len(set(ids)) < len(ids):
        twice = next(run_id for run_id in ids if ids.count(run_id) > 1)
        raise UsageError("a run is asked for twice", file=str(study.file), key="--run", found=twice)


@dataclass(frozen=True, slots=True)
class OneFrame:
    """One frame, or recording, and what has to be known of it.

    Parameters
    ----------
    frame_file, board_file : Path
    camera_file : Path or None
    side : {"front", "rear"}
    top : str or None
    how : HowToPlace
    conditions : Conditions
    color_scale_degc : tuple of float or None
        Of a picture with a colour bar; None has the numbers printed there read.
    utc_offset : timedelta or None
    photo_file : Path or None
        Shown beneath the colours.
    frame_interval_s : float or None
        Of a recording whose frames carry no time.
    """

    frame_file: Path
    board_file: Path
    camera_file: Path | None
    side: Side
    top: ImageSide | None
    how: HowToPlace
    conditions: Conditions
    color_scale_degc: tuple[float, float] | None = None
    utc_offset: timedelta | None = None
    photo_file: Path | None = None
    frame_interval_s: float | None = None


def from_frame(one: OneFrame) -> PictureSource:
    """Take one frame file for a run of its own.

    Raises
    ------
    FileInvalid
        If board or camera file cannot be used.
    """
    from irspot.camera import NO_CAMERA
    from irspot.files import read_board, read_camera

    board = read_board(one.board_file)
    camera = NO_CAMERA if one.camera_file is None else read_camera(one.camera_file)
    given = one.conditions
    run = Run(
        id=one.frame_file.stem,
        board=one.board_file.stem,
        load="",
        side=one.side,
        frame_files=(one.frame_file,),
        camera=camera,
        camera_file=one.camera_file,
        placement=one.how,
        top=one.top,
        color_scale_degc=one.color_scale_degc or "printed",
        ambient_degc=given.ambient_degc,
        u_ambient_k=given.u_ambient_k,
        reflected_degc=given.reflected_degc,
        u_reflected_k=given.u_reflected_k,
        photo_file=one.photo_file,
        photo=PhotoWish(top=one.top),
        frame_interval_s=one.frame_interval_s,
    )
    files = (one.frame_file, one.board_file, one.camera_file, one.photo_file)
    inputs = [file for file in files if file is not None]
    task = MeasureTask(run, board, one.utc_offset)
    return PictureSource("", (Chosen(run.id, board.name, task),), tuple(inputs))


@dataclass(frozen=True, slots=True, eq=False)
class Shot:
    """One frame of a run, measured and ready to be drawn.

    Parameters
    ----------
    run_id, frame : str
    board : Board or None
    caption : Caption
    readings : tuple of Reading
    placement : Placement or None
        None where there is nothing to draw.
    surface_degc : ndarray, shape (rows, columns), or None
    underlay : Underlay or None
    extremes_degc : tuple of float
        Robust ones of what is shown.
    session : tuple of str
        What has the same camera error; empty where that is not known.
    label : RunLabel or None
    failure : IrspotError or None
        Why there is nothing to draw.
    warnings : tuple of Problem
    """

    run_id: str
    frame: str
    board: Board | None
    caption: Caption
    readings: tuple[Reading, ...] = ()
    placement: Placement | None = None
    surface_degc: NDArray[np.float32] | None = None
    underlay: Underlay | None = None
    extremes_degc: tuple[float, float] = (np.nan, np.nan)
    session: tuple[str, ...] = ()
    label: RunLabel | None = None
    failure: IrspotError | None = None
    warnings: tuple[Problem, ...] = ()

    @property
    def rows(self) -> tuple[Row, ...]:
        """Its readings as rows of the table."""
        return () if self.label is None else tuple(Row(self.label, reading) for reading in self.readings)


def shots_of(source: PictureSource, still: int | None, progress: Progress = silent) -> tuple[Shot, ...]:
    """Measure what was asked for.

    Parameters
    ----------
    source : PictureSource
    still : int or None
        Which of a run's stills, from 0; None for the last. Of a recording there is its readout alone.
    progress : callable

    Returns
    -------
    tuple of Shot
        In the order asked for; what fails says why.
    """
    tasks = [each.task for each in source.chosen if each.task is not None]
    # Over time nothing is asked for here, which of a long recording may take an hour.
    quick = [replace(task, run=replace(task.run, sample_s=None)) for task in tasks]
    names = [task.run.id for task in quick]
    with executor_for(len(quick), None) as workers:
        measured = run_tasks(measure_run, quick, names, workers, progress, _died)
    judged = judged_by_session([task.run for task in quick], measured)
    results = {task.run.id: (task, result) for task, result in zip(quick, judged, strict=True)}
    return tuple(_shot(each, still, *results.get(each.id, (None, None))) for each in source.chosen)


def _died(task: MeasureTask, reason: str) -> RunResult:
    return RunResult(task.run.id, problems=(Problem(reason, key=f"run {task.run.id}"),))


def _shot(chosen: Chosen, still: int | None, task: MeasureTask | None, result: RunResult | None) -> Shot:
    from irspot.rendering import Caption

    if task is None or result is None:
        return Shot(chosen.id, "", None, Caption(chosen.title, chosen.load), failure=error_of(chosen.problems))
    run = task.run
    problems = tuple(of_run(run.id, problem) for problem in result.problems)
    warnings = (*chosen.problems, *(problem for problem in problems if problem.severity == "warning"))
    label = RunLabel(run.id, run.board, run.load, run.side)
    empty = Shot(run.id, "", task.board, Caption(chosen.title, chosen.load, run.side), label=label, warnings=warnings)
    if not result.frames:
        return replace(empty, failure=error_of(problems))
    fact = _fact(result.frames, still, run.id)
    empty = replace(empty, frame=fact.name, readings=fact.readings)
    if fact.placed is None:
        return replace(empty, failure=fact.refusal)
    draw = DrawTask(task, (fact,), ("",), chosen.load, (0.0, 1.0), "", (0, 0), result.photo, result.even, result.cold)
    shown = next(reread_frames(draw))
    return replace(
        empty,
        caption=shown.caption(draw),
        placement=fact.placed,
        surface_degc=shown.surface(draw),
        underlay=shown.underlay,
        extremes_degc=(fact.low_degc, fact.high_degc),
        session=(str(run.camera_file or ""), run.session) if run.session else (),
    )


def _fact(frames: Sequence[FrameFacts], still: int | None, run_id: str) -> FrameFacts:
    if still is None:
        return frames[-1]
    if still >= len(frames):
        wanted = f"0 to {len(frames) - 1}" if len(frames) > 1 else "0: it has one"
        raise UsageError("the run has no such still", key=f"run {run_id}", found=f"--still {still}", wanted=wanted)
    return frames[still]


def error_of(problems: Sequence[Problem]) -> IrspotError:
    """Turn problems into the error to raise: the first that is one."""
    first = next((problem for problem in problems if problem.severity == "error"), None)
    if first is None:
        return IrspotError("nothing could be measured")
    return IrspotError(
        first.message, file=first.file, key=first.key, found=first.found, wanted=first.wanted, hint=first.hint
    )
