"""Results of an earlier run of a study, read back: its rows, what they were made of, and what changed since."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Final

from irspot.compare.values import Change
from irspot.conditions import Conditions
from irspot.constants import METHOD
from irspot.flags import FLAGS, VERDICTS
from irspot.results import NAN, Reading, Row, RunLabel
from irspot.study import Study
from irspot.uncertain import ActsOn, Term
from irspot.workflow.outputs import RESULTS
from irspot.workflow.provenance import file_digest
from irspot.workflow.study_document import inputs_of, relative_name

OLD_FOLDER: Final = "out"
"""Beside a study: where its results are looked for."""
_COMPARED: Final = ("max_degc", "U_max_k", "rise_k", "U_rise_k")
_LEAST_CHANGE: Final = 0.0015
"""Of numbers with three decimals."""
_MAX_BYTES: Final = 500_000_000
_SURFACE_TERMS: Final[Mapping[str, ActsOn]] = {
    "emissivity": "emissivity",
    "even board": "emissivity",
    "camera limit in the map": "emissivity",
    "reflected temperature": "reflected",
    "transmission": "transmission",
    "window temperature": "window",
}
_TEXTS: Final = ("frame", "time", "zone", "role", "measures", "cover", "limit_kind")
_NUMBERS: Final = tuple(each.name for each in fields(Reading) if each.type == "float")


@dataclass(frozen=True, slots=True, eq=False)
class OldResults:
    """A complete results.json.

    Parameters
    ----------
    file : Path
    version : str
    method : int
    inputs : mapping of str to str
        Name from the study's folder → SHA-256.
    rows : tuple of Row
    """

    file: Path
    version: str
    method: int
    inputs: Mapping[str, str]
    rows: tuple[Row, ...]


def old_results(study: Study) -> OldResults | None:
    """Read the results beside a study; None where there are none, or none that can be read."""
    file = study.file.parent / OLD_FOLDER / RESULTS
    try:
        if file.stat().st_size > _MAX_BYTES:
            return None
        document = json.loads(file.read_text(encoding="utf-8"))
        if document["study"]["file"] != study.file.name:
            return None
        inputs = {str(name): str(digest) for name, digest in document["inputs"].items()}
        version, method = str(document["irspot"]), int(document["method"])
        return OldResults(file, version, method, inputs, rows_of(document["rows"], document["runs"]))
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None


def rows_of(rows: Sequence[Mapping[str, Any]], runs: Sequence[Mapping[str, Any]]) -> tuple[Row, ...]:
    """Turn the rows of results.json into readings again.

    Raises
    ------
    KeyError, ValueError, TypeError
        For rows that are none.
    """
    air = {str(run["run"]): _number(run["u_ambient_k"]) for run in runs}
    return tuple(_row(row, air[str(row["run"])]) for row in rows)


def through_json(rows: Sequence[Row]) -> tuple[Row, ...]:
    """Round rows as results.json does, so that a comparison is the same whether it measures or reads results."""
    from irspot.exports.json_results import number, row_json

    air = {row.label.run: number(row.reading.conditions.u_ambient_k) for row in rows}
    return rows_of([row_json(row) for row in rows], [{"run": run, "u_ambient_k": u_k} for run, u_k in air.items()])


def _row(row: Mapping[str, Any], u_ambient_k: float) -> Row:
    verdict, flags = row["verdict"], tuple(str(flag) for flag in row["flags"])
    if verdict not in VERDICTS or not set(flags) <= FLAGS.keys():
        raise ValueError("a verdict or a flag that there is none of")
    ambient = _number(row["ambient_degc"])
    values: dict[str, Any] = {name: str(row[name]) for name in _TEXTS}
    values |= {name: _number(row[name]) for name in _NUMBERS if name in row}
    values["budget"] = tuple(_term(term) for term in row["budget"])
    values["conditions"] = Conditions(None if math.isnan(ambient) else ambient, u_ambient_k)
    reading = Reading(zone_name=str(row["zone"]), verdict=verdict, flags=flags, **values)
    return Row(RunLabel(str(row["run"]), str(row["board"]), str(row["load"]), str(row["side"])), reading)


def _term(term: Mapping[str, Any]) -> Term:
    name = str(term["name"])
    acts_on = _SURFACE_TERMS.get(name, "radiance")
    return Term(
        name,
        _number(term["u_input"]),
        _number(term["sensitivity"]),
        str(term["shared"]),
        bool(term["rectangular"]),
        acts_on,
    )


def _number(value: Any) -> float:
    return NAN if value is None else float(value)


def changed_inputs(old: OldResults, study: Study) -> list[str]:
    """Name the inputs that are not what the results were made of: changed, new, or gone."""
    base = study.file.parent
    now = {relative_name(path, base): path for path in inputs_of(study) if path.is_file()}
    changed = [name for name, path in now.items() if old.inputs.get(name) != file_digest(path)]
    return sorted({*changed, *(name for name in old.inputs if name not in now)})


def changes_between(old: OldResults, study: Study, rows: Sequence[Row], changed: Sequence[str]) -> Iterator[Change]:
    """List the numbers that are not what earlier results state, each with what changed.

    Parameters
    ----------
    old : OldResults
    study : Study
    rows : sequence of Row
        Of today.
    changed : sequence of str
        See `changed_inputs`.
    """
    before, after = _by_place(old.rows), _by_place(rows)
    base = study.file.parent
    of_run = {run.id: {relative_name(file, base) for file in run.input_files} for run in study.runs}
    general = {name for name in changed if not any(name in files for files in of_run.values())}
    for place in dict.fromkeys((*before, *after)):
        was, is_now = before.get(place), after.get(place)
        own = [name for name in changed if name in general or name in of_run.get(place[0], set())]
        reason = _reason(old, own)
        for column in _COMPARED:
            old_value = NAN if was is None else float(getattr(was, column))
            new_value = NAN if is_now is None else float(getattr(is_now, column))
            if _unlike(old_value, new_value):
                yield Change(study.title, *place, column, old_value, new_value, reason)


def _by_place(rows: Sequence[Row]) -> dict[tuple[str, str, str], Reading]:
    return {(row.label.run, row.reading.frame, row.reading.zone): row.reading for row in rows}


def _unlike(old: float, new: float) -> bool:
    if math.isnan(old) or math.isnan(new):
        return math.isnan(old) != math.isnan(new)
    return abs(old - new) > _LEAST_CHANGE


def _reason(old: OldResults, changed: Sequence[str]) -> str:
    from irspot.version import __version__

    found = [f"METHOD {old.method} to {METHOD}"] if old.method != METHOD else []
    if changed:
        found.append(f"changed: {', '.join(changed[:3])}{' and more' if len(changed) > 3 else ''}")
    if not found and old.version != __version__:
        found.append(f"irspot {old.version} to {__version__}")
    return "; ".join(found) or "no reason found: neither inputs nor METHOD changed"
