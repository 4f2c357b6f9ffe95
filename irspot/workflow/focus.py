"""Focus judged across a session: a frame clearly more blurred than the sharpest one of the same camera and session."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from irspot.errors import Problem
from irspot.measurement import clearly_blurred
from irspot.results import Row, flagged
from irspot.study import Run
from irspot.workflow.tasks import FrameFacts, RunResult


@dataclass(frozen=True, slots=True)
class Sharpness:
    """How sharp a frame shows the board's outline.

    Parameters
    ----------
    run : Run
    frame : str
    outline_blur_px : float
        NaN where the outline does not stand out.
    """

    run: Run
    frame: str
    outline_blur_px: float

    @property
    def session(self) -> tuple[str, str]:
        """What has one lens, focused once: a camera in a session, or in all runs that name none."""
        return str(self.run.camera_file or ""), self.run.session


def out_of_focus(frames: Sequence[Sharpness]) -> list[tuple[Sharpness, Sharpness]]:
    """Find the frames that are clearly less sharp than another of their session, each with the sharpest.

    Parameters
    ----------
    frames : sequence of Sharpness
        Of a whole study.
    """
    best: dict[tuple[str, str], Sharpness] = {}
    for each in frames:
        if math.isfinite(each.outline_blur_px):
            known = best.setdefault(each.session, each)
            if each.outline_blur_px < known.outline_blur_px:
                best[each.session] = each
    pairs = ((each, best[each.session]) for each in frames if math.isfinite(each.outline_blur_px))
    return [pair for pair in pairs if clearly_blurred(pair[0].outline_blur_px, pair[1].outline_blur_px)]


def focus_warning(blurred: Sharpness, sharpest: Sharpness) -> Problem:
    """Warn of a frame out of focus."""
    return Problem(
        f"the board's outline is blurred by {blurred.outline_blur_px:.1f} px, in {sharpest.frame} of run "
        f"{sharpest.run.id} by {sharpest.outline_blur_px:.1f} px: out of focus, so that hot spots read too low",
        key=f"run {blurred.run.id}, {blurred.frame}",
        hint="focus on the board's surface and repeat, before the run goes on",
        severity="warning",
    )


def judged_by_session(runs: Sequence[Run], results: Sequence[RunResult]) -> list[RunResult]:
    """Flag the readings of every frame that is out of focus beside the sharpest of its session, and warn of it.

    Parameters
    ----------
    runs : sequence of Run
    results : sequence of RunResult
        Of each run.
    """
    frames = [
        Sharpness(run, fact.name, fact.outline_blur_px)
        for run, result in zip(runs, results, strict=True)
        for fact in result.frames
    ]
    found = {(blurred.run.id, blurred.frame): focus_warning(blurred, best) for blurred, best in out_of_focus(frames)}
    return [_with_warnings(result, found) for result in results]


def _with_warnings(result: RunResult, found: dict[tuple[str, str], Problem]) -> RunResult:
    warnings = [found[result.run_id, fact.name] for fact in result.frames if (result.run_id, fact.name) in found]
    if not warnings:
        return result
    frames = tuple(_defocused(fact) if (result.run_id, fact.name) in found else fact for fact in result.frames)
    rows = tuple(Row(result.rows[0].label, reading) for fact in frames for reading in fact.readings)
    return replace(result, frames=frames, rows=rows, problems=(*result.problems, *_once(warnings)))


def _defocused(fact: FrameFacts) -> FrameFacts:
    return replace(fact, readings=tuple(flagged(reading, ["defocused"]) for reading in fact.readings))


def _once(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    return tuple(dict.fromkeys(problems))
