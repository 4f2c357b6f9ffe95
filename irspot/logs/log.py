"""A log: columns of numbers over time, with everything that was found wrong while reading it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.errors import Problem

FloatArray = NDArray[np.floating[Any]]


@dataclass(frozen=True, slots=True, eq=False)
class LogColumn:
    """One column.

    Parameters
    ----------
    name : str
        As its header has it, without the unit.
    unit : str
        ``degC``, ``mV``, ``W``, ``GHz`` or ``MHz`` (what it was converted to), or empty where the header states none.
    values : ndarray, shape (n,)
        NaN where a cell holds no number.
    """

    name: str
    unit: str
    values: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Log:
    """What a log file holds.

    Parameters
    ----------
    file : str
    time_s : ndarray, shape (n,)
        Seconds since the first line, or as the log counts them, strictly rising.
    start : datetime or None
        When ``time_s`` was 0: aware (UTC) where the zone is stated, naive where it is not, None where the log counts
        seconds.
    columns : tuple of LogColumn
    notes : tuple of str
        What was found out about how it is written.
    problems : tuple of Problem
        Warnings, each with its line: cells that are no numbers, stamps that repeat or go back, gaps.
    declared : dict
        What its comment lines declare: ``unit``, ``utc_offset``, ``date``.
    """

    file: str
    time_s: FloatArray
    start: datetime | None
    columns: tuple[LogColumn, ...]
    notes: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    declared: dict[str, str] = field(default_factory=dict)

    def column(self, name: str) -> LogColumn | None:
        """Find a column by name: exactly, or ignoring case and blanks where that leaves one."""
        exact = [column for column in self.columns if column.name == name]
        alike = [column for column in self.columns if _plain(column.name) == _plain(name)]
        found = exact or alike
        return found[0] if len(found) == 1 else None

    def start_utc(self, utc_offset: timedelta | None) -> datetime | None:
        """When its time was 0, in UTC; None where nothing states the zone or the log counts seconds.

        Parameters
        ----------
        utc_offset : timedelta or None
            Of clocks that state no zone; never guessed.
        """
        if self.start is None or self.start.tzinfo is not None:
            return self.start
        return None if utc_offset is None else (self.start - utc_offset).replace(tzinfo=UTC)


def _plain(name: str) -> str:
    return "".join(name.casefold().split())
