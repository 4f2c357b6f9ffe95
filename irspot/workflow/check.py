"""What is wrong with a study, and what its set-up can and cannot tell, before anything is heated."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path

from irspot.constants import GOOD_PIXELS_ACROSS
from irspot.errors import FileInvalid, IrspotError, Problem
from irspot.flags import FLAGS
from irspot.frame import Frame, FrameSource
from irspot.measurement.outlook import filling_placement, outlook_of
from irspot.placing import CornersPx
from irspot.registration.placement import Placement
from irspot.results import Reading
from irspot.study import Run, Study
from irspot.workflow.camera_state import ColdFrame, cold_frame_of, in_that_state, reference_warnings
from irspot.workflow.even_frames import map_of_run
from irspot.workflow.focus import Sharpness, focus_warning, out_of_focus
from irspot.workflow.follow_run import place_run
from irspot.workflow.frame_times import FrameTimes, frame_times, rising_times
from irspot.workflow.logged_ambient import with_logged_ambient
from irspot.workflow.measure_run import internal_problem
from irspot.workflow.opened import conditions_of, wish_of
from irspot.workflow.photos import placed_photo
from irspot.workflow.readout import Joined, first_of_readout
from irspot.workflow.set_up import SetUp, set_up_of
from irspot.workflow.tasks import MeasureTask
from irspot.workflow.zone_series import sampled_indices

FRAMING_FLAGS = ("outside-frame", "partly-outside-frame", "no-pixels", "defocused", "steep-view")
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
    recorded : int
        Frames that the files hold.
    lasts_s : float or None
        From the first of several frames to the last; None where nothing says when they were taken.
    measured : int
        How many of them will be measured over time.
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
    recorded: int = 0
    lasts_s: float | None = None
    measured: int = 0


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
    set_ups : tuple of SetUp
        What each run can and cannot tell, also of runs that lack only their frames.
    study : Study or None
        None where it cannot be read.
    """

    problems: tuple[Problem, ...]
    runs: tuple[RunFacts, ...] = ()
    listed: int = 0
    set_ups: tuple[SetUp, ...] = ()
    study: Study | None = None

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
    study, of_air = with_logged_ambient(study)
    looks = [_first_look(run, study) for run in study.runs]
    found = [problem for look in looks for problem in _problems_of(look, study)]
    problems = (
        *study.problems,
        *chain.from_iterable(of_air.values()),
        *found,
        *_focus(looks),
        *_assumed_emissivities(study),
        *_assumed_accuracies(study),
    )
    planned = [bad.planned for bad in study.bad_runs if bad.planned is not None]
    set_ups = (*(_set_up(look, study) for look in looks), *(_planned_set_up(run, study) for run in planned))
    facts = tuple(_facts(look, study) for look in looks)
    return CheckReport(_sorted(problems), facts, len(study.order), set_ups, study)


def _sorted(problems: tuple[Problem, ...]) -> tuple[Problem, ...]:
    once = dict.fromkeys(problems)
    return tuple(sorted(once, key=lambda problem: problem.severity != "error"))


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """What a run's first frame showed.

    Parameters
    ----------
    run : Run
    frame : Frame or None
    placement : Placement or None
    readings : tuple of Reading
    problems : tuple of Problem
    """

    run: Run
    frame: Frame | None = None
    placement: Placement | None = None
    readings: tuple[Reading, ...] = ()
    problems: tuple[Problem, ...] = ()
    outline_blur_px: float = math.nan
    times: FrameTimes | None = None
    recorded: int = 0


