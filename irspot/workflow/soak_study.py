"""The soak of every run of a study: frames over time measured, each zone judged, soak.csv written."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path
from typing import Any, Final

from irspot.board import Board
from irspot.constants import DEFAULT_SAMPLE_S
from irspot.errors import IrspotError, Problem
from irspot.results import RunLabel
from irspot.series import Series
from irspot.soak.judge import SoakReading, Surroundings, judge_soak
from irspot.soak.power import power_flags
from irspot.steady_rules import RULES
from irspot.study import BadRun, Load, Run, Study
from irspot.workflow.charts import ChartLook, chart_files, chart_problems, draw_chart, soak_charts
from irspot.workflow.logged_ambient import with_logged_ambient
from irspot.workflow.pool import Progress, executor_for, run_tasks, silent
from irspot.workflow.run_problems import of_run
from irspot.workflow.study_document import inputs_of, table_document
from irspot.workflow.tasks import MeasureTask

MOST_SAMPLES: Final = 120
"""Frames of a run that are measured for its soak."""


@dataclass(frozen=True, slots=True, eq=False)
class Logged:
    """What was logged beside the frames of a run, on its clock.

    Parameters
    ----------
    ambient, power, clock : Series or None
    beads : tuple of Series
    """

    ambient: Series | None = None
    power: Series | None = None
    clock: Series | None = None
    beads: tuple[Series, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class SoakTask:
    """One run whose soak is to be judged.

    Parameters
    ----------
    measure : MeasureTask
    load : Load
    logged : Logged or None
        None where the run's own logs are to be read.
    zones : tuple of Series or None
        What its frames over time gave, where they were measured already.
    """

    measure: MeasureTask
    load: Load
    logged: Logged | None = None
    zones: tuple[Series, ...] | None = None


@dataclass(frozen=True, slots=True)
class SoakRow:
    """One row of soak.csv."""

    label: RunLabel
    reading: SoakReading


@dataclass(frozen=True, slots=True)
class RunSoak:
    """The soak of one run."""

    run_id: str
    rows: tuple[SoakRow, ...] = ()
    problems: tuple[Problem, ...] = ()
    zones: tuple[Series, ...] = ()
    """What it was judged by, for its chart."""
    ambient: Series | None = None


@dataclass(frozen=True, slots=True)
class StudySoak:
    """The soaks of a study.

    Parameters
    ----------
    study : Study
    rows : tuple of SoakRow
        In the study's order.
    problems, warnings : tuple of Problem
    soaks : tuple of RunSoak
    """

    study: Study
    rows: tuple[SoakRow, ...]
    problems: tuple[Problem, ...]
    warnings: tuple[Problem, ...]
    soaks: tuple[RunSoak, ...] = ()


def soak_study(
    study_file: str | os.PathLike[str],
    executor: Executor | None = None,
    *,
    logged: Mapping[str, Logged] | None = None,
    progress: Progress = silent,
) -> StudySoak:
    """Judge the soak of every run of a study that was watched over time.

    Parameters
    ----------
    study_file : path
    executor : concurrent.futures.Executor, optional
        It is not shut down. Default: a pool of spawned processes.
    logged : mapping of str to Logged, optional
        By run id.
    progress : callable

    Returns
    -------
    StudySoak

    Raises
    ------
    FileInvalid
        If the study itself cannot be used.
    """
    from irspot.files import read_study

    study, of_air = with_logged_ambient(read_study(Path(study_file)))
    tasks = [_task(study, run, (logged or {}).get(run.id)) for run in study.runs]
    with executor_for(len(tasks), executor) as workers:
        soaks = run_tasks(soak_run, tasks, [run.id for run in study.runs], workers, progress, soak_died)
    problems = [
        *_bad(study.bad_runs),
        *chain.from_iterable(of_air.values()),
        *(problem for soak in soaks for problem in soak.problems),
    ]
    return StudySoak(
        study,
        tuple(row for soak in soaks for row in soak.rows),
        tuple(problem for problem in problems if problem.severity == "error"),
        tuple(problem for problem in problems if problem.severity == "warning"),
        tuple(soaks),
    )


def soak_run(task: SoakTask) -> RunSoak:
    """Measure a run over its time and judge every zone; whatever fails becomes a problem, never an error."""
    from irspot.workflow.measure_run import internal_problem, one_opencv_thread

    run = task.measure.run
    one_opencv_thread()
    try:
        zones, problems = soak_series(task.measure) if task.zones is None else (task.zones, ())
        if task.logged is None and run.witnesses.files:
            logged, more = logged_by(task.measure)
            task, problems = replace(task, logged=logged), (*problems, *more)
        told = tuple(of_run(run.id, problem) for problem in problems)
        air = None if task.logged is None else task.logged.ambient
        return RunSoak(run.id, judged(task, zones), told, tuple(zones), air)
    except IrspotError as error:
        return RunSoak(run.id, problems=tuple(of_run(run.id, problem) for problem in error.problems()))
    except Exception as error:  # a fault of ours in one run must not take the others down; it is reported as such
        return RunSoak(run.id, problems=(internal_problem(error, run.id),))


def logged_by(task: MeasureTask) -> tuple[Logged, tuple[Problem, ...]]:
    """Read a run's logs, on the camera's clock as far as stamps or a stated offset tell."""
    from irspot.crosscheck import given_offset, masked, on_camera_clock
    from irspot.workflow.opened import opened_sources
    from irspot.workflow.run_logs import fault_of, logs_of

    first = opened_sources(task)[0].frame(0).with_utc_offset(task.utc_offset)
    logs = logs_of(task.run, task.board, first.time_utc, task.utc_offset)
    offset = given_offset(task.run.witnesses.clock_offset_s or 0.0)
    beads = tuple(on_camera_clock(masked(bead, fault_of(bead, logs, task.run)), offset) for _, bead in logs.beads)
    return Logged(logs.ambient, logs.power, None, beads), logs.problems


def soak_series(task: MeasureTask) -> tuple[tuple[Series, ...], tuple[Problem, ...]]:
    """Measure a run's zones in at most `MOST_SAMPLES` frames, evenly over its time.

    Returns
    -------
    tuple of Series
        None for a run that is a single frame, with a warning.
    tuple of Problem

    Raises
    ------
    IrspotError
        If a file cannot be read, or nothing says when the frames were taken.
    """
    from irspot.workflow.opened import opened_sources
    from irspot.workflow.zone_series import SeriesMaker, samples_of, times_of, unplaced_warning

    run = task.run
    sources = opened_sources(task)
    if sum(source.count for source in sources) < 2:
        return (), (Problem("is a single frame, which says nothing about steady state", severity="warning"),)
    times = times_of(task, sources)
    sample_s = max(run.sample_s or DEFAULT_SAMPLE_S, float(times.time_s[-1]) / MOST_SAMPLES)
    made, refused, count = SeriesMaker(), [], 0
    for sample in samples_of(replace(task, run=replace(run, sample_s=sample_s)), sources, times):
        made.add(sample)
        count += 1
        refused += [] if sample.refusal is None else [sample.refusal]
    return made.zones(), unplaced_warning(refused, len(refused), count)


def judged(task: SoakTask, zones: Sequence[Series]) -> tuple[SoakRow, ...]:
    """Judge the zones and beads of a run."""
    run, logged = task.measure.run, task.logged or Logged()
    label = RunLabel(run.id, run.board, run.load, run.side)
    flags = power_flags(run, task.load, logged.power, logged.clock)
    limits = surface_limits(task.measure.board)
    around = Surroundings(
        run.steady_rule,
        logged.ambient,
        float("nan") if run.ambient_degc is None else run.ambient_degc,
        flags=flags,
        from_s=_on_s(logged),
    )
    return tuple(
        SoakRow(label, judge_soak(series, replace(around, limit_degc=limits.get(series.name, float("nan")))))
        for series in (*zones, *logged.beads)
    )


def surface_limits(board: Board) -> dict[str, float]:
    """Give the limits of zones that are limits of the surface seen."""
    return {
        zone.id: zone.limit.limit_degc
        for zone in board.zones
        if zone.limit is not None and zone.limit.kind in zone.quantities and zone.limit.kind != "junction"
    }


def write_soak(soak: StudySoak, folder: Path, look: ChartLook | None = None) -> dict[str, Any]:
    """Write soak.csv, charts where a look is given, and results.json last.

    Returns
    -------
    dict
        What results.json holds.

    Raises
    ------
    OutputRefused
        If that would go over an input or a stranger's file.
    """
    from irspot.exports.tables import soak_csv
    from irspot.workflow.outputs import write_tables

    drawn = [] if look is None else [draw_chart(task) for task in soak_charts(soak.soaks, look)]
    soak = replace(soak, problems=(*soak.problems, *chart_problems(drawn)))
    files = {"soak.csv": soak_csv(soak.rows), **chart_files(drawn)}
    return write_tables(folder, files, inputs_of(soak.study), soak_document(soak))


def soak_document(soak: StudySoak) -> dict[str, Any]:
    """Give the soaks for JSON, with the rules they were judged by and the data dictionary."""
    from irspot.columns import SOAK_COLUMNS

    document = table_document(soak.study, SOAK_COLUMNS, soak.rows, (soak.problems, soak.warnings))
    return document | {"rules": rules_json(soak.rows)}


def rules_json(rows: Sequence[SoakRow]) -> list[dict[str, str]]:
    """Tell of the rules that soaks were judged by, with their sources."""
    return [_rule_json(name) for name in sorted({row.reading.rule for row in rows})]


def _rule_json(name: str) -> dict[str, str]:
    if name not in RULES:
        return {"name": name, "source": "own numbers"}
    rule = RULES[name]
    return {"name": name, "criterion": rule.words, "source": rule.source, "certainty": rule.certainty}


def _task(study: Study, run: Run, logged: Logged | None) -> SoakTask:
    return SoakTask(MeasureTask(run, study.board(run.board).board, study.utc_offset), study.load(run.load), logged)


def _on_s(logged: Logged) -> float:
    from irspot.soak.power import held

    on_s = float("nan") if logged.power is None else held(logged.power, float("inf")).on_s
    return on_s if on_s == on_s else float("-inf")


def soak_died(task: SoakTask, reason: str) -> RunSoak:
    """Say of a run that its worker ended abruptly."""
    run_id = task.measure.run.id
    return RunSoak(run_id, problems=(Problem(reason, key=f"run {run_id}"),))


def _bad(runs: Sequence[BadRun]) -> list[Problem]:
    return [of_run(bad.id, problem) for bad in runs for problem in bad.problems]
