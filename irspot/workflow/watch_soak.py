"""A folder watched while frames arrive: each is placed and measured once, and every zone's soak judged anew."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Final

from irspot.board import Board, Side
from irspot.camera import NO_CAMERA
from irspot.color_wish import NO_WISH, ColorWish
from irspot.conditions import Conditions
from irspot.constants import DEFAULT_SAMPLE_S
from irspot.errors import IrspotError, Problem, UsageError
from irspot.frame import Frame
from irspot.placing import HowToPlace, ImageSide
from irspot.soak.judge import SoakReading, Surroundings, hottest, judge_soak, sentence
from irspot.study import Run
from irspot.workflow.follow_run import RunPlacer
from irspot.workflow.tasks import MeasureTask
from irspot.workflow.zone_series import FrameMeasurer, SeriesMaker

SHOWN: Final = 3
"""Zones that are told of, the hottest ones."""
_TRIES: Final = 3
"""How often a file is tried: it may be half written."""


@dataclass(frozen=True, slots=True)
class WatchJob:
    """What is watched.

    Parameters
    ----------
    folder : Path
    board_file : Path
    camera_file : Path or None
    side, top, how
        As of `irspot.workflow.one_frame.FrameJob`.
    conditions : Conditions
    rule : str
        See `irspot.steady_rules`; empty for the default.
    wish : ColorWish
    sample_s : float
        Frames nearer to the one before are passed over.
    """

    folder: Path
    board_file: Path
    camera_file: Path | None = None
    side: Side = "front"
    top: ImageSide | None = None
    how: HowToPlace | None = None
    conditions: Conditions = field(default_factory=Conditions)
    rule: str = ""
    wish: ColorWish = NO_WISH
    sample_s: float = DEFAULT_SAMPLE_S


@dataclass(frozen=True, slots=True)
class Seen:
    """What one look at the folder gave.

    Parameters
    ----------
    frames : int
        New ones that were measured.
    readings : tuple of SoakReading
        Of every zone, by all frames so far; empty where no frame is new.
    problems : tuple of Problem
        Files given up, frames in which the board was not placed.
    """

    frames: int
    readings: tuple[SoakReading, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def lines(self) -> tuple[str, ...]:
        """A sentence for each of the hottest zones."""
        return tuple(sentence(reading) for reading in hottest(self.readings, SHOWN))

    @property
    def steady(self) -> bool:
        """Whether every zone that could be measured is within 1 K of its end value and steady by the rule."""
        known = [reading for reading in self.readings if reading.samples]
        return bool(known) and all(reading.to_go_s == 0.0 and reading.steady == "yes" for reading in known)


class Watcher:
    """Follows a folder.

    Parameters
    ----------
    job : WatchJob

    Raises
    ------
    IrspotError
        If folder, board, camera or rule cannot be used.
    """

    def __init__(self, job: WatchJob) -> None:
        from irspot.files import read_board, read_camera

        if not job.folder.is_dir():
            raise UsageError("--watch names no folder", found=str(job.folder))
        camera = NO_CAMERA if job.camera_file is None else read_camera(job.camera_file)
        self._job = job
        self._board: Board = read_board(job.board_file)
        run = Run(job.folder.name, "", "", job.side, (), camera, job.camera_file, top=job.top)
        run = run if job.how is None else replace(run, placement=job.how)
        self._task = MeasureTask(with_conditions(run, job.conditions), self._board, None)
        self._placer = RunPlacer(self._task)
        self._measurer = FrameMeasurer(self._task)
        self._made = SeriesMaker()
        self._tried: dict[Path, int] = {}
        self._done: set[Path] = set()
        self._clock = _Clock()
        self._count = 0

    def step(self) -> Seen:
        """Measure what is new in the folder, and judge."""
        problems: list[Problem] = []
        before = self._count
        for file in self._new_files():
            try:
                for frame in self._frames(file):
                    problems += self._measure(file, frame)
            except IrspotError as error:
                problems += self._failed(file, error)
                continue
            self._done.add(file)
        new = self._count - before
        return Seen(new, self._judged() if new else (), tuple(problems))

    def _new_files(self) -> list[Path]:
        found = [file for file in self._job.folder.iterdir() if file.is_file() and not file.name.startswith(".")]
        return sorted((file for file in found if file not in self._done), key=lambda file: _natural(file.name))

    def _frames(self, file: Path) -> Iterator[Frame]:
        from irspot.workflow.open_any import open_any

        source = open_any(file, self._task.run.camera, self._job.wish)
        yield from (source.frame(index) for index in range(source.count))

    def _measure(self, file: Path, frame: Frame) -> list[Problem]:
        time_s = self._clock.seconds(frame, file)
        if not self._clock.due(time_s, self._job.sample_s):
            return []
        sample = self._measurer.measured(self._placer, frame, self._count, time_s)
        self._made.add(sample)
        self._clock.taken(time_s)
        self._count += 1
        return [] if sample.refusal is None else list(sample.refusal.problems())

    def _failed(self, file: Path, error: IrspotError) -> list[Problem]:
        self._tried[file] = self._tried.get(file, 0) + 1
        if self._tried[file] < _TRIES:
            return []
        self._done.add(file)
        return list(error.problems())

    def _judged(self) -> tuple[SoakReading, ...]:
        from irspot.workflow.soak_study import surface_limits

        air = self._job.conditions.ambient_degc
        limits = surface_limits(self._board)
        around = Surroundings(self._job.rule, ambient_degc=float("nan") if air is None else air)
        return tuple(
            judge_soak(series, replace(around, limit_degc=limits.get(series.name, float("nan"))))
            for series in self._made.zones()
        )


def with_conditions(run: Run, conditions: Conditions) -> Run:
    """Give a run the conditions of a job."""
    return replace(
        run,
        ambient_degc=conditions.ambient_degc,
        u_ambient_k=conditions.u_ambient_k,
        reflected_degc=conditions.reflected_degc,
        u_reflected_k=conditions.u_reflected_k,
        transmission=conditions.transmission,
        u_transmission=conditions.u_transmission,
        window_degc=conditions.window_degc,
    )


def watch(
    watcher: Watcher,
    show: Callable[[Seen], None],
    *,
    every_s: float,
    until_steady: bool = False,
    sleep: Callable[[float], None] = time.sleep,
) -> None:
    """Look at a folder again and again, until Ctrl-C or, if wished, until all is steady.

    Parameters
    ----------
    watcher : Watcher
    show : callable
        Takes every look that found something.
    every_s : float
    until_steady : bool
    sleep : callable
    """
    try:
        while True:
            seen = watcher.step()
            if seen.frames or seen.problems:
                show(seen)
            if until_steady and seen.steady:
                return
            sleep(every_s)
    except KeyboardInterrupt:
        return


class _Clock:
    """Tells when frames were taken: by their own stamps if the first has one, else by their files' times."""

    def __init__(self) -> None:
        self._by: str = ""
        self._zero = 0.0
        self._last_s: float | None = None

    def seconds(self, frame: Frame, file: Path) -> float:
        """Give seconds from the first frame."""
        moments: dict[str, datetime | None] = {"utc": frame.time_utc, "local": frame.time_local}
        if not self._by:
            self._by = next((name for name, moment in moments.items() if moment is not None), "file")
        moment = moments.get(self._by)
        # A local time has no zone, and takes none: only differences count.
        now = file.stat().st_mtime if moment is None else (moment - _epoch(moment)).total_seconds()
        if self._last_s is None:
            self._zero = now
        return now - self._zero

    def due(self, time_s: float, sample_s: float) -> bool:
        """Say whether a frame is late enough after the one before, with half a frame's grace."""
        return self._last_s is None or time_s - self._last_s >= max(0.95 * sample_s, 1e-6)

    def taken(self, time_s: float) -> None:
        """Remember the frame measured last."""
        self._last_s = time_s


def _epoch(moment: datetime) -> datetime:
    return datetime(1970, 1, 1, tzinfo=moment.tzinfo)


def _natural(name: str) -> list[tuple[int, str]]:
    """Order ``frame-2`` before ``frame-10``."""
    return [(int(part), "") if part.isdigit() else (-1, part.lower()) for part in re.split(r"(\d+)", name)]
