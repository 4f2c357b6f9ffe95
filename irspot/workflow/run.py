"""A whole study: measured in parallel, drawn in parallel on one scale, written as one complete set."""

from __future__ import annotations

import math
import os
import re
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from irspot.compare.values import Comparison
from irspot.errors import Problem
from irspot.results import Row
from irspot.study import Run, Study
from irspot.workflow.charts import (
    DEFAULT_LOOK,
    ChartDrawn,
    ChartLook,
    ChartTask,
    batch_of,
    bead_charts,
    chart_died,
    chart_files,
    chart_problems,
    comparison_charts,
    draw_chart,
    soak_charts,
)
from irspot.workflow.compare_document import comparison_json
from irspot.workflow.compare_study import comparison_files, comparison_of_run
from irspot.workflow.conclusions import Conclusions, conclude, conclusion_files, conclusions_json, soak_flags
from irspot.workflow.draw_run import draw_run
from irspot.workflow.focus import judged_by_session
from irspot.workflow.further_formats import check_formats, further_formats, further_names
from irspot.workflow.logged_ambient import with_logged_ambient
from irspot.workflow.measure_run import measure_run
from irspot.workflow.outputs import RESULTS, Content, finish, refuse_inputs, refuse_strangers, write_set
from irspot.workflow.part_progress import parts_watched
from irspot.workflow.pool import Progress, executor_for, run_tasks, silent
from irspot.workflow.report_run import REPORT, Shown, frames_in_report, study_report
from irspot.workflow.run_problems import of_run
from irspot.workflow.study_document import input_digests, inputs_of, results_document, without_folder
from irspot.workflow.tasks import Drawn, DrawTask, MeasureTask, RunResult
from irspot.workflow.zone_history import HISTORY, edit_warnings, history_json, history_with


@dataclass(frozen=True, slots=True)
class StudyResult:
    """What a study gave.

    Parameters
    ----------
    study : Study
    rows : tuple of Row
        In the study's order.
    problems : tuple of Problem
        Everything that failed; empty if all is well. Warnings of the files are in ``study.problems``.
    folder : Path
    outputs : tuple of str
        Files written, results.json last.
    scale_degc : tuple of float
        Of all pictures.
    warnings : tuple of Problem
        What measuring found worth a warning: a board that was moved during a run, a frame out of focus.
    """

    study: Study
    rows: tuple[Row, ...]
    problems: tuple[Problem, ...]
    folder: Path
    outputs: tuple[str, ...]
    scale_degc: tuple[float, float]
    warnings: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """What was made of a study, before it is written.

    Parameters
    ----------
    results : sequence of RunResult
    concluded : Conclusions
    drawn : sequence of Drawn
    compared : Comparison or None
    charts : sequence of ChartDrawn
    faults : tuple of Problem
        Of comparison and charts.
    """

    results: Sequence[RunResult]
    concluded: Conclusions
    drawn: Sequence[Drawn]
    compared: Comparison | None
    charts: Sequence[ChartDrawn]
    faults: tuple[Problem, ...]


def run_study(
    study_file: str | os.PathLike[str],
    folder: str | os.PathLike[str],
    executor: Executor | None = None,
    *,
    size: tuple[int, int] = (1920, 1080),
    cmap: str = "inferno",
    pictures: bool = True,
    report: bool = True,
    draws: int = 0,
    also: Sequence[str] = (),
    look: ChartLook = DEFAULT_LOOK,
    progress: Progress = silent,
) -> StudyResult:
    """Evaluate a study and write results.csv, pictures/, report.html and results.json.

    Parameters
    ----------
    study_file : path
    folder : path
        Where outputs go; made if need be.
    executor : concurrent.futures.Executor, optional
        Runs the tasks (a cluster's, for instance); it is not shut down. Default: a pool of spawned processes.
    size : tuple of int
        Width and height of pictures in px.
    cmap : str
        A colour map of matplotlib.
    pictures : bool
        Whether to draw; without pictures there is no report either.
    report : bool
        Whether to write report.html.
    draws : int
        Times that the inputs of every reading are drawn, beside the budget; 0 for none.
    also : sequence of {"parquet", "xlsx"}
        Further formats of the tables.
    look : ChartLook
        Of charts.
    progress : callable
        See `irspot.workflow.pool`.

    Returns
    -------
    StudyResult

    Raises
    ------
    FileInvalid
        If the study itself cannot be used; a bad run is reported in the result while the others finish.
    OutputRefused
        If writing would go over an input or a stranger's file.
    UsageError
        For a size or colour map that no picture can have.
    """
    from irspot.exports.json_results import numbers
    from irspot.files import read_study

    _check_picture_options(cmap, size)
    check_formats(also)
    study, of_air = with_logged_ambient(read_study(Path(study_file)))
    target = Path(folder)
    tasks = [
        MeasureTask(
            run,
            study.board(run.board).board,
            study.utc_offset,
            draws,
            part_of(target, run.id),
            reference_ambient_degc=study.reference_ambient_degc,
        )
        for run in study.runs
    ]
    _refuse_early(study, target, ["results.csv", *further_names(also), *([REPORT] if report and pictures else [])])
    names = [run.id for run in study.runs]
    with executor_for(len(tasks), executor) as workers:
        with parts_watched(_parts(tasks), progress) as told:
            measured = run_tasks(measure_run, tasks, names, workers, told, _measuring_died)
        judged = judged_by_session(study.runs, measured)
        results = [replace(each, problems=(*each.problems, *of_air[each.run_id])) for each in judged]
        concluded = conclude(study, tasks, results, workers, progress)
        scale = study.scale_degc or _auto_scale(results)
        draw = _draw_tasks(study, tasks, results, scale, cmap, size) if pictures else []
        draw = [replace(each, in_report=frames_in_report(each.frames)) for each in draw] if report else draw
        drawn = run_tasks(draw_run, draw, [f"{t.task.run.id} pictures" for t in draw], workers, progress, _drawing_died)
        compared, faults = comparison_of_run(
            study, [row for each in results for row in each.rows], soak_flags(concluded)
        )
        wanted = chart_tasks(study, compared, concluded, look) if pictures else []
        charts = run_tasks(draw_chart, wanted, [each.what for each in wanted], workers, progress, chart_died)
    shown = {(each.task.run.id, at): frame for each, got in zip(draw, drawn, strict=True) for at, frame in got.shown}
    settings = {**_settings(cmap, size, pictures, draws), "scale_degc": numbers(scale)}
    settings |= {"also": sorted(set(also))} if also else {}
    made = Made(results, concluded, drawn, compared, charts, (*faults, *chart_problems(charts)))
    return _write(study, target, made, settings, shown if report and pictures else None)


