"""The cold frames of a study: which files they are, and whether the runs that share them may."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from irspot.files.findings import Findings, Loc, show
from irspot.files.frame_files import find_frames, why_nothing
from irspot.study import BadRun, Run


def cold_frames_of(keys: Mapping[str, Any], loc: Loc, folder: Path, findings: Findings) -> tuple[Path, ...]:
    """Find the files of a run's cold frame: one, or all that a pattern matches."""
    if "cold_frame" not in keys:
        return ()
    files = find_frames(folder, keys["cold_frame"])
    if not files:
        hint = why_nothing(folder, keys["cold_frame"])
        findings.error((*loc, "cold_frame"), "matches no file", found=show(keys["cold_frame"]), hint=hint)
    return files


def refuse_foreign_cold_frames(made: Mapping[int, Run | BadRun], findings: Findings) -> dict[int, Run | BadRun]:
    """Turn runs bad whose cold frame is that of a run with another camera, range or settings.

    A pattern belongs to one camera in one range; its numbers mean what they were stored under. Of runs in different
    sessions there is a warning: patterns drift.
    """
    checked = dict(made)
    owners: dict[Path, tuple[int, Run]] = {}
    for index, run in made.items():
        if not isinstance(run, Run):
            continue
        loc: Loc = ("run", index, "cold_frame")
        for file in run.cold_frame_files:
            _, owner = owners.setdefault(file, (index, run))
            if owner.camera != run.camera:
                message = f"'{file.name}' belongs to run '{owner.id}' too, whose camera, range or settings differ"
                findings.error(loc, message, hint="take a cold frame in every range that is used")
                checked[index] = BadRun(run.id, run.board, run.load, run.side, findings.errors_within(*loc))
            elif owner.session and run.session and owner.session != run.session:
                message = f"'{file.name}' belongs to run '{owner.id}' too, in another session"
                findings.warn(loc, message, hint="take one in every session: a camera's pattern drifts")
            else:
                continue
            break
    return checked