def _first_look(run: Run, study: Study) -> _Look:
    """Read, place and measure the first frame as the study would, for what it says about the set-up."""
    from irspot.workflow.open_any import open_any

    look = _Look(run)
    try:
        sources = [open_any(file, run.camera, wish_of(run)) for file in run.frame_files]
        cold = cold_frame_of(run, conditions_of(run))
        frame, disagreements = in_that_state(sources[0].frame(0), cold, run.camera_on_min)
        look = replace(look, frame=frame, problems=(*cold.problems, *disagreements))
        look = replace(look, recorded=sum(source.count for source in sources))
        _check_readouts(run, sources)
        look = replace(look, times=_times(run, sources))
        return _measured(look, frame, cold, study)
    except IrspotError as error:
        return replace(look, problems=(*look.problems, *error.problems()))
    except Exception as error:  # as when the study is run: a fault of ours in one run hides nothing about the others
        return replace(look, problems=(*look.problems, internal_problem(error, run.id)))


def _times(run: Run, sources: Sequence[FrameSource]) -> FrameTimes | None:
    """Find when the frames of a run were taken, if it has several.

    Raises
    ------
    FrameUnreadable
        If the run is to be measured over time, and nothing says so.
    """
    joined = Joined(tuple(sources))
    if joined.count == 1:
        return None
    if run.sample_s is not None:
        return rising_times(joined, run.frame_interval_s, run.frame_files[0].name)
    return frame_times(joined, run.frame_interval_s) if run.recording or joined.count > len(sources) else None


def _sampled(look: _Look) -> int:
    """Count the frames that will be measured over time."""
    run = look.run
    if run.sample_s is None or look.times is None:
        return 0
    stills = not run.recording and look.recorded == len(run.frame_files)
    return look.recorded if stills or run.sample_s == 0.0 else len(sampled_indices(look.times.time_s, run.sample_s))


def _measured(look: _Look, frame: Frame, cold: ColdFrame, study: Study) -> _Look:
    from irspot.measurement import blur_of, held, measure_zones

    run, board = look.run, study.board(look.run.board).board
    placement = place_run(MeasureTask(run, board, study.utc_offset), frame)
    frame, mapped = held(frame, board, placement, conditions_of(run)), map_of_run(run, board, wish_of(run), cold)
    outline_px = blur_of(frame, placement, board.outline).outline_px
    return replace(
        look,
        placement=placement,
        readings=measure_zones(frame, board, placement, conditions_of(run), mapped),
        problems=(*look.problems, *reference_warnings(frame)),
        outline_blur_px=math.nan if outline_px is None else outline_px,
    )


def _across(look: _Look, study: Study) -> tuple[tuple[str, float], ...]:
    zones = {zone.id for zone in study.board(look.run.board).board.zones_of(look.run.side)}
    return tuple((r.zone, r.across_px) for r in look.readings if r.zone in zones and math.isfinite(r.across_px))


def _facts(look: _Look, study: Study) -> RunFacts:
    run, frame = look.run, look.frame
    return RunFacts(
        run=run.id,
        board=run.board,
        load=run.load,
        side=run.side,
        frames=len(run.frame_files),
        size_px=None if frame is None else (frame.shape[1], frame.shape[0]),
        unit=(run.camera if frame is None else frame.camera).signal.unit,
        zones=len(study.board(run.board).board.zones_of(run.side)),
        across_px=_across(look, study),
        ready=bool(look.readings),
        recorded=look.recorded,
        lasts_s=None if look.times is None else round(float(look.times.time_s[-1]), 3),
        measured=_sampled(look),
    )


def _problems_of(look: _Look, study: Study) -> tuple[Problem, ...]:
    run = look.run
    without_photo = placed_photo(MeasureTask(run, study.board(run.board).board, study.utc_offset))[1]
    small = _small_zones(_across(look, study), run, study)
    noted = (*_not_noted(run, study), *_camera_state(run, study))
    return (*look.problems, *without_photo, *small, *_badly_framed(look, study), *noted)


def _set_up(look: _Look, study: Study) -> SetUp:
    run, board = look.run, study.board(look.run.board).board
    placement = look.placement or filling_placement(board, run.side, run.camera)
    outlook = outlook_of(board, run.side, run.camera, conditions_of(run), placement)
    return set_up_of(run, board, outlook, framed=look.placement is not None)


