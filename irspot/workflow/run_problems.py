"""Problems of single runs, named with their run where they are gathered."""

from __future__ import annotations

from dataclasses import replace

from irspot.errors import Problem


def of_run(run_id: str, problem: Problem) -> Problem:
    """Name a problem with its run, unless it names it already.

    Examples
    --------
    >>> of_run("k7-stock-front", Problem("no line", key="line 3")).key
    'run k7-stock-front, line 3'
    """
    if f"run {run_id}" in problem.key:
        return problem
    return replace(problem, key=f"run {run_id}" + (f", {problem.key}" if problem.key else ""))
