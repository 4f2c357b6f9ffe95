"""The logs of a run read and put on its clock: beads, air, power, the board's own sensors."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final, TypeVar

import numpy as np

from irspot.board import Board, Site
from irspot.crosscheck import Fault, Witnesses, bead_fault, witnesses_of
from irspot.errors import FileInvalid, Problem
from irspot.logs import Log, LogColumn, bead_degc, read_log, tolerance_k
from irspot.series import FloatArray, Series, SeriesKind
from irspot.study import Run
from irspot.uncertain import from_bound

Made = TypeVar("Made")
_COLD_JUNCTION: Final = frozenset({"cold_junction_degc", "cold_junction", "coldjunction", "cjc", "referencejunction"})
_LEAST_NOISE: Final = 0.005
"""Of any value that was logged: digits end somewhere."""


@dataclass(frozen=True, slots=True, eq=False)
class RunLogs:
    """What was logged during a run, in seconds since its first frame by the logs' own clocks.

    Parameters
    ----------
    beads : tuple of (Site, Series)
        In the board file's order.
    ambient, power : Series or None
    sensors : tuple of Series
    aligned : bool
        Whether stamps of both clocks tell how the thermocouples' log and the frames lie to one another; if not, the log
        is taken to begin with the first frame.
    problems : tuple of Problem
    """

    beads: tuple[tuple[Site, Series], ...] = ()
    ambient: Series | None = None
    power: Series | None = None
    sensors: tuple[Series, ...] = ()
    aligned: bool = False
    problems: tuple[Problem, ...] = ()


def logs_of(run: Run, board: Board, first_utc: datetime | None, utc_offset: timedelta | None) -> RunLogs:
    """Read a run's logs; what cannot be read is a problem, and the rest is kept.

    Parameters
    ----------
    run : Run
    board : Board
    first_utc : datetime or None
        When its first frame was taken.
    utc_offset : timedelta or None
        Of clocks that state no zone.
    """
    reader = _Reader(run, first_utc, utc_offset)
    beads = reader.of(run.witnesses.thermocouple_log, lambda log: reader.beads(log, board))
    ambient = reader.of(run.witnesses.ambient_log, reader.ambient)
    power = reader.of(run.witnesses.power_log, reader.power)
    sensors = reader.of(run.witnesses.sensor_log, reader.sensors)
    return RunLogs(
        tuple(beads),
        ambient[0] if ambient else None,
        power[0] if power else None,
        tuple(sensors),
        reader.aligned(run.witnesses.thermocouple_log),
        tuple(dict.fromkeys(reader.problems)),
    )


def fault_of(bead: Series, logs: RunLogs, run: Run) -> Fault | None:
    """Find from when on a bead is not to be believed, with everything else that was logged as witness."""
    ambient = logs.ambient if logs.ambient is not None else run.ambient_degc
    others = witnesses_of(bead, [series for _, series in logs.beads], ())
    return bead_fault(bead, Witnesses(ambient, others, logs.power))


def logged_degc(
    run: Run, column: str, first_utc: datetime | None, utc_offset: timedelta | None
) -> tuple[Series | None, tuple[Problem, ...]]:
    """Read one column of temperatures from the first of a run's logs that has it.

    Parameters
    ----------
    run : Run
    column : str
    first_utc : datetime or None
    utc_offset : timedelta or None
        As in `logs_of`.
    """
    reader = _Reader(run, first_utc, utc_offset)
    witnesses = run.witnesses
    for path in (witnesses.thermocouple_log, witnesses.sensor_log, witnesses.ambient_log):
        found = reader.of(path, lambda log: reader.temperatures(log, column))
        if found:
            return found[0], tuple(dict.fromkeys(reader.problems))
    return None, tuple(dict.fromkeys(reader.problems))


def equality_channels(run: Run, board: Board) -> tuple[tuple[tuple[Series, Site], ...], tuple[Problem, ...]]:
    """Read the log of a run's channels without power."""
    reader = _Reader(run, None, None)
    found = reader.of(run.witnesses.equality_log, lambda log: reader.beads(log, board))
    return tuple((series, site) for site, series in found), tuple(reader.problems)


