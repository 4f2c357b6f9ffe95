"""results.json of a study: its rows, and all that says how they were made."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from irspot.color_wish import ScaleLog
from irspot.columns import RESULT_COLUMNS, SERIES_COLUMNS, Column, TableRow
from irspot.constants import METHOD
from irspot.errors import Problem
from irspot.results import Row
from irspot.study import BadRun, Run, Study
from irspot.version import __version__
from irspot.workflow.camera_state import cold_frame_json
from irspot.workflow.even_frames import even_json
from irspot.workflow.photos import photo_json
from irspot.workflow.provenance import file_digest
from irspot.workflow.tasks import RunResult


def inputs_of(study: Study) -> list[Path]:
    """List every file that the study reads."""
    found = [study.file, *(board.file for board in study.boards)]
    for run in study.runs:
        found += [*run.input_files, *([run.camera_file] if run.camera_file else [])]
        if isinstance(run.color_scale_degc, ScaleLog):
            found.append(run.color_scale_degc.file)
    return list(dict.fromkeys(found))


def relative_name(path: Path, base: Path) -> str:
    """Name a file relative to the study's folder with forward slashes, so that results do not depend on the machine."""
    return Path(os.path.relpath(path.resolve(), base.resolve())).as_posix()


def results_document(
    study: Study,
    results: Sequence[RunResult],
    rows: Sequence[Row],
    found: tuple[Sequence[Problem], Sequence[Problem]],
    outputs: dict[str, str],
    settings: dict[str, Any],
) -> dict[str, Any]:
    """Make results.json: the rows, and all that says how they were made.

    Parameters
    ----------
    study : Study
    results : sequence of RunResult
    rows : sequence of Row
    found : tuple of two sequences of Problem
        What failed, and warnings.
    outputs : dict of str to str
        Name → SHA-256 of every other output.
    settings : dict

    Returns
    -------
    dict
        Without times of making, so that a rerun gives the same bytes.
    """
    from irspot.exports.json_results import dictionary_json, row_json

    base = study.file.parent
    return {
        "irspot": __version__,
        "method": METHOD,
        "study": {"title": study.title, "file": study.file.name},
        "settings": settings,
        "inputs": input_digests(study, results, base),
        "runs": [_run_json(run, result, base) for run, result in zip(study.runs, results, strict=True)],
        "bad_runs": [_bad_run_json(bad) for bad in study.bad_runs],
        "problems": [without_folder(str(problem), base) for problem in found[0]],
        "warnings": [without_folder(str(problem), base) for problem in found[1]],
        "columns": dictionary_json(SERIES_COLUMNS if any(each.series for each in results) else RESULT_COLUMNS),
        "rows": [row_json(row) for row in rows],
        "outputs": outputs,
    }


def table_document(
    study: Study,
    columns: Sequence[Column],
    rows: Sequence[TableRow],
    found: tuple[Sequence[Problem], Sequence[Problem]],
) -> dict[str, Any]:
    """Make results.json of a table of conclusions: its rows, and of what they are.

    Parameters
    ----------
    study : Study
    columns : sequence of Column
    rows : sequence of TableRow
    found : tuple of two sequences of Problem
        What failed, and warnings.
    """
    from irspot.exports.json_results import dictionary_json, table_json

    return {
        "irspot": __version__,
        "method": METHOD,
        "study": {"title": study.title, "file": study.file.name},
        "problems": [str(problem) for problem in found[0]],
        "warnings": [str(problem) for problem in found[1]],
        "columns": dictionary_json(columns),
        "rows": table_json(rows, columns),
    }


def without_folder(text: str, base: Path) -> str:
    """Name files from the study's folder on, wherever it lies; the working directory names them so already."""
    return text if base == Path() else text.replace(str(base) + os.sep, "")


def input_digests(study: Study, results: Sequence[RunResult], base: Path) -> dict[str, str]:
    """Give the SHA-256 of every input, by its name from the study's folder on."""
    digests = {file: digest for result in results for file, digest in result.digests.items()}
    named = {
        relative_name(path, base): digests.get(str(path)) or file_digest(path)
        for path in inputs_of(study)
        if path.is_file()
    }
    return dict(sorted(named.items()))


def _run_json(run: Run, result: RunResult, base: Path) -> dict[str, Any]:
    from irspot.exports.json_results import number

    return {
        "run": run.id,
        "board": run.board,
        "load": run.load,
        "side": run.side,
        "frame_files": [relative_name(file, base) for file in run.frame_files],
        "camera": run.camera.name,
        "ambient_degc": number(run.ambient_degc),
        "u_ambient_k": number(run.u_ambient_k),
        "reflected_degc": number(run.reflected_degc),
        "u_reflected_k": number(run.u_reflected_k),
        "transmission": number(run.transmission),
        "u_transmission": number(run.u_transmission),
        "window_degc": number(run.window_degc),
        **({} if run.sample_s is None else {"sample_s": number(run.sample_s)}),
        "power_w": number(run.power_w),
        "power_point": run.power_point,
        "sustained_clock_ghz": number(run.sustained_clock_ghz),
        "camera_on_min": number(run.camera_on_min),
        "heating": run.heating,
        "session": run.session,
        "mount": run.mount,
        "setup": dict(run.setup),
        "notes": run.notes,
        "replaces": run.replaces,
        "rejected": run.rejected,
        "photo": run.photo_file and photo_json(relative_name(run.photo_file, base), run.photo, result.photo),
        "emissivity_map": run.even and even_json(relative_name(run.even.file, base), run.even, result.even),
        "cold_frame": cold_frame_json(result.cold, [relative_name(file, base) for file in run.cold_frame_files]),
        "frames": [
            {
                "frame": fact.name,
                "time": fact.time,
                "size_px": list(fact.size_px),
                "reader_notes": list(fact.notes),
                "placement": fact.placement or None,
                "outline_blur_px": number(fact.outline_blur_px),
                **fact.held,
            }
            for fact in result.frames
        ],
    }


def _bad_run_json(bad: BadRun) -> dict[str, Any]:
    return {"run": bad.id, "board": bad.board, "load": bad.load, "side": bad.side}
