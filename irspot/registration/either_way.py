"""Place a board in a frame in the way somebody wants: by given points, or found in the frame itself."""

from __future__ import annotations

from irspot.board import Board, Side
from irspot.frame import Frame
from irspot.placing import AutoPlacement, HowToPlace, ImageSide
from irspot.registration.placement import Placement


def place_frame(
    frame: Frame, board: Board, how: HowToPlace, *, side: Side = "front", top: ImageSide | None = None, file: str = ""
) -> Placement:
    """Say where a board is in a frame.

    Parameters
    ----------
    frame : Frame
        Its temperatures count only where the board is to be found in them.
    board : Board
    how : CornersPx, PointsPx or AutoPlacement
    side : {"front", "rear"}
    top : {"up", "right", "down", "left"}, optional
        Image side the board's top edge faces.
    file : str
        Named in refusals; the frame's name where not given.

    Returns
    -------
    Placement

    Raises
    ------
    PlacementRefused
        With the reason.
    """
    optics, name = frame.camera.optics, file or frame.name
    size_px = (frame.shape[1], frame.shape[0])
    if not isinstance(how, AutoPlacement):
        from irspot.registration.by_hand import place

        return place(board, size_px, optics, how, side=side, top=top, file=name)
    from irspot.radiometry import radiance_temperature
    from irspot.registration.find_board import find_board

    noise_k = frame.camera.accuracy.noise_k
    return find_board(radiance_temperature(frame), board, optics, side=side, top=top, noise_k=noise_k, file=name)