def chart_tasks(study: Study, compared: Comparison | None, concluded: Conclusions, look: ChartLook) -> list[ChartTask]:
    """List the charts of a study."""
    batch = batch_of([board.batch for board in study.boards])
    of_boards = comparison_charts(compared, batch, look)
    return [*of_boards, *soak_charts(concluded.runs, look), *bead_charts(concluded.checked, look)]


def _settings(cmap: str, size: tuple[int, int], pictures: bool, draws: int) -> dict[str, Any]:
    settings: dict[str, Any] = {"cmap": cmap, "size_px": list(size), "pictures": pictures}
    return settings | ({"draws": draws} if draws else {})


def _check_picture_options(cmap: str, size: tuple[int, int]) -> None:
    from irspot.rendering.colors import color_table
    from irspot.rendering.heat import checked_size

    checked_size(size)
    color_table(cmap)


def _refuse_early(study: Study, folder: Path, names: Sequence[str]) -> None:
    """Refuse before an hour's work what would be refused after it."""
    refuse_inputs(folder, [*names, RESULTS], inputs_of(study))
    refuse_strangers(folder, names)


def _measuring_died(task: MeasureTask, reason: str) -> RunResult:
    return RunResult(task.run.id, problems=(Problem(reason, key=f"run {task.run.id}"),))


def _drawing_died(task: DrawTask, reason: str) -> Drawn:
    return Drawn(problems=(Problem(reason, key=f"pictures of run {task.task.run.id}"),))


def _auto_scale(results: Sequence[RunResult]) -> tuple[float, float]:
    from irspot.rendering import auto_scale

    extremes = [(fact.low_degc, fact.high_degc) for result in results for fact in result.frames]
    if not any(math.isfinite(low) and math.isfinite(high) for low, high in extremes):
        return math.nan, math.nan  # nothing was placed: there will be no picture either
    return auto_scale(extremes)


def _draw_tasks(
    study: Study,
    tasks: Sequence[MeasureTask],
    results: Sequence[RunResult],
    scale_degc: tuple[float, float],
    cmap: str,
    size: tuple[int, int],
) -> list[DrawTask]:
    taken: set[str] = set()
    made = []
    for task, result in zip(tasks, results, strict=True):
        # First the placed ones: their names do not depend on what was refused.
        facts = sorted(result.frames, key=lambda fact: not fact.placement)
        placed = sum(bool(fact.placement) for fact in facts)
        names = tuple(
            picture_name(task.run, fact.name, placed, taken)
            if fact.placement
            else picture_name(task.run, fact.name, len(facts) - placed, taken, "-placement")
            for fact in facts
        )
        if facts:
            load = study.load(task.run.load)
            made.append(
                DrawTask(
                    task,
                    tuple(facts),
                    names,
                    load.description or load.id,
                    scale_degc,
                    cmap,
                    size,
                    result.photo,
                    result.even,
                    result.cold,
                )
            )
    return made


def picture_name(run: Run, frame: str, count: int, taken: set[str], what: str = "") -> str:
    """Name a picture after its run, and after its frame where the run has several; unique ignoring case.

    Parameters
    ----------
    run : Run
    frame : str
    count : int
        Pictures of the run, of the same kind.
    taken : set of str
        Lower-case names used so far; the new one is added.
    what : str
        Of another kind than heat images, appended.
    """
    stem = run.id if count == 1 else f"{run.id}--{re.sub(r'[^A-Za-z0-9._-]+', '-', Path(frame).stem)[:80]}"
    stem += what
    name, number = stem, 2
    while name.lower() in taken:
        name, number = f"{stem}-{number}", number + 1
    taken.add(name.lower())
    return f"pictures/{name}.png"


