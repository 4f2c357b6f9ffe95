"""Thermocouples of every run of a study held against its frames; crosscheck.csv, timelines and places for beads."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path
from typing import Any

from irspot.crosscheck import BestPlace, ZoneGrid, best_places
from irspot.errors import Problem
from irspot.study import Study
from irspot.workflow.charts import ChartLook, bead_charts, chart_files, chart_problems, draw_chart
from irspot.workflow.crosscheck_run import CrosscheckRow, RunCrosscheck, crosscheck_run
from irspot.workflow.logged_ambient import with_logged_ambient
from irspot.workflow.outputs import Content
from irspot.workflow.pool import Progress, executor_for, run_tasks, silent
from irspot.workflow.run_problems import of_run
from irspot.workflow.study_document import inputs_of, table_document
from irspot.workflow.tasks import MeasureTask


@dataclass(frozen=True, slots=True)
class BeadPlaces:
    """Where one and two beads of a role would sit best on a side of a board, over all its loads."""

    board: str
    side: str
    role: str
    loads: tuple[str, ...]
    one: tuple[BestPlace, ...]
    two: tuple[BestPlace, ...]


@dataclass(frozen=True, slots=True, eq=False)
class StudyCrosscheck:
    """The cross-check of a study.

    Parameters
    ----------
    study : Study
    rows : tuple of CrosscheckRow
        In the study's order.
    checked : tuple of RunCrosscheck
    places : tuple of BeadPlaces
    problems, warnings : tuple of Problem
    """

    study: Study
    rows: tuple[CrosscheckRow, ...]
    checked: tuple[RunCrosscheck, ...]
    places: tuple[BeadPlaces, ...]
    problems: tuple[Problem, ...]
    warnings: tuple[Problem, ...]


def crosscheck_study(
    study_file: str | os.PathLike[str], executor: Executor | None = None, *, progress: Progress = silent
) -> StudyCrosscheck:
    """Hold the thermocouples of every run against its frames.

    Parameters
    ----------
    study_file : path
    executor : concurrent.futures.Executor, optional
        It is not shut down. Default: a pool of spawned processes.
    progress : callable

    Raises
    ------
    FileInvalid
        If the study itself cannot be used.
    """
    from irspot.files import read_study

    study, of_air = with_logged_ambient(read_study(Path(study_file)))
    logged = [run for run in study.runs if run.witnesses.files]
    tasks = [MeasureTask(run, study.board(run.board).board, study.utc_offset) for run in logged]
    with executor_for(len(tasks), executor) as workers:
        checked = run_tasks(crosscheck_run, tasks, [run.id for run in logged], workers, progress, crosscheck_died)
    problems = [
        *chain.from_iterable(of_air.values()),
        *(of_run(bad.id, problem) for bad in study.bad_runs for problem in bad.problems),
    ]
    problems += [of_run(each.run_id, problem) for each in checked for problem in each.problems]
    if not logged:
        problems.append(Problem("no run names a log", str(study.file), hint="give thermocouple_log in its runs"))
    return StudyCrosscheck(
        study,
        tuple(row for each in checked for row in each.rows),
        tuple(checked),
        tuple(places_of(study, checked)),
        tuple(problem for problem in problems if problem.severity == "error"),
        tuple(problem for problem in problems if problem.severity == "warning"),
    )


def places_of(study: Study, checked: Sequence[RunCrosscheck]) -> Iterator[BeadPlaces]:
    """Find where beads would sit best, for every board, side and role that has one."""
    runs = {run.id: run for run in study.runs}
    found: dict[tuple[str, str, str], dict[str, tuple[ZoneGrid, ...]]] = {}
    for each in checked:
        run = runs[each.run_id]
        for role, grids in each.grids:
            found.setdefault((run.board, run.side, role), {})[run.load] = grids
    for (board, side, role), by_load in found.items():
        loads = list(by_load.values())
        one, two = best_places(loads, 1), best_places(loads, 2)
        if one:
            yield BeadPlaces(board, side, role, tuple(by_load), one, two)


def write_crosscheck(check: StudyCrosscheck, folder: Path, look: ChartLook | None = None) -> dict[str, Any]:
    """Write crosscheck.csv, a timeline for each run, charts where a look is given, and results.json last.

    Raises
    ------
    OutputRefused
        If that would go over an input or a stranger's file.
    """
    from irspot.workflow.outputs import write_tables

    drawn = [] if look is None else [draw_chart(task) for task in bead_charts(check.checked, look)]
    check = replace(check, problems=(*check.problems, *chart_problems(drawn)))
    files = crosscheck_files(check.rows, check.checked) | chart_files(drawn)
    return write_tables(folder, files, inputs_of(check.study), crosscheck_document(check))


def crosscheck_files(rows: Sequence[CrosscheckRow], checked: Sequence[RunCrosscheck]) -> dict[str, Content]:
    """Give crosscheck.csv, and a timeline for each run that has one."""
    from irspot.exports.tables import crosscheck_csv
    from irspot.exports.timeline import timeline_csv

    timelines = {f"timeline/{each.run_id}.csv": timeline_csv(each.timeline) for each in checked if each.timeline}
    return {"crosscheck.csv": crosscheck_csv(rows), **timelines}


def crosscheck_document(check: StudyCrosscheck) -> dict[str, Any]:
    """Give the cross-check for JSON, with the places for beads and the data dictionary."""
    from irspot.columns import CROSSCHECK_COLUMNS

    document = table_document(check.study, CROSSCHECK_COLUMNS, check.rows, (check.problems, check.warnings))
    return document | {"bead_places": [places_json(each) for each in check.places]}


def places_json(each: BeadPlaces) -> dict[str, Any]:
    """Give the places of one role on a side of a board for JSON."""
    return {
        "board": each.board,
        "side": each.side,
        "role": each.role,
        "loads": list(each.loads),
        "one": [_place_json(place) for place in each.one],
        "two": [_place_json(place) for place in each.two],
    }


def _place_json(place: BestPlace) -> dict[str, Any]:
    from irspot.exports.json_results import number

    return {
        "zone": place.zone,
        "x_mm": number(place.x_mm),
        "y_mm": number(place.y_mm),
        "worst_shortfall_k": number(place.worst_shortfall_k),
    }


def place_lines(places: Sequence[BeadPlaces]) -> list[str]:
    """Say where beads would sit best."""
    return [
        f"{each.board}, {each.side}, {each.role}: one bead at {each.one[0].x_mm:.1f}, {each.one[0].y_mm:.1f} mm "
        f"({each.one[0].zone}) misses at most {each.one[0].worst_shortfall_k:.1f} K of the hottest place under "
        f"{' and '.join(each.loads)}"
        + (
            f"; a second at {each.two[1].x_mm:.1f}, {each.two[1].y_mm:.1f} mm ({each.two[1].zone}), both "
            f"{each.two[-1].worst_shortfall_k:.1f} K"
            if len(each.two) > 1
            else ""
        )
        for each in places
    ]


def crosscheck_died(task: MeasureTask, reason: str) -> RunCrosscheck:
    """Say of a run that its worker ended abruptly."""
    return RunCrosscheck(task.run.id, problems=(Problem(reason),))
