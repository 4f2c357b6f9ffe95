"""What joins a study to others and judges its limits: earlier studies, the reference board, the decision rule."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from irspot.files.findings import Findings, known_or_list, show
from irspot.files.frame_files import exists
from irspot.study import DEFAULT_DECISION, Decision


def decision_of(table: Mapping[str, Any], findings: Findings) -> Decision:
    """Give the decision rule; a guard band contradicts a rule that has none."""
    given = table.get("decision", {})
    decision = Decision(given.get("rule", DEFAULT_DECISION.rule), given.get("guard_band_k"))
    if decision.rule == "simple" and decision.guard_band_k:
        hint = "leave it out, or choose 'guarded' or 'conditional'"
        findings.error(("decision", "guard_band_k"), "the rule 'simple' has no guard band", hint=hint)
    return decision


def previous_of(table: Mapping[str, Any], study_file: Path, findings: Findings) -> tuple[Path, ...]:
    """Give the files of earlier studies: there, each once, and not the study itself."""
    found: dict[Path, Path] = {study_file.resolve(): study_file}
    for index, name in enumerate(table.get("previous", [])):
        path = study_file.parent / name
        if not exists(path):
            hint = "a path is relative to the file that names it"
            findings.error(("previous", index), "there is no such file", found=f"'{path}'", hint=hint)
        elif path.resolve() == study_file.resolve():
            findings.error(("previous", index), "is the study itself", found=show(name))
        elif path.resolve() in found:
            findings.error(("previous", index), "stands twice", found=show(name))
        else:
            found[path.resolve()] = path
    return tuple(found.values())[1:]


def refuse_unknown_reference(table: Mapping[str, Any], findings: Findings) -> None:
    """Refuse a reference board that is no board of the study: each study measures it anew."""
    name = table.get("reference_board")
    boards = [board["id"] for board in table.get("board", []) if "id" in board]
    if name is not None and name not in boards:
        hint = known_or_list(name, boards, "boards")
        findings.error(("reference_board",), "names no board of the study", found=show(name), hint=hint)
