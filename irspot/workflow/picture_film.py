"""A run over time as a moving picture: measured frame by frame, then drawn on one page and one scale."""

from __future__ import annotations

import tempfile
import weakref
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from numpy.typing import NDArray

from irspot.constants import DEFAULT_SAMPLE_S
from irspot.errors import PlacementRefused, Problem, UsageError
from irspot.frame import Frame
from irspot.results import Row, RunLabel
from irspot.workflow.camera_state import cold_frame_of
from irspot.workflow.draw_run import caption_of
from irspot.workflow.even_frames import map_of_run
from irspot.workflow.measure_run import robust_extremes
from irspot.workflow.opened import conditions_of, opened_sources, wish_of
from irspot.workflow.photos import placed_photo, underlay_of
from irspot.workflow.picture_made import Look
from irspot.workflow.picture_source import PictureSource
from irspot.workflow.pool import Progress, silent
from irspot.workflow.tasks import MeasureTask
from irspot.workflow.zone_series import Sample, sampled_indices, samples_of, times_of, unplaced_warning

if TYPE_CHECKING:
    from irspot.rendering import Picture, Underlay
    from irspot.rendering.alt_text import Words
    from irspot.rendering.moving import Film, Moment

FilmKind = Literal["gif", "mp4", "png"]
FILM_KINDS: Final[dict[str, FilmKind]] = {".gif": "gif", ".mp4": "mp4", ".png": "png"}
MOST_PICTURES: Final = 3000
"""More would take hours and hardly be looked at."""


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """A run over time, measured and ready to be drawn.

    Parameters
    ----------
    film : Film
    moments : tuple of Moment
        In the order of time.
    surfaces : Spool
        Of each moment.
    rows : tuple of Row
        Behind every number, with their times.
    words : Words
    scale_degc : tuple of float
    warnings : tuple of Problem
    """

    film: Film
    moments: tuple[Moment, ...]
    surfaces: Spool
    rows: tuple[Row, ...]
    words: Words
    scale_degc: tuple[float, float]
    warnings: tuple[Problem, ...]

    def picture(self, number: int) -> Picture:
        """Draw one moment."""
        return self.film.picture(self.surfaces[number], self.moments[number])

    def pictures(self, progress: Progress = silent) -> Iterator[Picture]:
        """Draw all moments, one at a time."""
        for number in range(len(self.moments)):
            yield self.picture(number)
            _now_and_then(progress, number + 1, len(self.moments), "pictures drawn")


