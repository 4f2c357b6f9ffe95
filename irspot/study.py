"""A study: boards, loads and runs that are evaluated together, as its file describes them, all paths resolved."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Literal

from irspot.board import Board, Side
from irspot.camera import Camera
from irspot.color_wish import ScaleLog
from irspot.constants import DEFAULT_READOUT_S, DEFAULT_U_AMBIENT_K
from irspot.errors import Problem
from irspot.even_frame import EvenFrame
from irspot.photo import DEFAULT_PHOTO_WISH, PhotoWish
from irspot.placing import AUTO, HowToPlace, ImageSide
from irspot.witnesses import NO_WITNESSES, Witnesses

PowerPoint = Literal["wall", "supply", "package"]
RuleName = Literal["simple", "guarded", "conditional"]
ColorScaleWish = tuple[float, float] | ScaleLog | Literal["printed"]
"""Numbers of a colour bar: its ends in °C, these over time, or to be read from the picture."""


@dataclass(frozen=True, slots=True)
class Readout:
    """The part of a recording that is reported: its last seconds, its last frames, or all of it.

    Exactly one of the three says which.
    """

    last_s: float | None = None
    last_frames: int | None = None
    everything: bool = False

    @classmethod
    def parse(cls, text: str) -> Readout:
        """Read ``last 60 s``, ``last 20 frames`` (or ``20``) or ``all``.

        Raises
        ------
        ValueError
            For anything else.
        """
        if text.strip() == "all":
            return cls(everything=True)
        if match := re.fullmatch(r"last\s+(\d+(?:\.\d+)?)\s*s", text.strip()):
            return cls(last_s=float(match[1]))
        if (match := re.fullmatch(r"(?:last\s+)?(\d+)(?:\s+frames?)?", text.strip())) and int(match[1]) > 0:
            return cls(last_frames=int(match[1]))
        raise ValueError("wanted 'last 60 s', 'last 20 frames', a count of frames, or 'all'")


DEFAULT_READOUT = Readout(last_s=DEFAULT_READOUT_S)


@dataclass(frozen=True, slots=True)
class Decision:
    """How values are judged against limits: by which rule, and with which guard band; None is the value's own U."""

    rule: RuleName = "conditional"
    guard_band_k: float | None = None


DEFAULT_DECISION = Decision()


@dataclass(frozen=True, slots=True)
class StudyBoard:
    """A board of a study: the model, what this sample cost, and facts of its design that boards may share."""

    id: str
    file: Path
    board: Board
    price: float | None = None
    currency: str = ""
    price_date: str = ""
    batch: str = ""
    design: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Load:
    """A repeatable stress setting."""

    id: str
    description: str = ""
    duration_min: float | None = None
    intended_power_w: float | None = None
    power_point: PowerPoint | None = None
    power_tolerance_percent: float = 2.0
    clock_tolerance_ghz: float = 0.05


