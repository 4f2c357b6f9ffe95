"""Studies compared: each measured, or its results read where nothing changed since, and earlier ones joined."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from irspot.compare.cases import Measured
from irspot.compare.compare import compare
from irspot.compare.values import Change, Comparison
from irspot.constants import METHOD
from irspot.errors import FileInvalid, IrspotError, Problem, UsageError
from irspot.results import Row
from irspot.study import Run, Study
from irspot.workflow.charts import (
    ChartLook,
    batch_of,
    chart_files,
    chart_problems,
    comparison_charts,
    draw_chart,
)
from irspot.workflow.compare_document import comparison_json
from irspot.workflow.focus import judged_by_session
from irspot.workflow.logged_ambient import with_logged_ambient
from irspot.workflow.measure_run import measure_run
from irspot.workflow.old_results import (
    OldResults,
    changed_inputs,
    changes_between,
    old_results,
    through_json,
)
from irspot.workflow.outputs import Content
from irspot.workflow.pool import Progress, executor_for, run_tasks, silent
from irspot.workflow.run_problems import of_run
from irspot.workflow.study_document import inputs_of, table_document
from irspot.workflow.tasks import MeasureTask, RunResult

Note = Callable[[str], None]
NO_FLAGS: Final[Mapping[str, tuple[str, ...]]] = {}
MOST_STUDIES = 50
"""That one comparison joins."""


@dataclass(frozen=True, slots=True, eq=False)
class StudyComparison:
    """A comparison with the studies it is of.

    Parameters
    ----------
    studies : tuple of Study
        The first declares rule, threshold and reference ambient.
    comparison : Comparison
    problems, warnings : tuple of Problem
    """

    studies: tuple[Study, ...]
    comparison: Comparison
    problems: tuple[Problem, ...]
    warnings: tuple[Problem, ...]


def compare_studies(
    study_files: Sequence[str | os.PathLike[str]],
    executor: Executor | None = None,
    *,
    equal_power: bool = False,
    progress: Progress = silent,
    note: Note = lambda _: None,
) -> StudyComparison:
    """Hold the boards of studies, and of the earlier ones they name, against one another.

    Parameters
    ----------
    study_files : sequence of path
        The first is today's; it declares rule, threshold and reference ambient. The others are earlier batches.
    executor : concurrent.futures.Executor, optional
        It is not shut down. Default: a pool of spawned processes.
    equal_power : bool
        Whether rises are carried to equal power, a projection.
    progress : callable
    note : callable
        Told where each study's numbers come from.

    Returns
    -------
    StudyComparison

    Raises
    ------
    FileInvalid
        If a study that was given cannot be used; a bad run, or an earlier study that cannot be used, is reported while
        the others are compared.
    UsageError
        If no study is given, or too many.
    """
    studies, problems = joined_studies([Path(file) for file in study_files])
    measured, changes = [], []
    for study in studies:
        each, old_to_new, found = _measured(study, executor, progress, note)
        measured.append(each)
        changes += old_to_new
        problems += found
    made = replace(compare(measured, equal_power=equal_power), changes=tuple(changes))
    return StudyComparison(
        tuple(each.study for each in measured),
        made,
        tuple(problem for problem in problems if problem.severity == "error"),
        tuple(problem for problem in problems if problem.severity == "warning"),
    )


def joined_studies(files: Sequence[Path]) -> tuple[list[Study], list[Problem]]:
    """Read studies and the earlier ones they name, each once; one that leads back to itself is refused.

    Parameters
    ----------
    files : sequence of Path

    Returns
    -------
    list of Study
    list of Problem
        Of earlier studies that cannot be used; the others are compared without them.

    Raises
    ------
    FileInvalid
        Of a study among `files`, in its own words; or where earlier studies go round in a circle.
    UsageError
    """
    from irspot.files import read_study

    if not files:
        raise UsageError("wanted at least one study")
    found: dict[Path, Study] = {}
    problems: list[Problem] = []
    for file in files:
        if file.resolve() not in found:
            _join(read_study(file), (), found, problems)
    return list(found.values()), problems


def _join(study: Study, through: tuple[Path, ...], found: dict[Path, Study], problems: list[Problem]) -> None:
    from irspot.files import read_study

    if len(found) >= MOST_STUDIES:
        raise UsageError(f"more than {MOST_STUDIES} studies to compare", found=str(study.file))
    found[study.file.resolve()] = study
    through = (*through, study.file.resolve())
    for earlier in study.previous:
        here = earlier.resolve()
        if here in through:
            way = " → ".join(f"'{path}'" for path in (*through[through.index(here) :], here))
            problem = Problem("earlier studies lead back to where they began", str(study.file), "previous", found=way)
            raise FileInvalid((problem,))
        if here in found:
            continue
        try:
            read = read_study(earlier)
        except FileInvalid as invalid:
            problems += invalid.problems()
        else:
            _join(read, through, found, problems)


def _measured(
    study: Study, executor: Executor | None, progress: Progress, note: Note
) -> tuple[Measured, list[Change], list[Problem]]:
    """Take a study's numbers from its results if these are of today, else measure; say what changed."""
    old = old_results(study)
    changed = [] if old is None else changed_inputs(old, study)
    study, of_air = with_logged_ambient(study)
    problems = [of_run(run_id, problem) for run_id, found in of_air.items() for problem in found]
    gone = _only_in_results(study, old)
    problems += [
        of_run(bad.id, p) for bad in study.bad_runs if bad.id not in {run.id for run in gone} for p in bad.problems
    ]
    if old is not None and not changed and old.method == METHOD:
        note(f"{study.file}: read {old.file}, whose inputs have not changed since")
        rows: tuple[Row, ...] = old.rows
        return Measured(study, rows, _run_flags(study)), [], problems
    note(f"{study.file}: {_why_measured(old, changed)}")
    results = measured_runs(study, executor, progress)
    problems += [of_run(each.run_id, problem) for each in results for problem in each.problems]
    rows = through_json([row for each in results for row in each.rows])
    methods = {}
    if old is not None and gone:
        note(f"{study.file}: the frames of {len(gone)} runs are gone; their numbers are those of {old.file}")
        names = {run.id for run in gone}
        rows = (*rows, *(row for row in old.rows if row.label.run in names))
        methods = dict.fromkeys(names, old.method)
        bad = tuple(each for each in study.bad_runs if each.id not in names)
        study = replace(study, runs=(*study.runs, *gone), bad_runs=bad)
    old_to_new = [] if old is None else list(changes_between(old, study, rows, changed))
    return Measured(study, rows, _run_flags(study), methods), old_to_new, problems


