"""From a photo to a frame and back: two placements of one board, joined on the board's plane."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from irspot.errors import UsageError
from irspot.registration.placement import Placement

FloatArray = NDArray[np.float64]


def photo_to_frame(xy_px: FloatArray, photo: Placement, frame: Placement) -> FloatArray:
    """Carry places of a photo into a frame: px of the photo → mm → px of the frame.

    Exact on the board's plane; what stands above it appears elsewhere where the cameras stood apart.

    Parameters
    ----------
    xy_px : ndarray, shape (n, 2)
        px of the upright photo.
    photo, frame : Placement
        Of the same board and side.

    Returns
    -------
    ndarray, shape (n, 2)
        px of the stored frame; NaN where a place does not lie in front of both cameras.

    Raises
    ------
    UsageError
        If one shows the front and the other the rear.
    """
    _check_sides(photo, frame)
    return frame.to_px(photo.to_mm(xy_px))


def frame_to_photo(xy_px: FloatArray, frame: Placement, photo: Placement) -> FloatArray:
    """Carry places of a frame into a photo: the other way round of `photo_to_frame`."""
    _check_sides(photo, frame)
    return photo.to_px(frame.to_mm(xy_px))


def _check_sides(photo: Placement, frame: Placement) -> None:
    if photo.side != frame.side:
        raise UsageError("photo and frame show different sides of the board", found=f"{photo.side} and {frame.side}")
