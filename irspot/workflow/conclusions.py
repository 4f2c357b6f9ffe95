"""What a study's runs say over time and beside their thermocouples, from what was measured of them already."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

from irspot.errors import Problem
from irspot.study import Study
from irspot.workflow.crosscheck_run import CrosscheckRow, RunCrosscheck, crosscheck_run
from irspot.workflow.crosscheck_study import BeadPlaces, crosscheck_died, crosscheck_files, places_json, places_of
from irspot.workflow.outputs import Content
from irspot.workflow.pool import Progress, run_tasks
from irspot.workflow.run_problems import of_run
from irspot.workflow.soak_study import RunSoak, SoakRow, SoakTask, rules_json, soak_died, soak_run
from irspot.workflow.tasks import MeasureTask, RunResult


@dataclass(frozen=True, slots=True, eq=False)
class Conclusions:
    """What was concluded of the runs of a study.

    Parameters
    ----------
    runs : tuple of RunSoak
        Of those measured over time.
    checked : tuple of RunCrosscheck
        Of runs with logs.
    places : tuple of BeadPlaces
        Where beads would sit best.
    problems : tuple of Problem
        Errors and warnings, each named with its run.
    """

    runs: tuple[RunSoak, ...] = ()
    checked: tuple[RunCrosscheck, ...] = ()
    places: tuple[BeadPlaces, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def soaks(self) -> tuple[SoakRow, ...]:
        """Rows of soak.csv, in the study's order."""
        return tuple(row for each in self.runs for row in each.rows)

    @property
    def crosschecks(self) -> tuple[CrosscheckRow, ...]:
        """Rows of crosscheck.csv, in the study's order."""
        return tuple(row for each in self.checked for row in each.rows)


def conclude(
    study: Study,
    tasks: Sequence[MeasureTask],
    results: Sequence[RunResult],
    workers: Executor | None,
    progress: Progress,
) -> Conclusions:
    """Judge the soak of every run that was measured over time, and hold every run's beads against its frames.

    Parameters
    ----------
    study : Study
    tasks : sequence of MeasureTask
    results : sequence of RunResult
        Of the tasks, one by one.
    workers : executor
    progress : callable

    Returns
    -------
    Conclusions
        A run that fails is a problem; the others are not affected.
    """
    over_time = [
        SoakTask(task, study.load(task.run.load), zones=result.series.zones)
        for task, result in zip(tasks, results, strict=True)
        if result.series is not None
    ]
    logged = [task for task in tasks if task.run.witnesses.files]
    soaks = run_tasks(
        soak_run, over_time, [f"{t.measure.run.id} soak" for t in over_time], workers, progress, soak_died
    )
    names = [f"{task.run.id} beads" for task in logged]
    checked = run_tasks(crosscheck_run, logged, names, workers, progress, crosscheck_died)
    problems = [of_run(each.run_id, problem) for each in checked for problem in each.problems]
    problems += [problem for each in soaks for problem in each.problems]
    return Conclusions(
        tuple(soaks),
        tuple(checked),
        tuple(places_of(study, checked)),
        # Both read the logs, and say alike what is wrong with them.
        tuple(dict.fromkeys(problems)),
    )


def conclusion_files(made: Conclusions) -> dict[str, Content]:
    """Give the tables, those only that have rows."""
    from irspot.exports.tables import soak_csv

    files: dict[str, Content] = {"soak.csv": soak_csv(made.soaks)} if made.soaks else {}
    if made.crosschecks or any(each.timeline for each in made.checked):
        files |= crosscheck_files(made.crosschecks, made.checked)
    return files


def conclusions_json(made: Conclusions) -> dict[str, Any]:
    """Give what results.json says beside the tables: the rules of steadiness, and places for beads."""
    rules = {"steady_rules": rules_json(made.soaks)} if made.soaks else {}
    places = {"bead_places": [places_json(each) for each in made.places]} if made.places else {}
    return rules | places


def soak_flags(made: Conclusions) -> dict[str, tuple[str, ...]]:
    """Give what soaks say of whole runs, by run id."""
    found: dict[str, list[str]] = {}
    for row in made.soaks:
        found.setdefault(row.label.run, []).extend(row.reading.flags)
    return {run: tuple(dict.fromkeys(flags)) for run, flags in found.items()}