def _write(
    study: Study,
    folder: Path,
    made: Made,
    settings: dict[str, Any],
    shown: Shown | None,
) -> StudyResult:
    from irspot.exports.json_results import dumps
    from irspot.exports.tables import results_csv

    results, concluded, compared = made.results, made.concluded, made.compared
    rows = tuple(row for result in results for row in result.rows)
    files: dict[str, Content] = {"results.csv": results_csv(rows)}
    files |= {series_name(each.run_id): content for each in results if (content := series_content(each)) is not None}
    files |= conclusion_files(concluded)
    files |= {name: png for d in made.drawn for name, png in d.pictures}
    files |= chart_files(made.charts)
    files |= {} if compared is None else comparison_files(compared)
    tables = (rows, concluded.soaks, concluded.crosschecks, () if compared is None else compared.rows)
    files |= further_formats(tables, settings.get("also", ()))
    states = history_with(folder, study)
    files[HISTORY] = history_json(states)
    problems = (*_all_problems(study, results, concluded, made.drawn), *made.faults)
    warnings = (*_warnings(results, concluded), *edit_warnings(states))
    if shown is not None:
        files[REPORT] = _report(study, made, shown, (problems, warnings), settings)
    refuse_inputs(folder, files, inputs_of(study))
    refuse_strangers(folder, files)
    outputs = write_set(folder, files)
    document = results_document(study, results, rows, (problems, warnings), outputs, settings)
    said = {} if compared is None else {"comparison": comparison_json(compared)}
    finish(folder, dumps(document | conclusions_json(concluded) | said))
    _remove_parts(results)
    low, high = (math.nan if end is None else end for end in settings["scale_degc"])
    return StudyResult(study, rows, problems, folder, (*files, RESULTS), (low, high), warnings)


def _report(
    study: Study,
    made: Made,
    shown: Shown,
    found: tuple[Sequence[Problem], Sequence[Problem]],
    settings: dict[str, Any],
) -> bytes:
    base = study.file.parent
    of_files = [problem for problem in study.problems if problem.severity == "warning"]
    failed, warned = (
        [without_folder(str(problem), base) for problem in problems] for problems in (found[0], [*of_files, *found[1]])
    )
    digests = input_digests(study, made.results, base)
    concluding = (made.results, made.concluded, made.compared)
    return study_report(study, concluding, shown, (failed, warned), digests, settings, charts=made.charts)


def series_name(run_id: str) -> str:
    """Name the table of a run over time."""
    return f"series/{run_id}.csv"


def part_of(folder: Path, run_id: str) -> Path:
    """Name the file that keeps what was found of a long recording until all is done."""
    return folder / f"{series_name(run_id)}.part"


def series_content(result: RunResult) -> Content | None:
    """Give what the table of a run over time holds, or what writes it; None where there is none."""
    if result.series is None or _out_of_reach(result):
        return None
    return result.series.csv if result.series.full_rate is None else result.series.full_rate.write


def _out_of_reach(result: RunResult) -> tuple[Problem, ...]:
    """Say if what was found in a recording was kept where only its worker can reach it."""
    full_rate = None if result.series is None else result.series.full_rate
    if full_rate is None or full_rate.part.is_file():
        return ()
    hint = "give an output folder that all workers share, or sample_s above 0"
    return (Problem("what was found in its recording is not in the output folder", str(full_rate.part), hint=hint),)


def _parts(tasks: Sequence[MeasureTask]) -> dict[str, Path]:
    """Name what is kept of the recordings that are taken frame by frame."""
    return {task.run.id: task.part for task in tasks if task.run.sample_s == 0.0 and task.part is not None}


def _remove_parts(results: Sequence[RunResult]) -> None:
    for result in results:
        if result.series is not None and result.series.full_rate is not None:
            result.series.full_rate.part.unlink(missing_ok=True)


def _warnings(results: Sequence[RunResult], concluded: Conclusions) -> tuple[Problem, ...]:
    named = [of_run(result.run_id, problem) for result in results for problem in result.problems]
    named = list(dict.fromkeys([*named, *concluded.problems]))
    return tuple(problem for problem in named if problem.severity == "warning")


def _all_problems(
    study: Study, results: Sequence[RunResult], concluded: Conclusions, drawn: Sequence[Drawn]
) -> tuple[Problem, ...]:
    """Gather what failed, each named with its run, in the study's order."""
    by_run: dict[str, list[Problem]] = {run_id: [] for run_id in study.order}
    for bad in study.bad_runs:
        by_run.setdefault(bad.id, []).extend(of_run(bad.id, problem) for problem in bad.problems)
    for result in results:
        told = (*result.problems, *_out_of_reach(result))
        by_run.setdefault(result.run_id, []).extend(of_run(result.run_id, problem) for problem in told)
    found = [problem for problems in by_run.values() for problem in problems if problem.severity == "error"]
    found += [problem for problem in concluded.problems if problem.severity == "error" and problem not in found]
    return (*found, *(problem for d in drawn for problem in d.problems))
