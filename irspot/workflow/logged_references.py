"""References whose temperature stands in a log: what each was when a frame was taken."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime
from typing import Final

import numpy as np

from irspot.board import Board, Reference
from irspot.errors import Problem
from irspot.frame import Frame
from irspot.series import Series
from irspot.uncertain import from_bound
from irspot.workflow.opened import opened_sources
from irspot.workflow.run_logs import logged_degc
from irspot.workflow.tasks import MeasureTask

_AROUND_S: Final = 30.0
"""What is logged so long before and after a frame counts for it."""
_CLOCKS_S: Final = 15.0
"""By so much clocks that nobody compared may be apart."""


class LoggedReferences:
    """Tells a run's board with its references as they were at a frame.

    Parameters
    ----------
    task : MeasureTask

    Attributes
    ----------
    problems : tuple of Problem
        What was wrong with the logs asked so far.
    """

    def __init__(self, task: MeasureTask) -> None:
        self._task = task
        self._logged = any(each.log_column is not None for each in task.board.references)
        self._first_utc: datetime | None = None
        self._series: dict[str, Series | None] | None = None
        self.problems: tuple[Problem, ...] = ()

    def board_at(self, frame: Frame, since_first_s: float | None = None) -> Board:
        """Give the board for a frame; what no log tells has no temperature, and is not used.

        Parameters
        ----------
        frame : Frame
        since_first_s : float, optional
            When it was taken, from the run's first frame, where its own stamp does not say.
        """
        board = self._task.board
        if not self._logged:
            return board
        if self._series is None:
            self._read()
        at_s = self._log_s(frame, since_first_s)
        return replace(board, references=tuple(self._at(each, frame, at_s) for each in board.references))

    def _at(self, reference: Reference, frame: Frame, at_s: float) -> Reference:
        if reference.log_column is None:
            return reference
        assert self._series is not None
        series = self._series[reference.log_column]
        value, varied_k = (math.nan, math.nan) if series is None else _around(series, at_s)
        if not math.isfinite(value):
            self._untold(reference, frame)
            return reference
        return replace(reference, temperature_degc=value, u_k=math.hypot(reference.u_k, varied_k))

    def _read(self) -> None:
        first = opened_sources(self._task)[0].frame(0)
        self._first_utc = first.with_utc_offset(self._task.utc_offset).time_utc
        self._series = {}
        for column in {each.log_column for each in self._task.board.references if each.log_column is not None}:
            self._series[column], problems = logged_degc(self._task.run, column, self._first_utc, self._task.utc_offset)
            self.problems += tuple(problem for problem in problems if problem not in self.problems)

    def _log_s(self, frame: Frame, since_first_s: float | None) -> float:
        """Say when a frame was taken on the log's clock; infinity where nothing tells."""
        offset_s = self._task.run.witnesses.clock_offset_s or 0.0
        if frame.time_utc is not None and self._first_utc is not None:
            return (frame.time_utc - self._first_utc).total_seconds() + offset_s
        return math.inf if since_first_s is None else since_first_s + offset_s

    def _untold(self, reference: Reference, frame: Frame) -> None:
        message = f"no log of the run tells the temperature of the reference '{reference.id}', so it was not used"
        hint = f"name a log with a column '{reference.log_column}' in degC as thermocouple_log or sensor_log"
        problem = Problem(message, frame.name, hint=hint, severity="warning")
        if problem not in self.problems:
            self.problems += (problem,)


def untold(board: Board) -> tuple[Problem, ...]:
    """Name the references whose temperature stands in a log, where there is none: of one frame alone."""
    return tuple(
        Problem(
            f"the reference '{each.id}' was not used: its temperature stands in a log, and one frame has none",
            key=f"reference '{each.id}'",
            hint="give temperature_degc in the board file, or measure in a study",
            severity="warning",
        )
        for each in board.references
        if each.log_column is not None
    )


def _around(series: Series, at_s: float) -> tuple[float, float]:
    """Value at a time, by a line through what was logged around it, and its uncertainty; at the log's end if late."""
    known = series.known
    if not known.time_s.size:
        return math.nan, math.nan
    at_s = min(at_s, float(known.time_s[-1])) if math.isinf(at_s) else at_s
    near = np.abs(known.time_s - at_s) <= _AROUND_S
    time_s, degc = known.time_s[near] - at_s, known.value[near]
    if not time_s.size:
        return math.nan, math.nan
    if np.ptp(time_s) == 0.0:
        return float(degc.mean()), float(degc.std())
    slope, value = np.polyfit(time_s, degc, 1)
    scatter_k = float(np.std(degc - slope * time_s - value))
    return float(value), math.hypot(scatter_k, from_bound(abs(float(slope)) * _CLOCKS_S))
