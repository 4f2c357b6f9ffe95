"""One frame measured from files: what ``irspot measure`` does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from irspot.board import Board, Side
from irspot.color_wish import NO_WISH, ColorWish
from irspot.conditions import Conditions
from irspot.constants import METHOD
from irspot.errors import PlacementRefused
from irspot.even_frame import EvenFrame
from irspot.frame import Frame
from irspot.photo import DEFAULT_PHOTO_WISH, PhotoWish
from irspot.placing import HowToPlace, ImageSide, PhotoPlacement
from irspot.results import Reading, Row, RunLabel
from irspot.version import __version__
from irspot.workflow.camera_state import (
    NO_COLD_FRAME,
    ColdFrame,
    cold_frame_json,
    held_json,
    read_cold_frame,
    with_pattern,
)
from irspot.workflow.photos import photo_json, place_frame_by_photo, place_photo_file
from irspot.workflow.provenance import file_digest, names_of, placement_json

if TYPE_CHECKING:
    from irspot.measurement import EmissivityMap
    from irspot.registration.placement import Placement


@dataclass(frozen=True, slots=True)
class FrameJob:
    """What to measure in one frame.

    Parameters
    ----------
    frame_file, board_file : Path
    camera_file : Path or None
    index : int or None
        Which frame of the file.
    side : {"front", "rear"}
    top : str or None
    how : CornersPx, PointsPx or AutoPlacement
    at_px : tuple of (float, float)
        Places to read besides the zones.
    conditions : Conditions
    utc_offset : timedelta or None
        For a frame whose clock states no zone.
    wish : ColorWish
        What was said about the colour bar of a picture.
    draws : int
        Times that the inputs of every reading are drawn; 0 leaves it at the budget.
    photo_file : Path or None
        A photo of the same side, shown beneath the picture's colours.
    photo : PhotoWish
        How.
    even : EvenFrame or None
        A frame of the evenly warm board, from which every pixel gets its emissivity.
    cold_files : tuple of Path
        Of the camera's pattern: an even scene at room temperature; averaged.
    camera_on_min : float or None
        How long the camera had been on.
    """

    frame_file: Path
    board_file: Path
    camera_file: Path | None
    index: int | None
    side: Side
    top: ImageSide | None
    how: HowToPlace
    at_px: tuple[tuple[float, float], ...]
    conditions: Conditions
    utc_offset: timedelta | None = None
    wish: ColorWish = NO_WISH
    draws: int = 0
    photo_file: Path | None = None
    photo: PhotoWish = DEFAULT_PHOTO_WISH
    even: EvenFrame | None = None
    cold_files: tuple[Path, ...] = ()
    camera_on_min: float | None = None


@dataclass(frozen=True, slots=True)
class FrameResult:
    """What one frame gave.

    Parameters
    ----------
    job : FrameJob
    frame : Frame
    board : Board
    placement : Placement or None
        None where placing was refused; the rows then are empty.
    rows : tuple of Row
    refusal : PlacementRefused or None
        Why.
    photo : Placement or None
        Of the board in the photo.
    photo_refusal : PlacementRefused or None
        Why there is none; readings and picture do without.
    mapped : EmissivityMap or None
        That the readings were made with.
    cold : ColdFrame
        What was taken off the frame.
    """

    job: FrameJob
    frame: Frame
    board: Board
    placement: Placement | None
    rows: tuple[Row, ...]
    refusal: PlacementRefused | None = None
    photo: Placement | None = None
    photo_refusal: PlacementRefused | None = None
    mapped: EmissivityMap | None = None
    cold: ColdFrame = NO_COLD_FRAME

    @property
    def failure(self) -> PlacementRefused | None:
        """What was refused, the frame's placement before the photo's."""
        return self.refusal or self.photo_refusal

    @property
    def readings(self) -> tuple[Reading, ...]:
        """The readings of the rows."""
        return tuple(row.reading for row in self.rows)


def measure_file(job: FrameJob) -> FrameResult:
    """Read, place and measure one frame.

    Parameters
    ----------
    job : FrameJob

    Returns
    -------
    FrameResult
        Zones in the board file's order, ``elsewhere``, then the places asked for; where the board cannot be placed,
        empty rows and the reason.

    Raises
    ------
    IrspotError
        Whatever is wrong with a file, in one line.
    """
    from irspot import measurement
    from irspot.registration import place_frame
    from irspot.workflow.open_any import frame_and_board

    frame, board = frame_and_board(job.frame_file, job.board_file, job.camera_file, job.wish, job.index)
    frame = frame.with_utc_offset(job.utc_offset)
    frame, cold = _in_that_state(frame, job)
    label = RunLabel(run=job.frame_file.stem, board=job.board_file.stem, load="", side=job.side)
    try:
        if isinstance(job.how, PhotoPlacement) and job.photo_file is not None:
            placement = place_frame_by_photo(frame, board, job.photo_file, job.photo, job.side, job.top)
        else:
            placement = place_frame(frame, board, job.how, side=job.side, top=job.top, file=str(job.frame_file))
    except PlacementRefused as refusal:
        empty = measurement.unplaced_readings(frame, board, job.side, job.conditions)
        return FrameResult(job, frame, board, None, tuple(Row(label, reading) for reading in empty), refusal, cold=cold)
    mapped = _map_of(job, board, frame, cold)
    frame = measurement.held(frame, board, placement, job.conditions)
    readings = [*measurement.measure_zones(frame, board, placement, job.conditions, mapped)]
    if job.draws:
        readings = [*measurement.with_draws(readings, board, job.side, frame.camera.band, job.draws)]
    readings += [measurement.measure_at(frame, board, placement, job.conditions, x, y, mapped) for x, y in job.at_px]
    rows = tuple(Row(label, reading) for reading in readings)
    result = FrameResult(job, frame, board, placement, rows, mapped=mapped, cold=cold)
    try:
        return replace(result, photo=place_photo_file(job.photo_file, job.photo, board, job.side))
    except PlacementRefused as refusal:
        return replace(result, photo_refusal=refusal)


def _map_of(job: FrameJob, board: Board, frame: Frame, cold: ColdFrame) -> EmissivityMap | None:
    if job.even is None:
        return None
    from irspot.workflow.even_frames import Measured, made_map

    by = Measured(board, job.side, frame.camera, job.wish, job.how, job.photo_file, job.photo, cold)
    return made_map(job.even, by)


def _in_that_state(frame: Frame, job: FrameJob) -> tuple[Frame, ColdFrame]:
    """Take off the camera's pattern, where a cold frame was given, and widen its limits while it warms up.

    Raises
    ------
    ColdFrameRefused, FrameUnreadable
        If the cold frame cannot be used: whoever gave it can take another, or leave it out.
    """
    from irspot.measurement.warm_up import with_warm_up

    frame = with_warm_up(frame, job.camera_on_min)
    if not job.cold_files:
        return frame, NO_COLD_FRAME
    from irspot.camera import NO_CAMERA
    from irspot.files import read_camera

    camera = NO_CAMERA if job.camera_file is None else read_camera(job.camera_file)
    cold = read_cold_frame(job.cold_files, camera, job.conditions, job.camera_on_min)
    return frame if cold.pattern is None else with_pattern(frame, cold.pattern, str(job.cold_files[0])), cold


def frame_document(result: FrameResult, outputs: dict[str, str], settings: dict[str, Any]) -> dict[str, Any]:
    """Make the JSON of one measured frame: its rows, and what says how they were made.

    Parameters
    ----------
    result : FrameResult
    outputs : dict of str to str
        Name → SHA-256 of files written.
    settings : dict
    """
    from irspot.exports.json_results import dictionary_json, row_json

    inputs = _inputs(result.job)
    return {
        "irspot": __version__,
        "method": METHOD,
        "settings": settings,
        "inputs": {name: file_digest(file) for name, file in zip(names_of(inputs), inputs, strict=True)},
        "frame": {
            "frame": result.frame.name,
            "time": result.frame.time_text,
            "size_px": [result.frame.shape[1], result.frame.shape[0]],
            "reader_notes": list(result.frame.notes),
            "placement": None if result.placement is None else placement_json(result.placement),
            "photo": result.job.photo_file and photo_json(result.job.photo_file.name, result.job.photo, result.photo),
            "emissivity_map": _even_json(result),
            "cold_frame": cold_frame_json(result.cold, names_of(result.cold.files)),
            **held_json(result.frame.held),
        },
        "columns": dictionary_json(),
        "rows": [row_json(row) for row in result.rows],
        "outputs": outputs,
    }


def _even_json(result: FrameResult) -> dict[str, Any] | None:
    even, mapped = result.job.even, result.mapped
    if even is None:
        return None
    from irspot.workflow.even_frames import even_json

    return even_json(even.file.name, even, None if mapped is None else mapped.placement)


def write_frame(
    result: FrameResult, folder: Path, *, scale_degc: tuple[float, float] | None, cmap: str, size: tuple[int, int]
) -> dict[str, Any]:
    """Write results.csv, the picture and results.json of one frame; where the board was not placed, what was seen.

    Parameters
    ----------
    result : FrameResult
    folder : Path
    scale_degc : tuple of float or None
    cmap : str
    size : tuple of int

    Returns
    -------
    dict
        What results.json says; its ``outputs`` name the other files.

    Raises
    ------
    OutputRefused
        If writing would go over an input or a stranger's file.
    """
    from irspot.exports.json_results import dumps
    from irspot.exports.tables import results_csv
    from irspot.workflow.outputs import RESULTS, finish, refuse_inputs, refuse_strangers, write_set

    stem = result.job.frame_file.stem
    picture = f"pictures/{stem}.png" if result.refusal is None else f"pictures/{stem}-placement.png"
    names = ("results.csv", picture)
    refuse_inputs(folder, (*names, RESULTS), _inputs(result.job))
    refuse_strangers(folder, names)
    files = {"results.csv": results_csv(result.rows)}
    if result.placement is not None:
        files[picture] = _picture(result, result.placement, scale_degc, cmap, size)
    elif result.refusal is not None:
        files[picture] = _refused(result, result.refusal, size)
    outputs = write_set(folder, files)
    settings = {"cmap": cmap, "size_px": list(size), "scale_degc": list(scale_degc) if scale_degc else "auto"}
    document = frame_document(result, outputs, settings)
    finish(folder, dumps(document))
    return document


def _picture(
    result: FrameResult,
    placement: Placement,
    scale_degc: tuple[float, float] | None,
    cmap: str,
    size: tuple[int, int],
) -> bytes:
    from irspot.api import picture
    from irspot.decoding.photo import read_photo

    job, zones = result.job, _zone_readings(result.readings)
    drawn = picture(
        result.frame,
        result.board,
        placement,
        zones,
        scale_degc=scale_degc,
        cmap=cmap,
        size=size,
        photo=read_photo(job.photo_file) if job.photo_file and result.photo else None,
        photo_placement=result.photo,
        photo_opacity=job.photo.opacity,
        emissivity_map=result.mapped,
    )
    return drawn.png_bytes()


def _refused(result: FrameResult, refusal: PlacementRefused, size: tuple[int, int]) -> bytes:
    from irspot.workflow.placement_pictures import refused_png

    job = result.job
    return refused_png(result.frame, result.board, job.how, refusal, side=job.side, top=job.top, size=size)


def _zone_readings(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """Leave out single places: a picture shows the zones and `elsewhere`."""
    from irspot.board import ELSEWHERE

    last = next(i for i, reading in enumerate(readings) if reading.zone == ELSEWHERE)
    return tuple(readings[: last + 1])


def _inputs(job: FrameJob) -> list[Path]:
    even = None if job.even is None else job.even.file
    given = (job.frame_file, job.board_file, job.camera_file, job.photo_file, even, *job.cold_files)
    return [file for file in given if file]
