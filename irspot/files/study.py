"""Study files: read with every file they name, checked whole, converted to `irspot.study.Study`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import timedelta
from pathlib import Path
from typing import Any, Final

from irspot.camera import Camera
from irspot.errors import FileInvalid, Problem
from irspot.files.board import read_board_and_warnings
from irspot.files.camera import read_camera_and_warnings
from irspot.files.cold_frames import refuse_foreign_cold_frames
from irspot.files.findings import Findings, Loc, known_or_list, show
from irspot.files.frame_files import exists
from irspot.files.joined import decision_of, previous_of, refuse_unknown_reference
from irspot.files.run import Surroundings, run_of, warn_of_shared_frames
from irspot.files.run_map import refuse_shared_maps
from irspot.files.run_placement import PLACEMENT_KEYS
from irspot.files.study_keys import RUN_DEFAULTS, STUDY
from irspot.files.toml import load
from irspot.files.validate import sound_part
from irspot.study import BadRun, Load, Run, Study, StudyBoard

Tables = list[dict[str, Any]]
LISTS: Final = ("board", "load", "run")
"""Keys whose items stand for themselves: an error in one leaves the others usable."""
MAX_ID: Final = 64


def read_study_file(path: Path) -> Study:
    """Read a study file.

    Raises
    ------
    FileInvalid
        With everything that is wrong, if the study as a whole cannot be evaluated.
    """
    findings = Findings(str(path))
    return study_of(load(path, findings), path, findings)


def study_of(document: dict[str, Any], path: Path, findings: Findings) -> Study:
    """Check a parsed study file and convert it.

    Parameters
    ----------
    document : dict
    path : Path
        Where it came from: what its paths are relative to.
    findings : Findings

    Raises
    ------
    FileInvalid
    """
    table = sound_part(_with_plain_placements(document), STUDY, findings)
    scale = _scale(table.get("scale_degc", "auto"), findings)
    for name in LISTS:
        _check_list(table, name, findings)
    decision, previous = decision_of(table, findings), previous_of(table, path, findings)
    around = _surroundings(table, path.parent, findings)
    refuse_unknown_reference(table, findings)
    _refuse_if_hopeless(table, findings)
    ids = _run_ids(table["run"], around.defaults, findings)
    made = {index: run_of(ids[index], run, index, around, findings) for index, run in enumerate(table["run"])}
    made = refuse_shared_maps(_refuse_impossible_retakes(made, findings), findings)
    made = refuse_foreign_cold_frames(made, findings)
    good = {index: run for index, run in made.items() if isinstance(run, Run)}
    warn_of_shared_frames(good, findings)
    return Study(
        title=table.get("title", path.stem),
        file=path,
        boards=tuple(around.boards.values()),
        loads=tuple(around.loads.values()),
        runs=tuple(good.values()),
        bad_runs=tuple(run for run in made.values() if isinstance(run, BadRun)),
        problems=findings.problems,
        reference_ambient_degc=table.get("reference_ambient_degc"),
        ambient_tolerance_k=table.get("ambient_tolerance_k"),
        negligible_k=table.get("negligible_k"),
        utc_offset=_utc_offset(table.get("utc_offset")),
        scale_degc=scale,
        order=tuple(ids),
        previous=previous,
        reference_board=table.get("reference_board", ""),
        decision=decision,
    )


def _with_plain_placements(document: dict[str, Any]) -> dict[str, Any]:
    """Lift ``placement = { corners_px = ... }`` to ``corners_px = ...``, in the runs and at study level."""
    plain = _with_plain_placement(document)
    runs = plain.get("run")
    if isinstance(runs, list):
        plain = {**plain, "run": [_with_plain_placement(run) if isinstance(run, dict) else run for run in runs]}
    return plain


def _with_plain_placement(table: dict[str, Any]) -> dict[str, Any]:
    if isinstance(even := table.get("emissivity_map"), dict):
        table = {**table, "emissivity_map": _with_plain_placement(even)}
    way = table.get("placement")
    # Only where nothing contradicts it; else both stay, to be reported.
    if isinstance(way, dict) and len(way) == 1 and way.keys() <= set(PLACEMENT_KEYS[1:]) - table.keys():
        return {**{key: value for key, value in table.items() if key != "placement"}, **way}
    return table


def _scale(value: Any, findings: Findings) -> tuple[float, float] | None:
    if value == "auto":
        return None
    low, high = value
    if low >= high:
        findings.error(("scale_degc",), "the low end must be below the high end", found=show(value))
    return low, high


def _utc_offset(text: str | None) -> timedelta | None:
    """Read ``+02:00``.

    Examples
    --------
    >>> _utc_offset("-03:30") == -timedelta(hours=3, minutes=30)
    True
    """
    if text is None:
        return None
    size = timedelta(hours=int(text[1:3]), minutes=int(text[4:6]))
    return -size if text[0] == "-" else size


def _check_list(table: Mapping[str, Any], name: str, findings: Findings) -> None:
    """Refuse an empty list, and ids that stand twice: what refers to them would be ambiguous."""
    items: Tables = table.get(name, [])
    if not items and not findings.broken(name):
        findings.error((name,), "the study names none", wanted=f"at least one [[{name}]]")
    first: dict[str, int] = {}
    for index, item in enumerate(items):
        if "id" not in item:
            continue
        earlier = first.setdefault(item["id"].lower(), index)
        if earlier != index and name == "run":
            loc: Loc = ("run", index, "id")
            findings.error(loc, f"the id {show(item['id'])} is taken by run[{earlier}]", hint="ids ignore case")
        elif earlier != index:
            message = f"the id {show(item['id'])} stands twice: {name}[{earlier}] and {name}[{index}]"
            findings.error((name,), message, hint="ids ignore case")


def _refuse_if_hopeless(table: Mapping[str, Any], findings: Findings) -> None:
    """Raise if anything but single boards, loads and runs is wrong."""
    whole = any(len(place) < 2 or place[0] not in LISTS for place in findings.error_places())
    if whole or not set(LISTS) <= table.keys():
        raise FileInvalid(findings.problems)


def _surroundings(table: Mapping[str, Any], folder: Path, findings: Findings) -> Surroundings:
    boards, bad_boards = _boards(table.get("board", []), folder, findings)
    loads, bad_loads = _loads(table.get("load", []), findings)
    return Surroundings(
        folder=folder,
        defaults={key: value for key, value in table.items() if key in RUN_DEFAULTS},
        boards=boards,
        bad_boards=bad_boards,
        loads=loads,
        bad_loads=bad_loads,
        read_camera=_camera_reader(findings),
    )


def _boards(
    tables: Tables, folder: Path, findings: Findings
) -> tuple[dict[str, StudyBoard], dict[str, tuple[Problem, ...]]]:
    good: dict[str, StudyBoard] = {}
    bad: dict[str, tuple[Problem, ...]] = {}
    for index, table in enumerate(tables):
        loc: Loc = ("board", index)
        if "id" not in table:
            continue
        if "file" in table and not findings.broken(*loc):
            _read_board(table, folder / table["file"], loc, good, findings)
        if table["id"] not in good:
            bad[table["id"]] = findings.errors_within(*loc)
    return good, bad


def _read_board(
    table: Mapping[str, Any], path: Path, loc: Loc, good: dict[str, StudyBoard], findings: Findings
) -> None:
    if not exists(path):
        _no_such_file(path, (*loc, "file"), findings)
        return
    try:
        board, warnings = read_board_and_warnings(path)
    except FileInvalid as error:
        findings.include((*loc, "file"), error.problems())
        return
    findings.include((*loc, "file"), warnings)
    kept = {key: value for key, value in table.items() if key not in ("file", "design")}
    design = tuple(sorted(table.get("design", {}).items()))
    good[table["id"]] = StudyBoard(file=path, board=board, design=design, **kept)


def _no_such_file(path: Path, loc: Loc, findings: Findings) -> None:
    hint = "a path is relative to the file that names it"
    # Not shortened: the telling part of a path is its end.
    findings.error(loc, "there is no such file", found=f"'{path}'", hint=hint)


def _loads(tables: Tables, findings: Findings) -> tuple[dict[str, Load], dict[str, tuple[Problem, ...]]]:
    good: dict[str, Load] = {}
    bad: dict[str, tuple[Problem, ...]] = {}
    for index, table in enumerate(tables):
        if "id" not in table:
            continue
        if problems := findings.errors_within("load", index):
            bad[table["id"]] = problems
        else:
            good[table["id"]] = Load(**table)
    return good, bad


def _camera_reader(findings: Findings) -> Callable[[Path, Loc], Camera | tuple[Problem, ...]]:
    """Give a reader that opens each camera file once and notes what is found in it once."""
    known: dict[Path, Camera | tuple[Problem, ...]] = {}

    def read(path: Path, loc: Loc) -> Camera | tuple[Problem, ...]:
        if not exists(path):
            _no_such_file(path, loc, findings)
            return findings.errors_within(*loc)
        if path not in known:
            try:
                known[path], problems = read_camera_and_warnings(path)
            except FileInvalid as error:
                problems = error.problems()
                known[path] = problems
            findings.include(("camera",), problems)
        return known[path]

    return read


def _run_ids(tables: Tables, defaults: Mapping[str, Any], findings: Findings) -> list[str]:
    """Give every run its id: stated, or board-load-side, with ``-2``, ``-3`` for repeats."""
    taken = {table["id"].lower() for table in tables if "id" in table}
    ids: list[str] = []
    for index, table in enumerate(tables):
        if "id" in table and table["id"].lower() not in {earlier.lower() for earlier in ids}:
            ids.append(table["id"])
            continue
        ids.append(_free_id(_default_id({**defaults, **table}, index), taken))
        taken.add(ids[-1].lower())
        if len(ids[-1]) > MAX_ID and "id" not in table:
            wanted = f"id = a name of at most {MAX_ID} characters"
            findings.error(("run", index), "its id, made of board, load and side, is too long", wanted=wanted)
    return ids


def _default_id(table: Mapping[str, Any], index: int) -> str:
    if "board" in table and "load" in table:
        return f"{table['board']}-{table['load']}-{table.get('side', 'front')}"
    return f"run-{index + 1}"


def _free_id(wanted: str, taken: set[str]) -> str:
    if wanted.lower() not in taken:
        return wanted
    number = 2
    while f"{wanted}-{number}".lower() in taken:
        number += 1
    return f"{wanted}-{number}"


def _refuse_impossible_retakes(made: dict[int, Run | BadRun], findings: Findings) -> dict[int, Run | BadRun]:
    """Turn runs that replace a run there is not, or one another in a circle, into bad ones."""
    known = {run.id for run in made.values()}
    replaced_by = {run.id: run.replaces for run in made.values() if isinstance(run, Run) and run.replaces}
    checked = dict(made)
    for index, run in made.items():
        if not isinstance(run, Run) or not run.replaces:
            continue
        loc: Loc = ("run", index, "replaces")
        if run.replaces not in known:
            hint = known_or_list(run.replaces, sorted(known - {run.id}), "runs")
            findings.error(loc, "names no run of the study", found=show(run.replaces), hint=hint)
        elif _in_circle(run.id, replaced_by):
            findings.error(loc, "runs replace one another in a circle", found=show(run.replaces))
        if problems := findings.errors_within(*loc):
            checked[index] = BadRun(run.id, run.board, run.load, run.side, problems)
    return checked


def _in_circle(start: str, replaced_by: Mapping[str, str]) -> bool:
    seen = {start}
    here = replaced_by.get(start)
    while here is not None and here not in seen:
        seen.add(here)
        here = replaced_by.get(here)
    return here == start