class _Reader:
    """Reads each log once and remembers what was wrong."""

    def __init__(self, run: Run, first_utc: datetime | None, utc_offset: timedelta | None) -> None:
        self._run = run
        self._first_utc = first_utc
        self._utc_offset = utc_offset
        self._logs: dict[Path, Log | None] = {}
        self.problems: list[Problem] = []

    def of(self, path: Path | None, made: Callable[[Log], list[Made]]) -> list[Made]:
        """Read a log and make something of it."""
        log = None if path is None else self._read(path)
        return [] if log is None else made(log)

    def _read(self, path: Path) -> Log | None:
        if path not in self._logs:
            try:
                self._logs[path] = log = read_log(path)
                self.problems += log.problems
            except FileInvalid as invalid:
                self._logs[path] = None
                self.problems += invalid.problems()
        return self._logs[path]

    def aligned(self, path: Path | None) -> bool:
        """Say whether stamps tell how a log and the frames lie to one another."""
        log = self._logs.get(path) if path is not None else None
        return log is not None and self._shift_s(log) is not None

    def _shift_s(self, log: Log) -> float | None:
        start = log.start_utc(self._utc_offset)
        if start is None or self._first_utc is None:
            return None
        return (start - self._first_utc).total_seconds()

    def _series(self, log: Log, column: LogColumn, name: str, kind: SeriesKind, u_shared: float = 0.0) -> Series:
        time_s = log.time_s + (self._shift_s(log) or 0.0)
        u = np.full(time_s.shape, max(_LEAST_NOISE, noise_of(column.values)))
        return Series(name, kind, column.unit, time_s, column.values, u, u_shared)

    def beads(self, log: Log, board: Board) -> list[tuple[Site, Series]]:
        """Give the bead of every site that has a column."""
        found = []
        for site in board.sites:
            column = log.column(self._run.witnesses.column_of(site.id))
            if column is None:
                if site.id in dict(self._run.witnesses.columns):
                    self._wrong(
                        log, f"no column '{self._run.witnesses.column_of(site.id)}', or several, for '{site.id}'"
                    )
                continue
            in_degc = self._in_degc(log, column, site)
            if in_degc is not None:
                bound_k = tolerance_k(site.type, site.tolerance_class, float(np.nanmedian(in_degc.values)))
                u_shared = from_bound(bound_k) if np.isfinite(bound_k) else 0.0
                found.append((site, self._series(log, in_degc, site.id, "bead", u_shared)))
        if not found and not any(log.column(each.log_column) for each in board.references if each.log_column):
            names = ", ".join(column.name for column in log.columns[:12])
            self._wrong(
                log, "no column of it is a bead of the board", f"columns: {names}; name them in the run's columns"
            )
        return found

    def _in_degc(self, log: Log, column: LogColumn, site: Site) -> LogColumn | None:
        unit = column.unit or self._run.witnesses.thermocouple_unit or ""
        if unit == "degC":
            return replace(column, unit="degC")
        if unit != "mV":
            hint = "state '# unit: degC' in the log, or thermocouple_unit in the study"
            self._wrong(log, f"the column '{column.name}' states no unit of thermocouples", hint)
            return None
        cold = next((c for c in log.columns if "".join(c.name.casefold().split()) in _COLD_JUNCTION), None)
        given = self._run.witnesses.cold_junction_degc
        if cold is None and given is None:
            hint = "give cold_junction_degc in the study, or a column of that name"
            self._wrong(log, f"the column '{column.name}' holds voltages, and nothing tells the cold junction", hint)
            return None
        at_degc: FloatArray | float = cold.values if cold is not None else float(given or 0.0)
        return LogColumn(column.name, "degC", bead_degc(site.type, column.values, at_degc))

    def ambient(self, log: Log) -> list[Series]:
        """Give the air's temperature."""
        column = self._one(log, self._run.witnesses.ambient_column, "degC", "ambient_column")
        return [] if column is None else [self._series(log, column, "ambient", "ambient", self._run.u_ambient_k)]

    def temperatures(self, log: Log, name: str) -> list[Series]:
        """Give a column of temperatures; none where there is no such column, or it holds something else."""
        column = log.column(name)
        if column is None or (column.unit or self._run.witnesses.thermocouple_unit) != "degC":
            return []
        return [self._series(log, replace(column, unit="degC"), name, "sensor")]

    def power(self, log: Log) -> list[Series]:
        """Give the power."""
        column = self._one(log, self._run.witnesses.power_column, "W", "power_column")
        return [] if column is None else [self._series(log, column, "power", "power")]

    def sensors(self, log: Log) -> list[Series]:
        """Give every column that has a unit."""
        return [self._series(log, column, column.name, "sensor") for column in log.columns if column.unit]

    def _one(self, log: Log, name: str, unit: str, key: str) -> LogColumn | None:
        fitting = [column for column in log.columns if column.unit in (unit, "")]
        column = log.column(name) if name else (fitting[0] if len(fitting) == 1 else None)
        if column is None:
            names = ", ".join(column.name for column in log.columns[:12])
            self._wrong(
                log, f"which column is meant is not clear, or it is not there ({name or key})", f"columns: {names}"
            )
            return None
        return replace(column, unit=unit)

    def _wrong(self, log: Log, message: str, hint: str = "") -> None:
        self.problems.append(Problem(message, log.file, hint=hint))


def noise_of(values: Sequence[float] | FloatArray) -> float:
    """Standard deviation of one value, from the steps between neighbours, drift and outliers left out of account."""
    steps = np.diff(np.asarray(values, float))
    steps = steps[np.isfinite(steps)]
    if steps.size < 8:
        return 0.0
    steps = steps - np.median(steps)
    return float(1.4826 * np.median(np.abs(steps)) / np.sqrt(2.0))