def _only_in_results(study: Study, old: OldResults | None) -> list[Run]:
    """List the runs whose frames are gone while results still hold their numbers."""
    known = set() if old is None else {row.label.run for row in old.rows}
    return [bad.planned for bad in study.bad_runs if bad.planned is not None and bad.id in known]


def _why_measured(old: OldResults | None, changed: Sequence[str]) -> str:
    if old is None:
        return "measured, having no results beside it"
    if old.method != METHOD:
        return f"measured, since {old.file} was made by METHOD {old.method}"
    return f"measured, since {len(changed)} inputs of {old.file} changed: {', '.join(changed[:3])}"


def measured_runs(study: Study, executor: Executor | None, progress: Progress) -> list[RunResult]:
    """Measure every run of a study, without its course over time."""
    tasks = [
        MeasureTask(
            replace(run, sample_s=None),
            study.board(run.board).board,
            study.utc_offset,
            reference_ambient_degc=study.reference_ambient_degc,
        )
        for run in study.runs
    ]
    with executor_for(len(tasks), executor) as workers:
        results = run_tasks(measure_run, tasks, [run.id for run in study.runs], workers, progress, _died)
    return list(judged_by_session(study.runs, results))


def _died(task: MeasureTask, reason: str) -> RunResult:
    return RunResult(task.run.id, problems=(Problem(reason, key=f"run {task.run.id}"),))


def _run_flags(study: Study, known: Mapping[str, tuple[str, ...]] = NO_FLAGS) -> dict[str, tuple[str, ...]]:
    """Judge from their logs whether runs held their load; what is wrong with a log is said when it is checked."""
    from irspot.soak.power import power_flags
    from irspot.workflow.soak_study import logged_by

    found = dict(known)
    for run in study.runs:
        if run.id in found or not run.witnesses.files:
            continue
        try:
            logged, _ = logged_by(MeasureTask(run, study.board(run.board).board, study.utc_offset))
        except IrspotError:
            continue
        found[run.id] = power_flags(run, study.load(run.load), logged.power, logged.clock)
    return found


def comparison_of_run(
    study: Study, rows: Sequence[Row], flags: Mapping[str, tuple[str, ...]]
) -> tuple[Comparison | None, tuple[Problem, ...]]:
    """Compare the boards of one study that was just measured.

    Parameters
    ----------
    study : Study
    rows : sequence of Row
    flags : mapping of str to tuple of str
        What soaks say of runs, by run id.

    Returns
    -------
    Comparison or None
        None where no two boards can be ranked.
    tuple of Problem
        A fault of ours here must not cost what was measured; it is reported as such.
    """
    from irspot.workflow.measure_run import internal_problem

    try:
        made = compare([Measured(study, through_json(rows), _run_flags(study, flags))])
    except Exception as error:
        return None, (internal_problem(error, "comparison"),)
    several = any(len({row.board for row in ranking.rows}) > 1 for ranking in made.rankings)
    return (made if several else None), ()


def comparison_files(made: Comparison) -> dict[str, Content]:
    """Give compare.csv."""
    from irspot.exports.tables import compare_csv

    return {"compare.csv": compare_csv(made.rows)}


def compare_document(compared: StudyComparison) -> dict[str, Any]:
    """Give the comparison for JSON, with the data dictionary."""
    from irspot.columns import COMPARE_COLUMNS

    made = compared.comparison
    found = (compared.problems, compared.warnings)
    return table_document(compared.studies[0], COMPARE_COLUMNS, made.rows, found) | {
        "comparison": comparison_json(made)
    }


def write_comparison(compared: StudyComparison, folder: Path, look: ChartLook | None = None) -> dict[str, Any]:
    """Write compare.csv, charts where a look is given, and results.json last.

    Raises
    ------
    OutputRefused
        If that would go over an input, a stranger's file, or the results of a whole study.
    """
    from irspot.workflow.outputs import write_tables

    inputs = list(_inputs(compared.studies))
    batch = batch_of([board.batch for board in compared.studies[0].boards])
    wanted = [] if look is None else comparison_charts(compared.comparison, batch, look)
    drawn = [draw_chart(task) for task in wanted]
    compared = replace(compared, problems=(*compared.problems, *chart_problems(drawn)))
    files = comparison_files(compared.comparison) | chart_files(drawn)
    return write_tables(folder, files, inputs, compare_document(compared))


def _inputs(studies: Sequence[Study]) -> Iterator[Path]:
    for study in studies:
        yield from inputs_of(study)