def _now_and_then(progress: Progress, done: int, total: int, what: str) -> None:
    """Show progress some twenty times: a line a frame would bury what else is said."""
    if done == total or done % max(1, total // 20) == 0:
        progress(done, total, what)


class Spool:
    """Frames kept on disk: a warm-up of an hour does not fit into memory."""

    def __init__(self) -> None:
        self._file = tempfile.TemporaryFile()  # noqa: SIM115 - lives as long as the spool does
        weakref.finalize(self, self._file.close)
        self._shape = (0, 0)

    def add(self, frame: NDArray[np.float32]) -> None:
        """Keep one more frame; all are of one shape."""
        self._shape = (frame.shape[0], frame.shape[1])
        self._file.write(np.ascontiguousarray(frame, np.float32).tobytes())

    def __getitem__(self, number: int) -> NDArray[np.float32]:
        rows, columns = self._shape
        self._file.seek(4 * rows * columns * number)
        read = self._file.read(4 * rows * columns)
        return np.frombuffer(read, np.float32).reshape(rows, columns)


def film_kind(file: Path) -> FilmKind:
    """Tell by a file's name what is to be written.

    Raises
    ------
    UsageError
        For any other ending.
    """
    if file.suffix.lower() not in FILM_KINDS:
        raise UsageError(
            "a moving picture is a GIF, an MP4 or a sequence of PNGs",
            file=str(file),
            wanted="a name that ends in .gif, .mp4 or .png",
        )
    return FILM_KINDS[file.suffix.lower()]


def measured_film(source: PictureSource, look: Look, every_s: float | None, progress: Progress = silent) -> Shown:
    """Measure a run over its time and lay out the page its pictures share.

    Parameters
    ----------
    source : PictureSource
        Of one run: a recording, or several stills.
    look : Look
    every_s : float or None
        Time between pictures of a recording; None for the run's `sample_s`, or 10 s. Of stills every one is taken.
    progress : callable

    Raises
    ------
    UsageError
        If the run has one frame only, or too many pictures would be made.
    PlacementRefused
        If the board was placed in none of them; the reason of the last.
    IrspotError
        If a file cannot be read, or nothing says when the frames were taken.
    """
    from irspot.rendering import auto_scale
    from irspot.rendering.moving import film_of

    task = source.one_task
    task = replace(task, run=replace(task.run, sample_s=every_s or task.run.sample_s or DEFAULT_SAMPLE_S))
    gathered = _gathered(task, look, progress)
    if not gathered.moments:
        assert gathered.refused
        raise gathered.refused[-1]
    scale = look.scale_degc or source.scale_degc or auto_scale(gathered.extremes)
    film = film_of(
        gathered.moments,
        gathered.shape,
        task.board,
        caption=caption_of(
            task.board,
            source.chosen[0].load,
            task.run.side,
            conditions_of(task.run),
            gathered.first,
            mapped=gathered.mapped,
        ),
        scale_degc=scale,
        cmap=look.map,
        size=look.size,
        underlay=gathered.underlay,
    )
    warnings = unplaced_warning(gathered.refused, len(gathered.refused), gathered.count)
    words = _words(film, gathered.moments, scale)
    return Shown(film, tuple(gathered.moments), gathered.surfaces, tuple(gathered.rows), words, scale, warnings)


@dataclass(slots=True, eq=False)
class _Gathered:
    """What comes of measuring, frame by frame."""

    surfaces: Spool
    moments: list[Moment]
    rows: list[Row]
    extremes: list[tuple[float, float]]
    refused: list[PlacementRefused]
    count: int
    mapped: bool
    underlay: Underlay | None
    first: Frame

    @property
    def shape(self) -> tuple[int, int]:
        """Of every frame."""
        return self.surfaces[0].shape[0], self.surfaces[0].shape[1]


def _gathered(task: MeasureTask, look: Look, progress: Progress) -> _Gathered:
    from irspot.measurement import surface_map
    from irspot.rendering.moving import Moment

    run = task.run
    sources = opened_sources(task)
    _check_count(sum(source.count for source in sources), run.id, most=None)
    times = times_of(task, sources)
    stills = not run.recording and all(source.count == 1 for source in sources)
    chosen = list(range(len(sources))) if stills else sampled_indices(times.time_s, run.sample_s or 1.0).tolist()
    _check_count(len(chosen), run.id, most=MOST_PICTURES)
    label, conditions = RunLabel(run.id, run.board, run.load, run.side), conditions_of(run)
    mapped = map_of_run(run, task.board, wish_of(run), cold_frame_of(run, conditions))
    first = sources[0].frame(0).with_utc_offset(task.utc_offset)
    has_map = mapped is not None
    kept = _Gathered(Spool(), [], [], [], [], len(chosen), has_map, _underlay(task, look), first)
    for number, sample in enumerate(samples_of(task, sources, times, chosen), start=1):
        _now_and_then(progress, number, len(chosen), "frames measured")
        if sample.refusal is not None or sample.frame is None or sample.placement is None:
            kept.refused += [] if sample.refusal is None else [sample.refusal]
            continue
        surface = surface_map(sample.frame, task.board, sample.placement, conditions, mapped)
        kept.surfaces.add(surface)
        complete = bool(np.isfinite(surface).all())
        kept.moments.append(Moment(sample.time_s, sample.readings, sample.placement, complete))
        kept.extremes.append(robust_extremes(surface, sample.readings))
        kept.rows += _rows(label, sample)
    return kept


def _rows(label: RunLabel, sample: Sample) -> list[Row]:
    return [Row(label, reading, sample.time_s) for reading in sample.readings]


def _check_count(count: int, run_id: str, most: int | None) -> None:
    key, found = f"run {run_id}", f"{count}"
    if count < 2:
        hint = "give it a recording longer than --every-s, or several stills"
        raise UsageError("a moving picture needs several frames", key=key, found=found, hint=hint)
    if most is not None and count > most:
        wanted = f"at most {most} pictures"
        raise UsageError(
            "so many pictures are too many", key=key, found=found, wanted=wanted, hint="give a longer --every-s"
        )


def _underlay(task: MeasureTask, look: Look) -> Underlay | None:
    placed, problems = placed_photo(task)
    underlay = underlay_of(task.run.photo_file, task.run.photo, placed)
    if look.photo_opacity is None:
        return underlay
    if underlay is None:
        hint = str(problems[0]) if problems else "give the run a photo in the study"
        raise UsageError("there is no photo to show beneath the colours", key=f"run {task.run.id}", hint=hint)
    return replace(underlay, opacity=look.photo_opacity)


def _words(film: Film, moments: Sequence[Moment], scale: tuple[float, float]) -> Words:
    from irspot.rendering.alt_text import scale_in_words, values_of, words_of
    from irspot.rendering.moving import clock_text

    last = moments[-1]
    spans = f"{len(moments)} pictures from {clock_text(moments[0].time_s)} to {clock_text(last.time_s)}"
    told = (f"Values are those at {clock_text(last.time_s)}", spans, scale_in_words(scale))
    return words_of("Moving heat image", replace(film.caption, clock=""), values_of(last.readings), *told)
