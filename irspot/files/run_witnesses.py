"""The keys of a run that name logs, converted to `irspot.witnesses.Witnesses`."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from irspot.board import Board
from irspot.files.findings import Findings, Loc, known_or_list, show
from irspot.files.frame_files import exists
from irspot.witnesses import Witnesses

LOG_KEYS: Final = ("thermocouple_log", "equality_log", "ambient_log", "power_log", "sensor_log")
_NEEDS: Final[Mapping[str, str]] = {
    "thermocouple_unit": "thermocouple_log",
    "cold_junction_degc": "thermocouple_log",
    "columns": "thermocouple_log",
    "logger_limit_k": "thermocouple_log",
    "cold_junction_limit_k": "thermocouple_log",
    "logger_on_min": "thermocouple_log",
    "equality_log": "thermocouple_log",
    "ambient_column": "ambient_log",
    "power_column": "power_log",
}
"""Keys that say something of a log, and the log they need."""
_SAME_NAMES: Final = (
    "thermocouple_unit",
    "cold_junction_degc",
    "clock_offset_s",
    "logger_limit_k",
    "cold_junction_limit_k",
    "logger_on_min",
    "ambient_column",
    "power_column",
)


def witnesses_of(
    keys: Mapping[str, Any], own: Mapping[str, Any], loc: Loc, board: Board | None, folder: Path, findings: Findings
) -> Witnesses:
    """Make a run's logs.

    Parameters
    ----------
    keys : mapping
        The run's, over the study's defaults.
    own : mapping
        The run's alone: what stands at study level for all runs needs no log in each.
    loc : tuple
    board : Board or None
        None where it could not be read.
    folder : Path
        Of the study file.
    findings : Findings
    """
    for key, needed in _NEEDS.items():
        if key in own and needed not in keys and not findings.broken(*loc, needed):
            findings.error((*loc, key), f"stands without {needed}")
    files = {key: folder / keys[key] for key in LOG_KEYS if key in keys}
    for key, path in files.items():
        if not exists(path):
            findings.error((*loc, key), "names no file", found=show(keys[key]))
    columns = tuple(sorted(keys.get("columns", {}).items()))
    if board is not None:
        _check_sites(columns, board, loc, findings)
    given = {key: keys[key] for key in _SAME_NAMES if key in keys}
    return Witnesses(columns=columns, **files, **given)


def _check_sites(columns: tuple[tuple[str, str], ...], board: Board, loc: Loc, findings: Findings) -> None:
    known = [site.id for site in board.sites]
    for site, _ in columns:
        if site not in known:
            hint = known_or_list(site, known, "sites") if known else "the board file lists no [[site]]"
            findings.error((*loc, "columns", site), "names no site of the board", hint=hint)
