"""The library's few verbs over values: decode, place, measure, picture."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from irspot.board import Board, Side
from irspot.camera import NO_CAMERA, NO_OPTICS, Camera, Optics
from irspot.conditions import Conditions
from irspot.constants import DEFAULT_U_AMBIENT_K, DEFAULT_U_EVEN_K, DEFAULT_U_REFLECTED_K
from irspot.errors import UsageError
from irspot.even_frame import EvenConditions
from irspot.frame import Frame
from irspot.photo import DEFAULT_PHOTO_OPACITY, Photo
from irspot.placing import AutoPlacement, CornersPx, HowToPlace, ImageSide, PointsPx
from irspot.results import Reading

if TYPE_CHECKING:
    from irspot.measurement import EmissivityMap
    from irspot.registration.placement import Placement
    from irspot.rendering import Picture


def decode_frame(
    path: str | os.PathLike[str],
    camera: Camera = NO_CAMERA,
    *,
    low_degc: float | None = None,
    high_degc: float | None = None,
    ambient_degc: float | None = None,
) -> Frame:
    """Read a picture with a colour bar as a temperature frame.

    Parameters
    ----------
    path : path-like
        PNG, JPEG, BMP, 8-bit TIFF.
    camera : Camera
        Its ``[colorbar]`` table may say where the bar is.
    low_degc, high_degc : float, optional
        Temperatures of the bar's ends. Without them the printed numbers are read, with the extra ``ocr``, and taken
        only where they are certain.
    ambient_degc : float, optional
        Supports, or contradicts, printed numbers.

    Returns
    -------
    Frame
        NaN where nothing could be decoded; ``u_decode_k`` holds the standard uncertainty of each pixel.

    Raises
    ------
    FrameUnreadable
        If the file is no picture that can be read.
    BarRefused
        If the bar, or its numbers, are not certain.
    UsageError
        If one end is given without the other.
    """
    from irspot.color_wish import ColorWish, scale_of
    from irspot.workflow.color_frames import color_frame, decode_file

    wish = ColorWish(scale_of(low_degc, high_degc, ()), ambient_degc=ambient_degc)
    return color_frame(decode_file(Path(path), camera, wish), camera, Path(path))


def place(
    frame: Frame,
    board: Board,
    *,
    side: Side = "front",
    top: ImageSide | None = None,
    corners_px: Sequence[tuple[float, float]] | None = None,
    points_px: Mapping[str, tuple[float, float]] | None = None,
) -> Placement:
    """Say where the board is in a frame.

    Parameters
    ----------
    frame : Frame
    board : Board
    side : {"front", "rear"}
    top : {"up", "right", "down", "left"}, optional
        Image side the board's top edge faces.
    corners_px : sequence of (float, float), optional
        One point for each corner of the outline, in its order.
    points_px : mapping of str to (float, float), optional
        Places of marks, by mark id.

    Returns
    -------
    Placement

    Raises
    ------
    PlacementRefused
        With the reason.
    UsageError
        If both corners and points are given.
    """
    from irspot.registration import place_frame

    how = how_to_place(corners_px, points_px)
    return place_frame(frame, board, how, side=side, top=top)


def place_photo(
    photo: Photo,
    board: Board,
    *,
    side: Side = "front",
    top: ImageSide | None = None,
    corners_px: Sequence[tuple[float, float]] | None = None,
    points_px: Mapping[str, tuple[float, float]] | None = None,
    optics: Optics = NO_OPTICS,
) -> Placement:
    """Say where the board is in a visible-light photo.

    Parameters
    ----------
    photo : Photo
        From `read_photo`.
    board : Board
    side : {"front", "rear"}
    top : {"up", "right", "down", "left"}, optional
        Side of the photo that the board's top edge faces.
    corners_px : sequence of (float, float), optional
        One point for each corner of the outline, in its order, in px of the upright photo.
    points_px : mapping of str to (float, float), optional
        Places of marks, by mark id.
    optics : Optics, optional
        Of the camera that took the photo, where its distortion is known.

    Returns
    -------
    Placement

    Raises
    ------
    PlacementRefused
        With the reason.
    UsageError
        If both corners and points are given.
    """
    from irspot.registration.in_photo import place_in_photo

    return place_in_photo(photo, board, how_to_place(corners_px, points_px), side=side, top=top, optics=optics)


def place_by_photo(
    frame: Frame, board: Board, photo: Photo, photo_placement: Placement, *, top: ImageSide | None = None
) -> Placement:
    """Say where the board is in a frame by what the frame shares with a photo of the same view.

    For frames whose parts show while the board's edge does not.

    Parameters
    ----------
    frame : Frame
    board : Board
    photo : Photo
        From beside the thermal camera.
    photo_placement : Placement
        Of the board in the photo (`place_photo`).
    top : {"up", "right", "down", "left"}, optional
        Side of the frame that the board's top edge faces; that of the photo where not given.

    Returns
    -------
    Placement

    Raises
    ------
    PlacementRefused
        With the reason.
    """
    from irspot.registration.by_photo import place_frame_by

    return place_frame_by(frame, board, photo, photo_placement, top=top)


def how_to_place(
    corners_px: Sequence[tuple[float, float]] | None, points_px: Mapping[str, tuple[float, float]] | None
) -> HowToPlace:
    """Turn what was given into one way of placing.

    Raises
    ------
    UsageError
        If both corners and points are given.
    """
    given = corners_px is not None and len(corners_px) > 0  # an array has no truth of its own
    if given and points_px:
        raise UsageError("corners and points contradict one another", hint="give either corners or points")
    if corners_px is not None and given:
        return CornersPx(tuple((float(x), float(y)) for x, y in corners_px))
    if points_px:
        return PointsPx(tuple((mark, float(x), float(y)) for mark, (x, y) in points_px.items()))
    return AutoPlacement()


def take_off_pattern(frame: Frame, cold_frame: Frame, *, ambient_degc: float | None = None) -> Frame:
    """Take the camera's own pattern off a frame.

    Parameters
    ----------
    frame : Frame
    cold_frame : Frame
        Of an even wall, the lens cap or the unpowered board at room temperature, by the same camera in the same range
        and session; the mean of several is better.
    ambient_degc : float, optional
        What the cold frame must be near.

    Returns
    -------
    Frame
        To be measured and drawn in place of the other; its readings are flagged ``pattern-removed``.

    Raises
    ------
    ColdFrameRefused
        If the cold frame is not cold, shows a scene, or is not of this frame's size.
    """
    from irspot.measurement.cold_frame import pattern_of
    from irspot.workflow.camera_state import with_pattern

    pattern = pattern_of(cold_frame, Conditions(ambient_degc=ambient_degc))
    return with_pattern(frame, pattern, cold_frame.name)


def measure(
    frame: Frame,
    board: Board,
    placement: Placement,
    *,
    ambient_degc: float | None = None,
    u_ambient_k: float = DEFAULT_U_AMBIENT_K,
    reflected_degc: float | None = None,
    u_reflected_k: float = DEFAULT_U_REFLECTED_K,
    transmission: float = 1.0,
    u_transmission: float = 0.0,
    window_degc: float | None = None,
    emissivity_map: EmissivityMap | None = None,
    cold_frame: Frame | None = None,
    camera_on_min: float | None = None,
) -> tuple[Reading, ...]:
    """Measure every zone of the side that the placement shows, and ``elsewhere``.

    A board's references correct the camera's error.

    Parameters
    ----------
    frame : Frame
    board : Board
    placement : Placement
    ambient_degc, u_ambient_k, reflected_degc, u_reflected_k, transmission, u_transmission, window_degc
        See `irspot.conditions.Conditions`.
    emissivity_map : EmissivityMap, optional
        From `map_emissivity`: gives every pixel its emissivity.
    cold_frame : Frame, optional
        See `take_off_pattern`, whose frame is what `picture` then needs.
    camera_on_min : float, optional
        How long the camera had been on; less than its warm-up doubles its limits.

    Returns
    -------
    tuple of Reading

    Raises
    ------
    ColdFrameRefused
        If the cold frame cannot tell the camera's pattern.
    MapRefused
        If the map is of another camera or view.
    """
    from irspot.measurement import measure_zones
    from irspot.measurement.warm_up import with_warm_up

    conditions = Conditions(
        ambient_degc, u_ambient_k, reflected_degc, u_reflected_k, transmission, u_transmission, window_degc
    )
    if cold_frame is not None:
        frame = take_off_pattern(frame, cold_frame, ambient_degc=ambient_degc)
    return measure_zones(with_warm_up(frame, camera_on_min), board, placement, conditions, emissivity_map)


def map_emissivity(
    frame: Frame,
    board: Board,
    placement: Placement,
    *,
    temperature_degc: float,
    reflected_degc: float,
    u_k: float = DEFAULT_U_EVEN_K,
    u_reflected_k: float = DEFAULT_U_REFLECTED_K,
    transmission: float = 1.0,
    window_degc: float | None = None,
    same_session: bool = False,
) -> EmissivityMap:
    """Make an emissivity map from a frame of the unpowered board, held evenly warm.

    Parameters
    ----------
    frame : Frame
    board : Board
    placement : Placement
        Of the board in that frame.
    temperature_degc, u_k : float
        Of the board by a thermometer, at least 20 K above what it reflects; unevenness is part of the uncertainty.
    reflected_degc, u_reflected_k : float
        Reflected temperature then.
    transmission, window_degc : float
        Of window and path; those of the frames that are measured.
    same_session : bool
        Whether the camera stayed on until these were taken, so that its error is the same in all.

    Returns
    -------
    EmissivityMap

    Raises
    ------
    MapRefused
        With the reason.
    """
    from irspot.measurement import emissivity_map_of

    window = reflected_degc if window_degc is None else window_degc
    taken = EvenConditions(
        temperature_degc, u_k, reflected_degc, u_reflected_k, transmission, window, same_session=same_session
    )
    return emissivity_map_of(frame, board, placement, taken)


def picture(
    frame: Frame,
    board: Board,
    placement: Placement,
    readings: Sequence[Reading],
    *,
    scale_degc: tuple[float, float] | None = None,
    cmap: str = "inferno",
    size: tuple[int, int] = (1920, 1080),
    load: str = "",
    photo: Photo | None = None,
    photo_placement: Placement | None = None,
    photo_opacity: float = DEFAULT_PHOTO_OPACITY,
    emissivity_map: EmissivityMap | None = None,
) -> Picture:
    """Draw a frame with its zones, hot spots and readings.

    Parameters
    ----------
    frame : Frame
    board : Board
    placement : Placement
    readings : sequence of Reading
        Of this frame; the picture says what they say.
    scale_degc : tuple of float, optional
        Ends of the colour scale; default from the frame.
    cmap : str
        A colour map of matplotlib.
    size : tuple of int
        Width and height in px.
    load : str
        A line under the title.
    photo : Photo, optional
        Shown in grey beneath the colours.
    photo_placement : Placement, optional
        Of the board in the photo (`place_photo`); goes with `photo`.
    photo_opacity : float
        Share of the photo in what is shown: 0 for the colours alone, 1 for the photo alone.
    emissivity_map : EmissivityMap, optional
        The one the readings were made with.

    Returns
    -------
    Picture
        With ``save(path)`` and ``png_bytes()``.

    Raises
    ------
    UsageError
        For a photo without its placement or the reverse, another side than the frame's, an opacity that is no share, or
        a frame that still has the pattern which was taken off before it was measured.
    """
    from irspot.measurement import surface_map
    from irspot.measurement.warm_up import with_warm_up
    from irspot.rendering import Underlay, auto_scale, heat_picture
    from irspot.workflow.draw_run import caption_of
    from irspot.workflow.measure_run import robust_extremes

    if frame.pattern is None and any("pattern-removed" in reading.flags for reading in readings):
        hint = "draw what take_off_pattern(frame, cold_frame) gives"
        raise UsageError("the readings are of this frame without the camera's pattern", file=frame.name, hint=hint)
    if any("camera-warming" in reading.flags for reading in readings):
        frame = with_warm_up(frame, 0.0)  # what references may correct depends on it
    conditions = readings[-1].conditions if readings else Conditions()
    shown = surface_map(frame, board, placement, conditions, emissivity_map)
    scale = scale_degc or auto_scale([robust_extremes(shown, tuple(readings))])
    caption = caption_of(board, load, placement.side, conditions, frame, mapped=emissivity_map is not None)
    if (photo is None) != (photo_placement is None):
        raise UsageError("a photo and its placement go together", hint="place it with place_photo(photo, board, ...)")
    return heat_picture(
        shown,
        board,
        placement,
        readings,
        caption=caption,
        scale_degc=scale,
        cmap=cmap,
        size=size,
        underlay=Underlay(photo, photo_placement, photo_opacity) if photo and photo_placement else None,
    )
