"""What is wrong with a study, and what its set-up can and cannot tell, before anything is heated."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from irspot.constants import GOOD_PIXELS_ACROSS
from irspot.errors import FileInvalid, IrspotError, Problem
from irspot.flags import FLAGS
from irspot.frame import Frame, FrameSource
from irspot.placing import CornersPx
from irspot.results import Reading
from irspot.study import Run, Study
from irspot.workflow.follow_run import place_run
from irspot.workflow.measure_run import conditions_of, internal_problem, wish_of
from irspot.workflow.photos import placed_photo
from irspot.workflow.readout import Joined, first_of_readout
from irspot.workflow.tasks import MeasureTask

FRAMING_FLAGS = ("outside-frame", "partly-outside-frame", "no-pixels")
"""Flags of a first frame that say how the picture was taken, not how hot the board was."""


@dataclass(frozen=True, slots=True)
class RunFacts:
    """What a run's files hold.

    Parameters
    ----------
    run, board, load, side : str
    frames : int
        Files its pattern matches.
    size_px : tuple of int or None
        ``(columns, rows)`` of the first frame; None if that cannot be read.
    unit : str
        Unit its stored numbers are declared in.
    zones : int
        Of the board's side.
    across_px : tuple of (str, float)
        Each zone's largest inscribed circle in the first frame; empty where the board is not placed.
    ready : bool
        Whether the first frame can be read, placed and measured.
    """

    run: str
    board: str
    load: str
    side: str
    frames: int
    size_px: tuple[int, int] | None
    unit: str
    zones: int
    across_px: tuple[tuple[str, float], ...] = ()
    ready: bool = False


@dataclass(frozen=True, slots=True)
class CheckReport:
    """What checking a study found.

    Parameters
    ----------
    problems : tuple of Problem
        Errors first.
    runs : tuple of RunFacts
        Of the runs whose entries in the study are sound.
    listed : int
        Runs the study lists.
    """

    problems: tuple[Problem, ...]
    runs: tuple[RunFacts, ...] = ()
    listed: int = 0

    @property
    def errors(self) -> int:
        """How many problems stop something."""
        return sum(problem.severity == "error" for problem in self.problems)

    @property
    def ready(self) -> int:
        """How many runs can be evaluated."""
        return sum(facts.ready for facts in self.runs)

    @property
    def warnings(self) -> int:
        """How many problems do not."""
        return len(self.problems) - self.errors


def check_study(path: Path) -> CheckReport:
    """Read a study, every file it names and the first frame of every run; report all that is wrong.

    Parameters
    ----------
    path : Path
        Whatever is wrong with it is in the report, not raised.

    Returns
    -------
    CheckReport
    """
    from irspot.files import read_study

    try:
        study = read_study(path)
    except FileInvalid as error:
        return CheckReport(_sorted(error.problems()))
    checked = [_check_run(run, study) for run in study.runs]
    found = [problem for _, problems in checked for problem in problems]
    problems = (*study.problems, *found, *_assumed_emissivities(study), *_assumed_accuracies(study))
    return CheckReport(_sorted(problems), tuple(facts for facts, _ in checked), len(study.order))


def _sorted(problems: tuple[Problem, ...]) -> tuple[Problem, ...]:
    once = dict.fromkeys(problems)
    return tuple(sorted(once, key=lambda problem: problem.severity != "error"))


def _check_run(run: Run, study: Study) -> tuple[RunFacts, tuple[Problem, ...]]:
    board = study.board(run.board).board
    frame, readings, problems = _first_look(run, study)
    zones = {zone.id for zone in board.zones_of(run.side)}
    across = tuple((r.zone, r.across_px) for r in readings if r.zone in zones and math.isfinite(r.across_px))
    facts = RunFacts(
        run=run.id,
        board=run.board,
        load=run.load,
        side=run.side,
        frames=len(run.frame_files),
        size_px=None if frame is None else (frame.shape[1], frame.shape[0]),
        unit=(run.camera if frame is None else frame.camera).signal.unit,
        zones=len(zones),
        across_px=across,
        ready=bool(readings),
    )
    problems += placed_photo(MeasureTask(run, board, study.utc_offset))[1]
    problems += _small_zones(across, run, study)
    problems += _badly_framed(tuple(r for r in readings if r.zone in zones), run, study)
    return facts, problems + _not_noted(run, study)


def _first_look(run: Run, study: Study) -> tuple[Frame | None, tuple[Reading, ...], tuple[Problem, ...]]:
    from irspot.workflow.open_any import open_any

    frame: Frame | None = None
    try:
        sources = [open_any(file, run.camera, wish_of(run)) for file in run.frame_files]
        frame = sources[0].frame(0)
        _check_readouts(run, sources)
        return frame, _readings(run, study, frame), ()
    except IrspotError as error:
        return frame, (), error.problems()
    except Exception as error:  # as when the study is run: a fault of ours in one run hides nothing about the others
        return frame, (), (internal_problem(error, run.id),)


def _check_readouts(run: Run, sources: Sequence[FrameSource]) -> None:
    """Find where the readout of every recording of a run begins, as the study would.

    Raises
    ------
    FrameUnreadable
        If nothing tells when its frames were taken.
    """
    if run.recording and len(sources) > 1:
        sources = [Joined(tuple(sources))]
    for source in sources:
        if source.count > 1:
            first_of_readout(source, run.readout, run.frame_interval_s, run.frame_files[0].name)


def _readings(run: Run, study: Study, frame: Frame) -> tuple[Reading, ...]:
    """Measure the first frame as the study would, for what it says about the zones' size and place."""
    from irspot.measurement import measure_zones

    board = study.board(run.board).board
    placement = place_run(MeasureTask(run, board, study.utc_offset), frame)
    return measure_zones(frame, board, placement, conditions_of(run))