@dataclass(frozen=True, slots=True)
class Run:
    """One board, load, side and camera.

    Parameters
    ----------
    id : str
    board, load : str
        Ids of the study.
    side : {"front", "rear"}
    frame_files : tuple of Path
        What the glob matched, in natural order (``frame-2`` before ``frame-10``).
    camera : Camera
        With the run's range and applied settings.
    camera_file : Path or None
    placement : CornersPx, PointsPx or AutoPlacement
    top : str or None
        Image side the board's top faces.
    recording : bool
        Whether several files are frames of one recording rather than stills.
    readout : Readout
    color_scale_degc : tuple of float, ScaleLog, "printed", or None
        Numbers of the colour bar of colour-mapped frames; None leaves them to the camera file.
    frame_interval_s : float or None
        Where frames carry no time.
    sample_s : float or None
        How often frames are fully measured over time; 0 for every frame with fewer figures, None for not at all.
    ambient_degc, u_ambient_k : float or None, float
    reflected_degc, u_reflected_k : float or None
    transmission, u_transmission : float
    window_degc : float or None
    power_w : float or None
        With `power_point`.
    sustained_clock_ghz, camera_on_min : float or None
    heating, session, mount : str
        What runs share; empty for the run alone.
    setup : tuple of (str, str)
        Free facts, compared between boards.
    notes : str
    cold_frame_files : tuple of Path
        Of the camera's pattern: an even scene at room temperature; averaged.
    photo_file : Path or None
        A visible-light photo of the same side, shown beneath the colours of its pictures.
    photo : PhotoWish
        How.
    witnesses : Witnesses
        Logs of what else was measured.
    even : EvenFrame or None
        The frame of the evenly warm board that gives every pixel its emissivity.
    replaces, rejected : str
        A retake supersedes (the run replaced); a rejected run gives its reason. Nothing is deleted.
    steady_rule : str
        When its soak counts as steady, see `irspot.steady_rules`; empty for the default.
    """

    id: str
    board: str
    load: str
    side: Side
    frame_files: tuple[Path, ...]
    camera: Camera
    camera_file: Path | None = None
    placement: HowToPlace = AUTO
    top: ImageSide | None = None
    recording: bool = False
    readout: Readout = DEFAULT_READOUT
    color_scale_degc: ColorScaleWish | None = None
    frame_interval_s: float | None = None
    sample_s: float | None = None
    ambient_degc: float | None = None
    u_ambient_k: float = DEFAULT_U_AMBIENT_K
    reflected_degc: float | None = None
    u_reflected_k: float | None = None
    transmission: float = 1.0
    u_transmission: float = 0.0
    window_degc: float | None = None
    power_w: float | None = None
    power_point: PowerPoint | None = None
    sustained_clock_ghz: float | None = None
    camera_on_min: float | None = None
    heating: str = ""
    session: str = ""
    mount: str = ""
    setup: tuple[tuple[str, str], ...] = ()
    notes: str = ""
    cold_frame_files: tuple[Path, ...] = ()
    photo_file: Path | None = None
    photo: PhotoWish = DEFAULT_PHOTO_WISH
    witnesses: Witnesses = NO_WITNESSES
    even: EvenFrame | None = None
    replaces: str = ""
    rejected: str = ""
    steady_rule: str = ""

    @property
    def input_files(self) -> tuple[Path, ...]:
        """Its frames, its cold frames, its photo, its even frame and its logs."""
        even = None if self.even is None else self.even.file
        others = (file for file in (self.photo_file, even) if file is not None)
        return (*self.frame_files, *self.cold_frame_files, *others, *self.witnesses.files)


@dataclass(frozen=True, slots=True)
class BadRun:
    """A run that cannot be evaluated, with every reason.

    Parameters
    ----------
    id, board, load, side : str
    problems : tuple of Problem
    planned : Run or None
        The run without its frames, where these are all that is missing: nothing has been heated yet.
    """

    id: str
    board: str
    load: str
    side: str
    problems: tuple[Problem, ...]
    planned: Run | None = None


@dataclass(frozen=True, slots=True)
class Study:
    """Many runs evaluated together.

    Parameters
    ----------
    title : str
    file : Path
    boards : tuple of StudyBoard
    loads : tuple of Load
    runs : tuple of Run
        Those that can be evaluated, in the file's order.
    bad_runs : tuple of BadRun
        Those that cannot.
    problems : tuple of Problem
        Everything found while reading, warnings included; errors here belong to bad runs or unused parts.
    reference_ambient_degc, ambient_tolerance_k, negligible_k : float or None
    utc_offset : timedelta or None
        For times that carry no zone.
    scale_degc : tuple of float or None
        Of the pictures; None lets the data decide, one scale for the study.
    order : tuple of str
        Ids of all runs, good and bad, in the file's order.
    previous : tuple of Path
        Files of earlier studies.
    reference_board : str
        The board measured again and again, which links sessions and studies; empty without.
    decision : Decision
        For limits.
    """

    title: str
    file: Path
    boards: tuple[StudyBoard, ...]
    loads: tuple[Load, ...]
    runs: tuple[Run, ...]
    bad_runs: tuple[BadRun, ...] = ()
    problems: tuple[Problem, ...] = ()
    reference_ambient_degc: float | None = None
    ambient_tolerance_k: float | None = None
    negligible_k: float | None = None
    utc_offset: timedelta | None = None
    scale_degc: tuple[float, float] | None = None
    order: tuple[str, ...] = field(default=())
    previous: tuple[Path, ...] = ()
    reference_board: str = ""
    decision: Decision = DEFAULT_DECISION

    def board(self, board_id: str) -> StudyBoard:
        """Find a board by id.

        Raises
        ------
        KeyError
            If there is none.
        """
        return {board.id: board for board in self.boards}[board_id]

    def load(self, load_id: str) -> Load:
        """Find a load by id.

        Raises
        ------
        KeyError
            If there is none.
        """
        return {load.id: load for load in self.loads}[load_id]
