"""A sheet of paper for each board, to be filled in at the bench: what to prepare, what to note, what to look at."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence

from irspot.board import Board, Site
from irspot.errors import Problem
from irspot.study import Load, Run, Study, StudyBoard
from irspot.workflow.check import CheckReport

_WIDTH = 110
_CAUTIONS = (
    "Exposed mains and primary-side parts can kill, and capacitors and heatsinks may stay charged: leave them closed "
    "unless you are trained, follow local codes, and use licensed or otherwise competent people.",
    "Power off before a bead, tape, foil or coating goes on: pads may sit at supply or drain voltage, and tape is not "
    "rated insulation.",
    "Coatings can be flammable, conductive or harmful: let them dry before power goes on.",
    "Parts stay hot after power-off, and metal is hotter than it reads. Do not leave an overload test alone.",
)


def checklist_of(report: CheckReport) -> str:
    """Write the sheets of a study's boards, a form feed between them.

    Parameters
    ----------
    report : CheckReport

    Returns
    -------
    str
        Plain text; empty if the study cannot be read (the report says why).
    """
    study = report.study
    if study is None:
        return ""
    return "\f".join("\n".join(_sheet(board, study, report)) + "\n" for board in study.boards)


def _sheet(board: StudyBoard, study: Study, report: CheckReport) -> Iterator[str]:
    runs = [run for run in _runs(study) if run.board == board.id]
    yield f"{board.board.name} ({board.id}): sheet for the bench, {study.title}"
    yield "Sample ____________   Date ____________   By ____________   Session ____________"
    yield from _part("Cautions", _CAUTIONS)
    yield from _part("Board, without power", _prepared(board.board, runs))
    yield from _part("Camera", _camera(board.board, runs, report))
    for run in runs:
        yield from _part(f"Run {run.id}, {run.side}", _run(run, study))
    yield from _part("Still open in the files", _open(board, runs, study, report))


def _runs(study: Study) -> list[Run]:
    """Runs that are or only lack their frames, in the study's order."""
    known = {run.id: run for run in study.runs}
    known |= {bad.id: bad.planned for bad in study.bad_runs if bad.planned is not None}
    return [known[run_id] for run_id in study.order if run_id in known]


def _part(title: str, items: Sequence[str] | Iterator[str]) -> Iterator[str]:
    from textwrap import wrap

    items = list(items)
    if items:
        yield ""
        yield title
    for item in items:
        yield from wrap(item, _WIDTH, initial_indent="[ ] ", subsequent_indent="    ", break_long_words=False)


def _prepared(board: Board, runs: Sequence[Run]) -> Iterator[str]:
    sides = {run.side for run in runs}
    yield f"coating as in the file: {board.coating or 'none noted'}; nothing new on the board since"
    tape = [zone.id for zone in board.zones if zone.side in sides and (zone.emissivity_assumed or zone.bare_metal)]
    if tape:
        yield f"tape of known emissivity, or a measured emissivity, on: {', '.join(tape)}"
    if any(run.reflected_degc is None for run in runs):
        yield "crumpled foil beside the board: reflected temperature ______ °C (irspot reflected)"
    yield from (_bead(site) for site in board.sites)
    facts = dict.fromkeys(fact for run in runs for fact in run.setup)
    yield from (f"{name}: {value}" for name, value in facts)


def _bead(site: Site) -> str:
    parts = [f"bead {site.id}, {site.side}, at {site.x_mm:g}, {site.y_mm:g} mm", f"type {site.type}"]
    parts += [f"class {site.tolerance_class}"] if site.tolerance_class else []
    parts += [f"wire {site.wire_mm:g} mm"] if site.wire_mm else ["wire ______ mm"]
    parts.append(f"held by {site.attachment or '____________'}")
    return ", ".join((*parts, "channel ______"))


def _camera(board: Board, runs: Sequence[Run], report: CheckReport) -> Iterator[str]:
    for camera in dict.fromkeys(run.camera for run in runs):
        warm_up = camera.accuracy.warm_up_min
        needed = f", needs {warm_up:g} min" if warm_up is not None else ""
        reach = camera.accuracy.range_degc
        ranged = f"; range {reach[0]:g} to {reach[1]:g} °C" if reach is not None else ""
        yield f"{camera.name}: on since ______{needed}{ranged}"
    yield "focused on the board's surface; whole board in view, squarely; nothing hot that could be mirrored"
    ids = {run.id for run in runs}
    zones = [each for set_up in report.set_ups if set_up.run in ids for each in set_up.outlook.zones]
    known = [(each.distance_mm, each.zone.id) for each in zones if math.isfinite(each.distance_mm)]
    if known:
        distance, zone = min(known)
        yield f"distance ______ mm; '{zone}' is ten pixels across from at most {distance:.0f} mm"
    yield "cold frame, if one is wanted (unpowered board at room temperature, same camera and range): ____________"
    if any(zone.bare_metal for zone in board.zones):
        yield "evenly warm frame, so that metal can be measured (unpowered, 20 K or more above the room): ____________"
    yield "board not touched and camera not moved between frames of a run"


def _run(run: Run, study: Study) -> Iterator[str]:
    load = study.load(run.load)
    minutes = f" for {load.duration_min:g} min" if load.duration_min else ""
    yield f"load {load.description or load.id} since ______{minutes}, until ______; never alone"
    yield f"ambient beside the board ______ °C{_meant_ambient(study)}; at the end ______ °C"
    yield f"power at the {run.power_point or load.power_point or '________'} ______ W{_meant_power(load)}"
    yield f"sustained clock ______ GHz (± {load.clock_tolerance_ghz:g} counts as the same)"
    names = run.frame_files[0].name if run.frame_files else "____________________"
    yield f"frame {names}, at ______"
    yield "verdicts read while it is hot: usable ____  lower bound ____  retake ____  (repeat now what says retake)"


def _meant_ambient(study: Study) -> str:
    if study.reference_ambient_degc is None:
        return ""
    tolerance = "" if study.ambient_tolerance_k is None else f" ± {study.ambient_tolerance_k:g}"
    return f" (meant {study.reference_ambient_degc:g}{tolerance})"


def _meant_power(load: Load) -> str:
    if load.intended_power_w is None:
        return ""
    return f" (meant {load.intended_power_w:g} ± {load.power_tolerance_percent:g} %)"


def _open(board: StudyBoard, runs: Sequence[Run], study: Study, report: CheckReport) -> Iterator[str]:
    """Give every error and warning that concerns a board as an item."""
    cameras = {str(run.camera_file) for run in runs}
    indices = {study.order.index(run.id) for run in runs}
    for problem in report.problems:
        if problem.file in cameras or problem.file == str(board.file) or _of_runs(problem, study, indices):
            yield problem.message + (f" ({problem.hint})" if problem.hint else "")


def _of_runs(problem: Problem, study: Study, indices: set[int]) -> bool:
    index = re.match(r"run\[(\d+)\]", problem.key)
    named = re.match(r"run ([^\s,]+)", problem.key)
    if index is not None:
        return problem.file == str(study.file) and int(index[1]) in indices
    return named is not None and named[1] in {study.order[i] for i in indices}