def _small_zones(across: tuple[tuple[str, float], ...], run: Run, study: Study) -> tuple[Problem, ...]:
    remedy = FLAGS["few-pixels"].remedy
    return tuple(
        _warning(f"zone '{zone}' is {px:.1f} px across; {GOOD_PIXELS_ACROSS:g} are wanted", run, study, hint=remedy)
        for zone, px in across
        if px < GOOD_PIXELS_ACROSS
    )


def _badly_framed(readings: tuple[Reading, ...], run: Run, study: Study) -> tuple[Problem, ...]:
    return tuple(
        _warning(f"zone '{reading.zone}': {FLAGS[flag].reason.rstrip('.')}", run, study, hint=FLAGS[flag].remedy)
        for reading in readings
        for flag in FRAMING_FLAGS
        if flag in reading.flags
    )


def _not_noted(run: Run, study: Study) -> tuple[Problem, ...]:
    """Say what nobody noted about a run, and what follows from it."""
    missing = []
    if run.ambient_degc is None:
        missing.append(_warning("no ambient_degc, so the run tells no rise", run, study, key=".ambient_degc"))
    if run.reflected_degc is None:
        message = "no reflected_degc, so the ambient temperature, or else 23 °C, is assumed with a wide uncertainty"
        missing.append(_warning(message, run, study, key=".reflected_degc"))
    if isinstance(run.placement, CornersPx) and run.top is None:
        message = "corners without top: nothing tells whether they were given one place on"
        missing.append(_warning(message, run, study, key=".top", hint="state the image side the board's top faces"))
    return tuple(missing)


def _warning(message: str, run: Run, study: Study, *, key: str = "", hint: str = "") -> Problem:
    place = f"run[{study.order.index(run.id)}]{key}"
    return Problem(f"{message} ({run.id})", str(study.file), place, hint=hint, severity="warning")


def _assumed_emissivities(study: Study) -> tuple[Problem, ...]:
    flag = FLAGS["emissivity-assumed"]
    return tuple(
        Problem(
            f"zone '{zone.id}' states neither emissivity nor material; {zone.emissivity:g} ± {zone.u_emissivity:g} (u) "
            "is assumed",
            str(board.file),
            f"zone[{index}]",
            hint=flag.remedy.rstrip("."),
            severity="warning",
        )
        for board in study.boards
        for index, zone in enumerate(board.board.zones)
        if zone.emissivity_assumed
    )


def _assumed_accuracies(study: Study) -> tuple[Problem, ...]:
    flag = FLAGS["accuracy-assumed"]
    files = {run.camera_file for run in study.runs if run.camera.accuracy.assumed}
    return tuple(
        Problem(flag.reason.rstrip("."), str(file), "accuracy", hint=flag.remedy.rstrip("."), severity="warning")
        for file in sorted(str(file) for file in files if file is not None)
    )
