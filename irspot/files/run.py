"""One run of a study file: its keys over the study's defaults, converted to a `Run`, or a `BadRun` with the reasons."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from irspot.board import Board
from irspot.camera import NO_CAMERA, Camera
from irspot.errors import FileInvalid, Problem
from irspot.files.camera import settings_of
from irspot.files.cold_frames import cold_frames_of
from irspot.files.findings import Findings, Loc, key_path, known_or_list, show
from irspot.files.frame_files import find_frames, why_nothing
from irspot.files.run_map import even_frame_of
from irspot.files.run_placement import PHOTO_PLACEMENT_KEYS, PLACEMENT_KEYS, photo_of, placement_of
from irspot.files.run_witnesses import LOG_KEYS, witnesses_of
from irspot.files.scale_log import read_scale_log
from irspot.files.study_keys import RUN_DEFAULTS
from irspot.steady_rules import DEFAULT_RULE, rule_of
from irspot.study import BadRun, ColorScaleWish, Load, Readout, Run, StudyBoard

_SAME_NAMES: Final = (
    "side",
    "top",
    "frame_interval_s",
    "sample_s",
    "ambient_degc",
    "u_ambient_k",
    "reflected_degc",
    "u_reflected_k",
    "transmission",
    "u_transmission",
    "window_degc",
    "power_w",
    "power_point",
    "sustained_clock_ghz",
    "camera_on_min",
    "heating",
    "session",
    "mount",
    "notes",
    "replaces",
    "rejected",
    "steady_rule",
)
"""Keys that are fields of `Run` as they stand."""


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the runs of a study refer to.

    Parameters
    ----------
    folder : Path
        Of the study file.
    defaults : mapping
        Keys of a run that stand at study level.
    boards : mapping of str to StudyBoard
        Those that could be read, by id.
    bad_boards : mapping of str to tuple of Problem
        Those that could not.
    loads : mapping of str to Load
    bad_loads : mapping of str to tuple of Problem
    read_camera : callable
        Path, and the place that names it → camera, or the problems of its file.
    """

    folder: Path
    defaults: Mapping[str, Any]
    boards: Mapping[str, StudyBoard]
    bad_boards: Mapping[str, tuple[Problem, ...]]
    loads: Mapping[str, Load]
    bad_loads: Mapping[str, tuple[Problem, ...]]
    read_camera: Callable[[Path, Loc], Camera | tuple[Problem, ...]]


def run_of(run_id: str, table: Mapping[str, Any], index: int, around: Surroundings, findings: Findings) -> Run | BadRun:
    """Convert one run.

    Parameters
    ----------
    run_id : str
    table : mapping
        The run's own keys, those of a sound type.
    index : int
        Its place in the file.
    around : Surroundings
    findings : Findings
        Of the study file; holds already what is wrong with types and bounds.
    """
    loc: Loc = ("run", index)
    keys = with_defaults(table, around.defaults)
    board, board_problems = _board(table, loc, around, findings)
    load, load_problems = _load(table, loc, around, findings)
    camera, camera_problems = _camera(keys, loc, around, findings)
    placement = placement_of(keys, loc, board, findings)
    photo_file, photo = photo_of(keys, table, loc, board, around.folder, findings)
    even = even_frame_of(keys, loc, board, around.folder, findings)
    witnesses = witnesses_of(keys, table, loc, board, around.folder, findings)
    readout = _readout(keys, loc, findings)
    frames = _frames(keys, loc, around.folder, findings)
    if even is not None and even.file in frames:
        findings.error(
            (*loc, "emissivity_map", "frame"), "is a frame of the run itself", hint="narrow the run's frames"
        )
    cold_frames = cold_frames_of(keys, loc, around.folder, findings)
    rule_problems = _steady_rule(keys, table, loc, findings)
    color_scale = _color_scale(keys.get("color_scale_degc"), around.folder, (*loc, "color_scale_degc"), findings)
    problems = (*findings.errors_within(*loc), *rule_problems, *board_problems, *load_problems, *camera_problems)
    no_files = [p for key in ("frames", *LOG_KEYS) for p in findings.errors_within(*loc, key)]
    given = {key: keys[key] for key in _SAME_NAMES if key in keys}
    given.setdefault("side", "front")
    reasons = tuple(dict.fromkeys(problems))
    if set(reasons) - set(no_files):
        return BadRun(run_id, table.get("board", ""), table.get("load", ""), given["side"], reasons)
    if load is not None:
        given.setdefault("power_point", load.power_point)
    run = Run(
        id=run_id,
        board=table["board"],
        load=table["load"],
        frame_files=frames,
        camera=camera,
        camera_file=around.folder / keys["camera"] if "camera" in keys else None,
        placement=placement,
        recording=_is_recording(table),
        readout=readout,
        color_scale_degc=color_scale,
        cold_frame_files=cold_frames,
        photo_file=photo_file,
        photo=photo,
        witnesses=witnesses,
        even=even,
        setup=tuple(sorted(keys.get("setup", {}).items())),
        **given,
    )
    return BadRun(run_id, run.board, run.load, run.side, reasons, planned=run) if reasons else run


