"""One board placed in one frame from files: what ``irspot place`` does."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from irspot.board import Board, Side
from irspot.color_wish import NO_WISH, ColorWish
from irspot.constants import METHOD
from irspot.errors import PlacementRefused
from irspot.frame import Frame
from irspot.placing import AUTO, HowToPlace, ImageSide
from irspot.registration.placement import Placement
from irspot.shapes import Polygon
from irspot.version import __version__
from irspot.workflow.provenance import file_digest, names_of, placement_json

_RECTANGLE: Final = ("lower left", "lower right", "upper right", "upper left")
_OUTLINE_STEPS: Final = 400


@dataclass(frozen=True, slots=True)
class PlaceJob:
    """What to place in which frame.

    Parameters
    ----------
    frame_file, board_file : Path
    camera_file : Path or None
    index : int or None
        Which frame of the file.
    side : {"front", "rear"}
    top : str or None
    how : CornersPx, PointsPx or AutoPlacement
    wish : ColorWish
        What was said about the colour bar of a picture.
    """

    frame_file: Path
    board_file: Path
    camera_file: Path | None = None
    index: int | None = None
    side: Side = "front"
    top: ImageSide | None = None
    how: HowToPlace = AUTO
    wish: ColorWish = NO_WISH

    @property
    def inputs(self) -> list[Path]:
        """Every file that is read."""
        return [self.frame_file, self.board_file, *([self.camera_file] if self.camera_file else [])]


@dataclass(frozen=True, slots=True)
class PlaceResult:
    """Where the board is in a frame, or why nobody can say.

    Parameters
    ----------
    job : PlaceJob
    frame : Frame
    board : Board
    placement : Placement or None
    refusal : PlacementRefused or None
        One of the two is None.
    """

    job: PlaceJob
    frame: Frame
    board: Board
    placement: Placement | None
    refusal: PlacementRefused | None = None


@dataclass(frozen=True, slots=True)
class Corner:
    """One corner of the outline.

    Parameters
    ----------
    number : int
        From 1, in the outline's order.
    name : str
        Of a rectangle's corner, as seen from the front; else empty.
    xy_mm, xy_px : tuple of float
    u_px : float
        Standard uncertainty of its place in the frame, in whichever direction it is largest; NaN where nothing says.
    """

    number: int
    name: str
    xy_mm: tuple[float, float]
    xy_px: tuple[float, float]
    u_px: float


def place_file(job: PlaceJob) -> PlaceResult:
    """Read a frame and a board, and place the one in the other.

    Parameters
    ----------
    job : PlaceJob

    Returns
    -------
    PlaceResult

    Raises
    ------
    IrspotError
        Whatever is wrong with a file, in one line.
    """
    from irspot.registration import place_frame
    from irspot.workflow.open_any import frame_and_board

    frame, board = frame_and_board(job.frame_file, job.board_file, job.camera_file, job.wish, job.index)
    try:
        placement = place_frame(frame, board, job.how, side=job.side, top=job.top, file=str(job.frame_file))
    except PlacementRefused as refusal:
        return PlaceResult(job, frame, board, None, refusal)
    return PlaceResult(job, frame, board, placement)


def write_picture(result: PlaceResult, file: Path, size: tuple[int, int]) -> dict[str, str]:
    """Write the picture of a placement or of what was seen instead.

    Parameters
    ----------
    result : PlaceResult
    file : Path
        A PNG that is not there yet; one that holds this very picture already may stay.
    size : tuple of int

    Returns
    -------
    dict of str to str
        Its name → SHA-256.

    Raises
    ------
    OutputRefused
        If the file is an input, or is there already.
    """
    import hashlib

    from irspot.atomic import write_atomic
    from irspot.workflow.placement_pictures import placed_png, refused_png

    job = result.job
    refuse_picture(file, job)
    if result.placement is not None:
        png = placed_png(result.frame, result.board, result.placement, top=job.top, size=size)
    else:
        assert result.refusal is not None
        png = refused_png(result.frame, result.board, job.how, result.refusal, side=job.side, top=job.top, size=size)
    if not (file.is_file() and file.read_bytes() == png):
        write_atomic(file, png, overwrite=False)
    return {file.name: hashlib.sha256(png).hexdigest()}


def refuse_picture(file: Path, job: PlaceJob) -> None:
    """Refuse a picture's file before any work: one of the inputs, or one of another kind.

    Raises
    ------
    OutputRefused
        For an input.
    UsageError
        For a file that is no PNG by its name.
    """
    from irspot.errors import UsageError
    from irspot.workflow.outputs import refuse_inputs

    if file.suffix.lower() != ".png":
        raise UsageError("the picture is a PNG", file=str(file), wanted="a name that ends in .png")
    refuse_inputs(file.parent, [file.name], job.inputs)


def corners_of(placement: Placement, board: Board) -> tuple[Corner, ...]:
    """List the outline's corners where a placement has them.

    Parameters
    ----------
    placement : Placement
    board : Board
    """
    xy_mm = board.outline.array_mm
    named = _RECTANGLE if _is_plain_rectangle(board.outline) else ("",) * len(xy_mm)
    each = zip(named, xy_mm.tolist(), placement.to_px(xy_mm).tolist(), placement.u_px_at(xy_mm).tolist(), strict=True)
    return tuple(
        Corner(number, name, (x, y), (x_px, y_px), u_px)
        for number, (name, (x, y), (x_px, y_px), u_px) in enumerate(each, start=1)
    )


def _is_plain_rectangle(outline: Polygon) -> bool:
    """Say whether an outline is a rectangle whose corners run as the board file counts them: from the lower left."""
    x0, y0, x1, y1 = outline.box_mm
    return outline.vertices_mm == ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def in_view_of(placement: Placement, board: Board) -> float:
    """Share of the outline that lies within the frame."""
    length_mm = float(np.sum(np.hypot(*(np.roll(board.outline.array_mm, -1, axis=0) - board.outline.array_mm).T)))
    places = placement.to_px(board.outline.border_points(length_mm / _OUTLINE_STEPS))
    edge = np.array(placement.size_px) - 0.5
    return float(np.mean(np.all((places >= -0.5) & (places <= edge), axis=1)))


def place_document(result: PlaceResult, outputs: dict[str, str]) -> dict[str, Any]:
    """Make the JSON of a placed board: its placement as results.json has it, its corners, and how it was made.

    Parameters
    ----------
    result : PlaceResult
        Of a board that was placed.
    outputs : dict of str to str
        Name → SHA-256 of files written.
    """
    assert result.placement is not None
    job, placement = result.job, result.placement
    return {
        "irspot": __version__,
        "method": METHOD,
        "settings": {"side": job.side, "top": job.top},
        "inputs": {name: file_digest(file) for name, file in zip(names_of(job.inputs), job.inputs, strict=True)},
        "frame": {
            "frame": result.frame.name,
            "time": result.frame.time_text,
            "size_px": [result.frame.shape[1], result.frame.shape[0]],
            "reader_notes": list(result.frame.notes),
        },
        "placement": {
            **placement_json(placement),
            "corners": [_corner_json(corner) for corner in corners_of(placement, result.board)],
            **_facts_json(placement, result.board),
        },
        "outputs": outputs,
    }


def _corner_json(corner: Corner) -> dict[str, Any]:
    from irspot.exports.json_results import number, numbers

    return {
        "number": corner.number,
        "name": corner.name,
        "mm": numbers(corner.xy_mm),
        "px": numbers(corner.xy_px),
        "u_px": number(corner.u_px),
    }


def _facts_json(placement: Placement, board: Board) -> dict[str, Any]:
    from irspot.exports.json_results import number

    return {name: number(value) for name, value in view_facts(placement, board).items()}


def view_facts(placement: Placement, board: Board) -> dict[str, float]:
    """Say how the frame shows the board: shares of the outline, and where its focal length is known the camera's place.

    Parameters
    ----------
    placement : Placement
    board : Board

    Returns
    -------
    dict of str to float
        ``outline_in_view``, ``outline_on_edges`` (of what is in view; only where the board was sought in the frame),
        ``tilt_deg`` (between the optical axis and the board's normal), ``camera_distance_mm`` (to the middle of the
        outline's box).
    """
    facts = {"outline_in_view": in_view_of(placement, board)}
    if placement.share_held is not None:
        facts["outline_on_edges"] = placement.share_held
    if placement.optics.focal_px is None:
        return facts
    from irspot.registration.heights import camera_pose

    pose = camera_pose(placement)
    x0, y0, x1, y1 = board.outline.box_mm
    middle = np.array([0.5 * (x0 + x1), 0.5 * (y0 + y1), 0.0])
    return {
        **facts,
        "tilt_deg": pose.tilt_deg,
        "camera_distance_mm": float(np.linalg.norm(pose.eye_mm - middle)),
    }
