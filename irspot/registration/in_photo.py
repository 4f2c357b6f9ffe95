"""Where the board is in a visible-light photo."""

from __future__ import annotations

from irspot.board import Board, Side
from irspot.camera import NO_OPTICS, Optics
from irspot.photo import Photo
from irspot.placing import AUTO, AutoPlacement, HowToPlace, ImageSide
from irspot.registration.placement import Placement


def place_in_photo(
    photo: Photo,
    board: Board,
    how: HowToPlace = AUTO,
    *,
    side: Side = "front",
    top: ImageSide | None = None,
    optics: Optics = NO_OPTICS,
    file: str = "",
) -> Placement:
    """Say where a board is in a photo.

    Parameters
    ----------
    photo : Photo
    board : Board
    how : CornersPx, PointsPx or AutoPlacement
        Places count in px of the upright photo.
    side : {"front", "rear"}
    top : {"up", "right", "down", "left"}, optional
        Side of the photo that the board's top edge faces.
    optics : Optics
        Of the camera that took the photo, where its distortion is known.
    file : str
        Named in refusals; the photo's name where not given.

    Returns
    -------
    Placement

    Raises
    ------
    PlacementRefused
        With the reason.
    """
    name = file or photo.name
    if isinstance(how, AutoPlacement):
        from irspot.registration.find_in_photo import find_in_photo

        return find_in_photo(photo, board, optics, side=side, top=top, file=name)
    from irspot.registration.by_hand import place

    return place(board, photo.size_px, optics, how, side=side, top=top, file=name)
