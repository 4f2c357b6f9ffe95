"""The air's temperature of runs that name a log of it instead of a number."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

import numpy as np

from irspot.errors import IrspotError, Problem
from irspot.series import Series
from irspot.study import Run, Study
from irspot.workflow.opened import opened_sources
from irspot.workflow.run_logs import logs_of
from irspot.workflow.run_problems import of_run
from irspot.workflow.tasks import MeasureTask

_AROUND_S: Final = 60.0
"""Air that counts for a frame: of so long before and after."""
_DRIFT_S: Final = 1800.0
"""Time before the last frame over which the air may not drift by more than the study tolerates."""


def with_logged_ambient(study: Study) -> tuple[Study, dict[str, tuple[Problem, ...]]]:
    """Give every run that names a log of the air, and no number, the air's temperature at its last frame.

    Parameters
    ----------
    study : Study

    Returns
    -------
    Study
    dict of str to tuple of Problem
        By run id: logs that cannot be used (the run then has no ambient temperature), and warnings of air that drifted
        or was not as the study wants it.
    """
    runs, problems = [], {}
    for run in study.runs:
        found, said = _with_ambient(run, study)
        runs.append(found)
        problems[run.id] = tuple(of_run(run.id, problem) for problem in (*said, *_tolerated(found, study)))
    return replace(study, runs=tuple(runs)), problems


def _with_ambient(run: Run, study: Study) -> tuple[Run, tuple[Problem, ...]]:
    if run.ambient_degc is not None or run.witnesses.ambient_log is None:
        return run, ()
    board = study.board(run.board).board
    only_air = replace(run.witnesses, thermocouple_log=None, power_log=None, sensor_log=None)
    try:
        sources = opened_sources(MeasureTask(run, board, study.utc_offset))
        first, last = sources[0].frame(0), sources[-1].frame(sources[-1].count - 1)
    except IrspotError:
        return run, ()  # the run itself says so
    offset = study.utc_offset
    first, last = first.with_utc_offset(offset), last.with_utc_offset(offset)
    logs = logs_of(replace(run, witnesses=only_air), board, first.time_utc, offset)
    if logs.ambient is None:
        return run, logs.problems
    taken = first.time_utc is not None and last.time_utc is not None
    last_s = (last.time_utc - first.time_utc).total_seconds() if taken else math.nan  # type: ignore[operator]
    value, u_k, drift_k = _air(logs.ambient, last_s)
    if not math.isfinite(value):
        return run, (*logs.problems, Problem("the log tells no air temperature", str(run.witnesses.ambient_log)))
    found = replace(run, ambient_degc=value, u_ambient_k=math.hypot(run.u_ambient_k, u_k))
    tolerance_k = study.ambient_tolerance_k
    if tolerance_k is not None and drift_k > tolerance_k:
        message = f"the air drifted by {drift_k:.1f} K in the last half hour; {tolerance_k:g} K are tolerated"
        return found, (*logs.problems, Problem(message, severity="warning"))
    return found, logs.problems


def _air(ambient: Series, last_s: float) -> tuple[float, float, float]:
    """Mean around the last frame (or at the log's end), how it scattered, and how far it drifted before."""
    known = ambient.known
    if not known.time_s.size:
        return math.nan, math.nan, math.nan
    at_s = last_s if known.time_s[0] <= last_s <= known.time_s[-1] else float(known.time_s[-1])
    near = np.abs(known.time_s - at_s) <= _AROUND_S
    values = known.value[near]
    before = known.value[(known.time_s >= at_s - _DRIFT_S) & (known.time_s <= at_s + _AROUND_S)]
    low, high = np.percentile(before, [5.0, 95.0])
    return float(values.mean()), float(values.std()), float(high - low)


def _tolerated(run: Run, study: Study) -> tuple[Problem, ...]:
    """Warn of air that is not as the study wants it."""
    wanted, tolerance_k = study.reference_ambient_degc, study.ambient_tolerance_k
    if run.ambient_degc is None or wanted is None or tolerance_k is None:
        return ()
    off_k = run.ambient_degc - wanted
    if abs(off_k) <= tolerance_k:
        return ()
    message = f"the air was {off_k:+.1f} K off the study's {wanted:g} °C; {tolerance_k:g} K are tolerated"
    return (Problem(message, severity="warning"),)