def _planned_set_up(run: Run, study: Study) -> SetUp:
    return _set_up(_Look(run), study)


def _focus(looks: Sequence[_Look]) -> list[Problem]:
    """Warn of first frames that are out of focus beside the sharpest of their session."""
    frames = [Sharpness(look.run, look.frame.name, look.outline_blur_px) for look in looks if look.frame is not None]
    return [focus_warning(blurred, best) for blurred, best in out_of_focus(frames)]


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


def _small_zones(across: tuple[tuple[str, float], ...], run: Run, study: Study) -> tuple[Problem, ...]:
    remedy = FLAGS["few-pixels"].remedy
    return tuple(
        _warning(f"zone '{zone}' is {px:.1f} px across; {GOOD_PIXELS_ACROSS:g} are wanted", run, study, hint=remedy)
        for zone, px in across
        if px < GOOD_PIXELS_ACROSS
    )


def _badly_framed(look: _Look, study: Study) -> tuple[Problem, ...]:
    zones = {zone.id for zone in study.board(look.run.board).board.zones_of(look.run.side)}
    warnings = []
    for flag in FRAMING_FLAGS:
        named = [f"'{r.zone}'" for r in look.readings if r.zone in zones and flag in r.flags]
        if named:
            whose = "every zone" if len(named) == len(zones) > 1 else f"zone {', '.join(named)}"
            message = f"{whose}: {FLAGS[flag].reason.rstrip('.')}"
            warnings.append(_warning(message, look.run, study, hint=FLAGS[flag].remedy.rstrip(".")))
    return tuple(warnings)


def _not_noted(run: Run, study: Study) -> tuple[Problem, ...]:
    """Say what nobody noted about a run, and what follows from it."""
    missing = []
    if run.ambient_degc is None:
        missing.append(_warning("no ambient_degc, so the run tells no rise", run, study, key=".ambient_degc"))
    if run.reflected_degc is None:
        message = "no reflected_degc, so the ambient temperature, or else 23 °C, is assumed with a wide uncertainty"
        missing.append(_warning(message, run, study, key=".reflected_degc"))
    if run.even is not None and not run.even.conditions.same_session:
        message = "the emissivity map is not stated to be of the run's session, so the camera's error counts twice"
        hint = "give the run and the map one session if the camera stayed on between them"
        missing.append(_warning(message, run, study, key=".emissivity_map.session", hint=hint))
    if isinstance(run.placement, CornersPx) and run.top is None:
        message = "corners without top: nothing tells whether they were given one place on"
        missing.append(_warning(message, run, study, key=".top", hint="state the image side the board's top faces"))
    return tuple(missing)


def _camera_state(run: Run, study: Study) -> tuple[Problem, ...]:
    """Say what follows from how long the camera had been on, and what a reference alone leaves."""
    from irspot.measurement.references import references_of
    from irspot.measurement.warm_up import warming

    found = []
    warm_up_min, on_min = run.camera.accuracy.warm_up_min, run.camera_on_min
    flag = FLAGS["camera-warming"]
    if warming(run.camera.accuracy, on_min):
        message = f"the camera had been on for {on_min:g} of its {warm_up_min:g} min; its limits are doubled"
        found.append(_warning(message, run, study, key=".camera_on_min", hint=flag.remedy.rstrip(".")))
    elif warm_up_min is not None and on_min is None:
        message = f"no camera_on_min, so nothing tells whether the camera had its {warm_up_min:g} min to warm up"
        found.append(_warning(message, run, study, key=".camera_on_min"))
    if references_of(study.board(run.board).board, run.side) and not run.cold_frame_files:
        message = "a reference without a cold_frame: how unevenly the camera sees stays in readings, outside their U"
        found.append(_warning(message, run, study, key=".cold_frame"))
    return tuple(found)


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
