"""What else was measured while a board was heated: logs of thermocouples, air, power and the board's own sensors."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

LogUnit = Literal["degC", "mV"]


@dataclass(frozen=True, slots=True)
class Witnesses:
    """The logs of a run, and what is known of the instruments that wrote them.

    Parameters
    ----------
    thermocouple_log : Path or None
    thermocouple_unit : {"degC", "mV"} or None
        Of columns that state none.
    cold_junction_degc : float or None
        For voltages, where the log has no column of it.
    columns : tuple of (str, str)
        Site id and the column of the log that is its bead; a site not named has the column of its own id.
    clock_offset_s : float or None
        Logger's clock less the camera's; None leaves it to be estimated.
    logger_limit_k, cold_junction_limit_k : float
        Makers' limits, as bounds.
    logger_on_min : float or None
    equality_log : Path or None
        Of the same channels with no power on the board.
    ambient_log : Path or None
    ambient_column : str
    power_log : Path or None
    power_column : str
    sensor_log : Path or None
        Of the board's own sensors: a third witness, shown beside the others and never pooled with them.
    """

    thermocouple_log: Path | None = None
    thermocouple_unit: LogUnit | None = None
    cold_junction_degc: float | None = None
    columns: tuple[tuple[str, str], ...] = ()
    clock_offset_s: float | None = None
    logger_limit_k: float = 0.0
    cold_junction_limit_k: float = 0.0
    logger_on_min: float | None = None
    equality_log: Path | None = None
    ambient_log: Path | None = None
    ambient_column: str = ""
    power_log: Path | None = None
    power_column: str = ""
    sensor_log: Path | None = None

    @property
    def files(self) -> tuple[Path, ...]:
        """Every log, each once."""
        named = (self.thermocouple_log, self.equality_log, self.ambient_log, self.power_log, self.sensor_log)
        return tuple(dict.fromkeys(path for path in named if path is not None))

    def column_of(self, site: str) -> str:
        """Name the column of a site's bead."""
        return dict(self.columns).get(site, site)


NO_WITNESSES = Witnesses()
