"""What a run's cold frame and the camera's time on say of its frames, applied before anything is measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from irspot.camera import Camera
from irspot.camera_error import USED, Held, Pattern
from irspot.color_wish import NO_WISH
from irspot.conditions import Conditions
from irspot.errors import ColdFrameRefused, IrspotError, Problem
from irspot.flags import FLAGS
from irspot.frame import Frame

if TYPE_CHECKING:
    from irspot.study import Run

_SESSION_H: Final = 12.0
"""A cold frame taken longer before or after a frame can hardly be of its session."""


@dataclass(frozen=True, slots=True, eq=False)
class ColdFrame:
    """A run's cold frame, or why it tells nothing.

    Parameters
    ----------
    files : tuple of Path
        Empty where none was given.
    pattern : Pattern or None
    time_utc, time_local : datetime or None
        When the last of them was taken, as of `Frame`.
    problems : tuple of Problem
        Why there is no pattern where one was asked for.
    """

    files: tuple[Path, ...] = ()
    pattern: Pattern | None = None
    time_utc: datetime | None = None
    time_local: datetime | None = None
    problems: tuple[Problem, ...] = ()


NO_COLD_FRAME: Final = ColdFrame()


def read_cold_frame(
    files: Sequence[Path], camera: Camera, conditions: Conditions, camera_on_min: float | None
) -> ColdFrame:
    """Take the camera's pattern from files, all their frames averaged.

    Parameters
    ----------
    files : sequence of Path
    camera : Camera
        With the range and the settings of the frames that are to be corrected.
    conditions : Conditions
    camera_on_min : float or None

    Raises
    ------
    FrameUnreadable
        If a file cannot be read, or frames differ in size.
    ColdFrameRefused
        If what they hold is no cold frame.
    """
    if not files:
        return NO_COLD_FRAME
    from irspot.measurement.cold_frame import pattern_of
    from irspot.measurement.warm_up import with_warm_up
    from irspot.workflow.open_any import open_any
    from irspot.workflow.readout import Joined, span_frame

    source = Joined(tuple(open_any(file, camera, NO_WISH) for file in files))
    name = str(files[0]) if len(files) == 1 else f"{files[0]}..{files[-1].name}"
    frame = source.frame(0) if source.count == 1 else span_frame(source, range(source.count), None, name)
    frame = with_warm_up(replace(frame, name=name), camera_on_min)
    return ColdFrame(tuple(files), pattern_of(frame, conditions), frame.time_utc, frame.time_local)


def cold_frame_of(run: Run, conditions: Conditions) -> ColdFrame:
    """Take the pattern from a run's cold frame; what fails costs the run the correction, not the readings."""
    try:
        return read_cold_frame(run.cold_frame_files, run.camera, conditions, run.camera_on_min)
    except IrspotError as error:
        problems = tuple(replace(p, key=", ".join(filter(None, ("cold_frame", p.key)))) for p in error.problems())
        return ColdFrame(run.cold_frame_files, problems=problems)


def in_that_state(frame: Frame, cold: ColdFrame, camera_on_min: float | None) -> tuple[Frame, tuple[Problem, ...]]:
    """Give a frame what is known of the camera's state.

    Parameters
    ----------
    frame : Frame
    cold : ColdFrame
    camera_on_min : float or None

    Returns
    -------
    Frame
        With the pattern to be taken off and the camera's limits as they are while it warms up; flagged.
    tuple of Problem
        What the frame and the cold frame have against each other.
    """
    from irspot.measurement.warm_up import with_warm_up

    frame = with_warm_up(frame, camera_on_min)
    if not cold.files:
        return frame, ()
    if cold.pattern is None:
        return with_flag(frame, "cold-frame-refused"), ()
    try:
        return with_pattern(frame, cold.pattern, str(cold.files[0])), _too_far_apart(frame, cold)
    except ColdFrameRefused as refused:
        return with_flag(frame, "cold-frame-refused"), refused.problems()


def with_pattern(frame: Frame, pattern: Pattern, cold_name: str) -> Frame:
    """Give a frame the pattern that is taken off before it is measured.

    Raises
    ------
    ColdFrameRefused
        If the pattern cannot be of this frame's camera.
    """
    from irspot.measurement.cold_frame import check_same_camera

    check_same_camera(frame, pattern, cold_name)
    return with_flag(replace(frame, pattern=pattern), "pattern-removed")


def with_flag(frame: Frame, flag: str) -> Frame:
    """Add a flag that every reading of a frame carries."""
    return replace(frame, flags=(*frame.flags, flag))


def _too_far_apart(frame: Frame, cold: ColdFrame) -> tuple[Problem, ...]:
    # Both by one clock, whose zone need not be known, or both in UTC.
    both = [(frame.time_utc, cold.time_utc), (frame.time_local, cold.time_local)]
    apart = [
        abs((one - other).total_seconds()) / 3600.0 for one, other in both if one is not None and other is not None
    ]
    hours = min(apart, default=0.0)
    if hours <= _SESSION_H:
        return ()
    message = f"the cold frame was taken {hours:.0f} hours from '{frame.name}', hardly in the same session"
    hint = "take one in every session: a camera's pattern drifts"
    return (Problem(message, str(cold.files[0]), "cold_frame", hint=hint, severity="warning"),)


def reference_warnings(frame: Frame) -> tuple[Problem, ...]:
    """Name every reference that a frame could not be held against, with the reason."""
    if frame.held is None:
        return ()
    return tuple(
        Problem(
            f"the reference '{patch.id}' was not used: {patch.state}" + _by_how_much(patch.off_k),
            frame.name,
            hint=FLAGS["reference-not-used"].remedy.rstrip("."),
            severity="warning",
        )
        for patch in frame.held.patches
        if patch.state != USED
    )


def _by_how_much(off_k: float) -> str:
    return f" ({off_k:+.2f} K would be added)" if off_k == off_k else ""


def cold_frame_json(cold: ColdFrame, names: Sequence[str]) -> dict[str, Any] | None:
    """Describe a cold frame for results.json: its files, what it was, why it was refused; None where there is none."""
    if not cold.files:
        return None
    described: dict[str, Any] = {"files": list(names), "refused": [problem.message for problem in cold.problems]}
    if (pattern := cold.pattern) is not None:
        described |= {
            "frames": pattern.frames,
            "at_degc": _six(pattern.at_degc),
            "spread_k": _six(pattern.spread_k),
            "noise_k": _six(pattern.noise_k),
            "scene_k": _six(float(pattern.scene_k.min())),
        }
    return described


def held_json(held: Held | None) -> dict[str, Any]:
    """Describe what references did to a frame; empty where there are none."""
    if held is None:
        return {}
    line = held.line
    return {
        "references": {
            "patches": [
                {
                    "id": patch.id,
                    "state": patch.state,
                    "pixels": patch.pixels,
                    "shown_degc": _six(patch.shown_degc),
                    "expected_degc": _six(patch.expected_degc),
                    "u_k": _six(patch.u_k),
                }
                for patch in held.patches
            ],
            "offset_k": None if line is None else _six(line.offset_k),
            "gain": None if line is None else _six(line.gain),
            "about_degc": None if line is None else _six(line.about_degc),
            "u_offset_k": None if line is None else _six(line.u_offset_k),
            "u_gain": None if line is None else _six(line.u_gain),
            "gain_bound": None if line is None else _six(line.gain_bound),
            "limit_widened_to_k": _six(held.limit_k) if held.limit_k else None,
        }
    }


def _six(value: float) -> float | None:
    return float(f"{value:.6g}") if value == value else None
