"""What travels between the study, its workers and its outputs: picklable values only."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from irspot.board import Board
from irspot.errors import PlacementRefused, Problem
from irspot.results import Reading, Row
from irspot.series import Series
from irspot.study import Run
from irspot.workflow.camera_state import NO_COLD_FRAME, ColdFrame

if TYPE_CHECKING:
    from irspot.registration.placement import Placement
    from irspot.rendering.report.shown import ShownFrame
    from irspot.workflow.full_rate_table import FullRate


@dataclass(frozen=True, slots=True)
class MeasureTask:
    """One run to measure: phase one.

    Parameters
    ----------
    run : Run
    board : Board
    utc_offset : timedelta or None
    draws : int
        Times that the inputs of every reading are drawn; 0 leaves it at the budget.
    reference_ambient_degc : float or None
        That maxima are carried to.
    """

    run: Run
    board: Board
    utc_offset: timedelta | None
    draws: int = 0
    part: Path | None = None
    """Where what was found in a long recording is kept, in case the work is interrupted."""
    processes: int = 1
    """How many may work on one recording."""
    reference_ambient_degc: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class RunSeries:
    """What a run's zones read over its time.

    Parameters
    ----------
    zones : tuple of Series
        Every zone's maximum, and `elsewhere`'s.
    csv : bytes
        The table series/RUN.csv.
    full_rate : FullRate or None
        What writes that table instead, where every frame was taken.
    """

    zones: tuple[Series, ...]
    csv: bytes = b""
    full_rate: FullRate | None = None


@dataclass(frozen=True, slots=True)
class FrameFacts:
    """What is kept of one measured frame: enough for provenance and for the study's scale.

    Parameters
    ----------
    name, time : str
    file_index : int
        Which of the run's files it came from; the readout of a recording counts as the first.
    size_px : tuple of int
    notes : tuple of str
    placement : dict
        Matrix, residual, method, for results.json; empty where placing was refused.
    low_degc, high_degc : float
        Robust extremes of what its picture shows.
    readings : tuple of Reading
    kept : range or None
        Frames of the recording that are in its readout.
    placed : Placement or None
        For its picture.
    refusal : PlacementRefused or None
        Why it was not placed.
    outline_blur_px : float
        How blurred the board's outline shows; NaN where it does not, or where pixels are not the sensor's own.
    held : dict
        What references did to it, for results.json; empty where there are none.
    warnings : tuple of Problem
        Why a reference did nothing.
    board : Board or None
        As it was measured by: with references as they were then; None where it was not placed.
    """

    name: str
    time: str
    file_index: int
    size_px: tuple[int, int]
    notes: tuple[str, ...]
    placement: dict[str, Any]
    low_degc: float
    high_degc: float
    readings: tuple[Reading, ...]
    kept: range | None = None
    placed: Placement | None = None
    refusal: PlacementRefused | None = None
    outline_blur_px: float = math.nan
    held: dict[str, Any] = field(default_factory=dict)
    warnings: tuple[Problem, ...] = ()
    board: Board | None = None


@dataclass(frozen=True, slots=True)
class RunResult:
    """What measuring one run gave."""

    run_id: str
    rows: tuple[Row, ...] = ()
    frames: tuple[FrameFacts, ...] = ()
    problems: tuple[Problem, ...] = ()
    digests: dict[str, str] = field(default_factory=dict)
    photo: Placement | None = None
    """Where the board is in the run's photo."""
    series: RunSeries | None = None
    even: Placement | None = None
    """Where it is in the frame behind the run's emissivity map."""
    cold: ColdFrame = NO_COLD_FRAME


@dataclass(frozen=True, slots=True)
class DrawTask:
    """The pictures of one run: phase two, with the study's scale known."""

    task: MeasureTask
    frames: tuple[FrameFacts, ...]
    names: tuple[str, ...]
    load_label: str
    scale_degc: tuple[float, float]
    cmap: str
    size: tuple[int, int]
    photo: Placement | None = None
    even: Placement | None = None
    cold: ColdFrame = NO_COLD_FRAME
    in_report: frozenset[int] = frozenset()
    """File indices of the frames that the report shows."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """Pictures of one run: file name → PNG."""

    pictures: tuple[tuple[str, bytes], ...] = ()
    shown: tuple[tuple[int, ShownFrame], ...] = ()
    """File index → what the report shows of that frame."""
    problems: tuple[Problem, ...] = ()
