"""Emissivity maps of studies and single frames: the even frame read, placed by itself, and turned into a map."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from irspot.board import Board, Side
from irspot.camera import Camera
from irspot.color_wish import ColorWish
from irspot.errors import IrspotError, MapRefused
from irspot.even_frame import EvenFrame
from irspot.frame import Frame
from irspot.photo import DEFAULT_PHOTO_WISH, PhotoWish
from irspot.placing import AutoPlacement, HowToPlace, ImageSide, PhotoPlacement
from irspot.workflow.camera_state import NO_COLD_FRAME, ColdFrame, in_that_state
from irspot.workflow.provenance import placement_json

if TYPE_CHECKING:
    from irspot.measurement import EmissivityMap
    from irspot.registration.placement import Placement
    from irspot.study import Run

_ELSEWHERE_SIGMAS: Final = 4.0
_ELSEWHERE_PX: Final = 1.0
"""A board whose edges show in the even frame further than both from where a run's own points put them was moved."""


@dataclass(frozen=True, slots=True)
class Measured:
    """What is measured by a map, as far as the map has to know it.

    Parameters
    ----------
    board : Board
    side : {"front", "rear"}
    camera : Camera
    wish : ColorWish
        For an even frame that is a picture with a colour bar.
    how : CornersPx, PointsPx or AutoPlacement
        How the board is placed in the measured frame.
    photo_file : Path or None
    photo : PhotoWish
        By which it is placed, if it is.
    cold : ColdFrame
        Whose pattern is taken off the even frame as well.
    camera_on_min : float or None
        Where the camera's limits do not say already that it was warming up.
    """

    board: Board
    side: Side
    camera: Camera
    wish: ColorWish
    how: HowToPlace
    photo_file: Path | None = None
    photo: PhotoWish = DEFAULT_PHOTO_WISH
    cold: ColdFrame = NO_COLD_FRAME
    camera_on_min: float | None = None


def map_of_run(
    run: Run, board: Board, wish: ColorWish, cold: ColdFrame, placement: Placement | None = None
) -> EmissivityMap | None:
    """Make a run's emissivity map; None where the run has none. See `made_map`."""
    if run.even is None:
        return None
    by = Measured(board, run.side, run.camera, wish, run.placement, run.photo_file, run.photo, cold, run.camera_on_min)
    return made_map(run.even, by, placement)


def made_map(even: EvenFrame, measured: Measured, placement: Placement | None = None) -> EmissivityMap:
    """Read an even frame, place the board in it, and make the map.

    Parameters
    ----------
    even : EvenFrame
    measured : Measured
    placement : Placement, optional
        Of the board in the even frame, where it is known already.

    Raises
    ------
    MapRefused
        Whatever is wrong, naming the even frame and its key in the study.
    """
    from irspot.measurement import emissivity_map_of

    try:
        frame = even_frame(even.file, measured.camera, measured.wish)
        frame, _ = in_that_state(frame, measured.cold, measured.camera_on_min)
        where = _placed(frame, even, measured) if placement is None else placement
        return emissivity_map_of(frame, measured.board, where, even.conditions)
    except IrspotError as error:
        raise named(error, even) from error


def even_frame(file: Path, camera: Camera, wish: ColorWish) -> Frame:
    """Read an even frame; several in one file are averaged.

    Raises
    ------
    FrameUnreadable
    """
    from irspot.workflow.open_any import open_any
    from irspot.workflow.readout import span_frame

    source = open_any(file, camera, wish)
    return source.frame(0) if source.count == 1 else span_frame(source, range(source.count), None, file.name)


def named(error: IrspotError, even: EvenFrame) -> MapRefused:
    """Say of an error that it is the even frame's, with its file and its key in the study."""
    own = error.key if isinstance(error, MapRefused) and error.key else "frame"
    key = f"{even.key}.{own}" if even.key else own
    message = error.message if isinstance(error, MapRefused) else f"the even frame cannot be used: {error.message}"
    return MapRefused(message, file=str(even.file), key=key, found=error.found, wanted=error.wanted, hint=error.hint)


def _placed(frame: Frame, even: EvenFrame, measured: Measured) -> Placement:
    from irspot.workflow.photos import place_frame_by_photo

    how, board, side = measured.how if even.how is None else even.how, measured.board, measured.side
    if isinstance(how, PhotoPlacement) and measured.photo_file is not None:
        return place_frame_by_photo(frame, board, measured.photo_file, measured.photo, side, even.top)
    return placed_even(frame, board, how, side, even.top, own=even.how is not None)


def placed_even(
    frame: Frame, board: Board, how: HowToPlace, side: Side, top: ImageSide | None, *, own: bool
) -> Placement:
    """Place a board in an even frame.

    Parameters
    ----------
    frame : Frame
    board : Board
    how : CornersPx, PointsPx or AutoPlacement
    side : {"front", "rear"}
    top : str or None
    own : bool
        Whether `how` was given for this very frame. Points that were given for the measured frame hold here only if
        neither board nor camera was moved: where the frame shows the board's edges, these have to agree.

    Raises
    ------
    MapRefused
        If they do not.
    PlacementRefused
        If the board cannot be placed.
    """
    from irspot.radiometry import radiance_temperature
    from irspot.registration import place_frame
    from irspot.registration.outline_off import outline_off_px

    placement = place_frame(frame, board, how, side=side, top=top)
    if own or isinstance(how, AutoPlacement):
        return placement
    noise_k = frame.noise_k or frame.camera.accuracy.noise_k
    off_px = outline_off_px(radiance_temperature(frame), noise_k, placement, board.outline)
    u_px = float(np.max(placement.u_px_at(board.outline.array_mm)))
    if off_px > max(_ELSEWHERE_PX, _ELSEWHERE_SIGMAS * u_px):
        raise MapRefused(
            "the board lies elsewhere in the even frame than the run's points say",
            file=frame.name,
            key="corners_px",
            found=f"an edge of its outline {off_px:.1f} px off",
            hint="give the map its own corners_px or points_px, or placement = 'auto'",
        )
    return placement


def even_json(name: str, even: EvenFrame, placement: Placement | None) -> dict[str, Any]:
    """Describe a map for results.json: its file, how it was taken, where the board is in it."""
    taken = even.conditions
    return {
        "file": name,
        "temperature_degc": taken.temperature_degc,
        "u_k": taken.u_k,
        "reflected_degc": taken.reflected_degc,
        "u_reflected_k": taken.u_reflected_k,
        "same_session": taken.same_session,
        "placement": None if placement is None else placement_json(placement),
    }