def _color_scale(
    value: str | Sequence[float] | None, folder: Path, loc: Loc, findings: Findings
) -> ColorScaleWish | None:
    if value is None:
        return None
    if value == "printed":
        return "printed"
    if isinstance(value, str):
        try:
            return read_scale_log(folder / value)
        except FileInvalid as invalid:
            findings.include(loc, invalid.problems())
            return None
    low, high = value
    if low >= high:
        findings.error(loc, "the low end must be below the high end", found=show(list(value)))
    return float(low), float(high)


def with_defaults(table: Mapping[str, Any], defaults: Mapping[str, Any]) -> dict[str, Any]:
    """Lay a run's own keys over the study's defaults.

    One way of placing replaces any other; ``setup`` is joined fact by fact.
    """
    kept = {key: value for key, value in defaults.items() if key in RUN_DEFAULTS}
    for ways in (PLACEMENT_KEYS, PHOTO_PLACEMENT_KEYS):
        if any(key in table for key in ways):
            kept = {key: value for key, value in kept.items() if key not in ways}
    keys = {**kept, **table}
    if "setup" in keys:
        keys["setup"] = {**kept.get("setup", {}), **table.get("setup", {})}
    return keys


def _steady_rule(
    keys: Mapping[str, Any], table: Mapping[str, Any], loc: Loc, findings: Findings
) -> tuple[Problem, ...]:
    """Check that the rule is one; a default that is none is this run's problem too."""
    where: Loc = (*loc, "steady_rule") if "steady_rule" in table else ("steady_rule",)
    try:
        rule_of(keys.get("steady_rule") or DEFAULT_RULE)
    except ValueError as error:
        if not findings.errors_within(*where):
            findings.error(where, "is no rule", found=show(keys["steady_rule"]), hint=str(error))
    return tuple(findings.errors_within(*where))


def _board(
    table: Mapping[str, Any], loc: Loc, around: Surroundings, findings: Findings
) -> tuple[Board | None, tuple[Problem, ...]]:
    name = str(table.get("board", ""))
    if name in around.boards:
        return around.boards[name].board, ()
    if not name or name in around.bad_boards:
        return None, around.bad_boards.get(name, ())
    hint = known_or_list(name, [*around.boards, *around.bad_boards], "boards")
    findings.error((*loc, "board"), "names no board of the study", found=show(name), hint=hint)
    return None, ()


def _load(
    table: Mapping[str, Any], loc: Loc, around: Surroundings, findings: Findings
) -> tuple[Load | None, tuple[Problem, ...]]:
    name = str(table.get("load", ""))
    if name in around.loads:
        return around.loads[name], ()
    if not name or name in around.bad_loads:
        return None, around.bad_loads.get(name, ())
    hint = known_or_list(name, [*around.loads, *around.bad_loads], "loads")
    findings.error((*loc, "load"), "names no load of the study", found=show(name), hint=hint)
    return None, ()


def _camera(
    keys: Mapping[str, Any], loc: Loc, around: Surroundings, findings: Findings
) -> tuple[Camera, tuple[Problem, ...]]:
    camera: Camera = NO_CAMERA
    if "camera" in keys:
        read = around.read_camera(around.folder / keys["camera"], (*loc, "camera"))
        if not isinstance(read, Camera):
            return camera, read
        camera = read
    if name := keys.get("range"):
        known = [range_id for range_id, _ in camera.ranges]
        if name in known:
            camera = camera.with_range(name)
        else:
            hint = known_or_list(name, known, "[[range]]")
            findings.error((*loc, "range"), "names no range of the camera file", found=show(name), hint=hint)
    if settings := settings_of(keys):
        camera = camera.with_settings(replace(camera.signal.settings, **settings))
    return camera, ()


def _readout(keys: Mapping[str, Any], loc: Loc, findings: Findings) -> Readout:
    try:
        return Readout.parse(str(keys.get("readout", "last 60 s")))
    except (ValueError, OverflowError):
        wanted = "'last 60 s', 'last 20 frames', a count of frames, or 'all'"
        findings.error((*loc, "readout"), "is not understood", found=show(keys["readout"]), wanted=wanted)
        return Readout(everything=True)


def _is_recording(table: Mapping[str, Any]) -> bool:
    """Whether several files are one recording: the run itself says how to read it as one.

    Study-level defaults of those keys serve recordings in single files and make no stills a recording.
    """
    return "readout" in table or "frame_interval_s" in table


def _frames(keys: Mapping[str, Any], loc: Loc, folder: Path, findings: Findings) -> tuple[Path, ...]:
    place: Loc = (*loc, "frames")
    if "frames" not in keys:
        if not findings.broken(*place):
            findings.error(place, "missing", wanted="a frame file, or a pattern such as 'frames/k7-*.tiff'")
        return ()
    frames = find_frames(folder, keys["frames"])
    if not frames:
        hint = why_nothing(folder, keys["frames"])
        findings.error(place, "matches no file", found=show(keys["frames"]), hint=hint)
    return frames


def warn_of_shared_frames(runs: Mapping[int, Run], findings: Findings) -> None:
    """Warn where a frame belongs to two runs: most likely a line copied and not changed."""
    owners: dict[Path, int] = {}
    for index, run in runs.items():
        shared = [path for path in run.frame_files if owners.setdefault(path, index) != index]
        if shared:
            other = runs[owners[shared[0]]]
            message = f"'{shared[0].name}' is a frame of run '{other.id}' too"
            findings.warn(("run", index, "frames"), message, hint=f"compare {key_path(('run', owners[shared[0]]))}")
