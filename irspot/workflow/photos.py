"""Photos of studies and single frames: placed while measuring, drawn beneath the colours afterwards."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from irspot.board import Board, Side
from irspot.errors import IrspotError, Problem
from irspot.frame import Frame
from irspot.photo import PhotoWish
from irspot.placing import ImageSide
from irspot.workflow.provenance import placement_json

if TYPE_CHECKING:
    from irspot.registration.placement import Placement
    from irspot.rendering import Underlay
    from irspot.workflow.tasks import MeasureTask


def place_photo_file(file: Path | None, wish: PhotoWish, board: Board, side: Side) -> Placement | None:
    """Read a photo and place a board in it; None where there is no photo.

    Raises
    ------
    FrameUnreadable
        If the photo cannot be read.
    PlacementRefused
        With the reason.
    """
    if file is None:
        return None
    from irspot.decoding.photo import read_photo
    from irspot.registration.in_photo import place_in_photo

    return place_in_photo(read_photo(file), board, wish.how, side=side, top=wish.top, file=str(file))


def place_frame_by_photo(
    frame: Frame, board: Board, file: Path, wish: PhotoWish, side: Side, top: ImageSide | None
) -> Placement:
    """Read a photo, place a board in it, and by it in a frame.

    Raises
    ------
    FrameUnreadable
        If the photo cannot be read.
    PlacementRefused
        With the reason, of photo or frame.
    """
    from irspot.decoding.photo import read_photo
    from irspot.registration.by_photo import place_frame_by
    from irspot.registration.in_photo import place_in_photo

    photo = read_photo(file)
    placed = place_in_photo(photo, board, wish.how, side=side, top=wish.top, file=str(file))
    return place_frame_by(frame, board, photo, placed, top=top)


def placed_photo(task: MeasureTask) -> tuple[Placement | None, tuple[Problem, ...]]:
    """Place a run's board in the run's photo, if there is one; what fails costs the photo, not the readings.

    Returns
    -------
    Placement or None
    tuple of Problem
        Why there is none, where one was asked for.
    """
    run = task.run
    try:
        return place_photo_file(run.photo_file, run.photo, task.board, run.side), ()
    except IrspotError as error:
        return None, error.problems()


def underlay_of(file: Path | None, wish: PhotoWish, placement: Placement | None) -> Underlay | None:
    """Read a placed photo once more, to be drawn beneath the colours; None where there is none.

    Raises
    ------
    FrameUnreadable
        If it cannot be read.
    """
    from irspot.decoding.photo import read_photo
    from irspot.rendering import Underlay

    if file is None or placement is None:
        return None
    return Underlay(read_photo(file), placement, wish.opacity)


def photo_json(name: str, wish: PhotoWish, placement: Placement | None) -> dict[str, Any]:
    """Describe a photo for results.json: its file, how strongly it shows, where the board is in it."""
    described = None if placement is None else placement_json(placement)
    return {"file": name, "opacity": wish.opacity, "placement": described}
