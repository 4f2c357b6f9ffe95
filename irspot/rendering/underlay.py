"""A photo beneath the colours: warped onto the frame's view through two placements of one board, in grey, blended.

The frame stays as it is; only the photo is resampled. Places meet on the board's plane: what stands above it, or lies
below, appears shifted where the two cameras stood apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.errors import UsageError
from irspot.opencv import load_cv2
from irspot.photo import Photo
from irspot.registration.between import frame_to_photo
from irspot.registration.placement import Placement

F32 = NDArray[np.float32]
Rgb = NDArray[np.uint8]
Bool = NDArray[np.bool_]

_NODE_PX: Final = 16
"""The mapping is worked out at nodes so far apart, and is straight between them to a hundredth of a pixel."""
_FAR: Final = -1e6
"""Where a place that the photo cannot show is read: outside it."""


@dataclass(frozen=True, slots=True)
class Underlay:
    """A photo to show beneath the colours.

    Parameters
    ----------
    photo : Photo
    placement : Placement
        Of the same board, same side, in the photo.
    opacity : float
        Share of the photo in every colour shown, 0 to 1.

    Raises
    ------
    UsageError
        If the opacity is no share.
    """

    photo: Photo
    placement: Placement
    opacity: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.opacity <= 1.0:
            raise UsageError("the photo's opacity must lie between 0 and 1", found=f"{self.opacity:g}")

    @property
    def line(self) -> str:
        """What a picture says about it."""
        return f"beneath the colours {self.opacity:.0%} of photo {self.photo.name}, in grey".replace("%", " %")


def blend(colors: Rgb, keep: Bool, underlay: Underlay, placement: Placement, frame_shape: tuple[int, int]) -> None:
    """Blend a photo into a frame's colours, in place: ``(1 - opacity) colour + opacity grey``.

    Parameters
    ----------
    colors : ndarray of uint8, shape (height, width, 3)
        The frame at the size it is shown.
    keep : ndarray of bool, shape (height, width)
        What stays as it is.
    underlay : Underlay
    placement : Placement
        Of the board in the frame.
    frame_shape : tuple of int
        ``(rows, columns)`` of the frame.
    """
    grey, shown = photo_on_frame(underlay, placement, colors.shape[:2], frame_shape)
    where = shown & ~keep
    share = np.float32(underlay.opacity)
    mixed = (np.float32(1.0) - share) * colors[where] + share * grey[where][:, None]
    colors[where] = np.rint(mixed).astype(np.uint8)


def photo_on_frame(
    underlay: Underlay, placement: Placement, shown_shape: tuple[int, ...], frame_shape: tuple[int, int]
) -> tuple[F32, Bool]:
    """Warp a photo onto a frame's view.

    Parameters
    ----------
    underlay : Underlay
    placement : Placement
        Of the board in the frame.
    shown_shape : tuple of int
        ``(height, width)`` at which the frame is shown.
    frame_shape : tuple of int
        ``(rows, columns)`` of the frame.

    Returns
    -------
    grey : ndarray of float32, shape (height, width)
        Luma, 0 to 255.
    shown : ndarray of bool, shape (height, width)
        Where the photo reaches.
    """
    cv2 = load_cv2()
    x, y = _places(underlay, placement, shown_shape, frame_shape)
    columns, rows = underlay.photo.size_px
    shown: Bool = np.logical_and.reduce((x >= -0.5, x <= columns - 0.5, y >= -0.5, y <= rows - 0.5))
    grey = cv2.cvtColor(underlay.photo.rgb, cv2.COLOR_RGB2GRAY)
    factor = _photo_px_per_px(x, y, shown)
    if factor > 1:
        # Means of whole blocks: reading single pixels of a large photo would make its fine detail swim.
        size = (max(1, columns // factor), max(1, rows // factor))
        grey = cv2.resize(grey[: size[1] * factor, : size[0] * factor], size, interpolation=cv2.INTER_AREA)
        half, share = np.float32(0.5), np.float32(1.0 / factor)
        x, y = (x + half) * share - half, (y + half) * share - half
    read = cv2.remap(grey.astype(np.float32), x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(read), shown


def _places(
    underlay: Underlay, placement: Placement, shown_shape: tuple[int, ...], frame_shape: tuple[int, int]
) -> tuple[F32, F32]:
    """Where in the photo each pixel shown lies: worked out at nodes, straight between them."""
    cv2 = load_cv2()
    height, width = shown_shape[0], shown_shape[1]
    counts = [-(-length // _NODE_PX) + 2 for length in (width, height)]
    x_share, y_share = (
        (np.arange(count) - 0.5) * _NODE_PX / length for count, length in zip(counts, (width, height), strict=True)
    )
    nodes = np.stack(np.meshgrid(x_share * frame_shape[1] - 0.5, y_share * frame_shape[0] - 0.5), axis=-1).reshape(
        -1, 2
    )
    places = frame_to_photo(nodes, placement, underlay.placement)
    places = np.where(np.all(np.isfinite(places), axis=1, keepdims=True), places, _FAR).astype(np.float32)
    size = (counts[0] * _NODE_PX, counts[1] * _NODE_PX)
    inner = slice(_NODE_PX, _NODE_PX + height), slice(_NODE_PX, _NODE_PX + width)
    maps = [
        np.ascontiguousarray(
            cv2.resize(places[:, axis].reshape(counts[1], counts[0]), size, interpolation=cv2.INTER_LINEAR)[inner]
        )
        for axis in range(2)
    ]
    return maps[0], maps[1]


def _photo_px_per_px(x: F32, y: F32, shown: Bool) -> int:
    """How many pixels of the photo meet one pixel shown, along a side: root of the median area."""
    if min(x.shape) < 2:
        return 1
    right_x, right_y = np.diff(x, axis=1)[:-1], np.diff(y, axis=1)[:-1]
    down_x, down_y = np.diff(x, axis=0)[:, :-1], np.diff(y, axis=0)[:, :-1]
    areas = np.abs(right_x * down_y - right_y * down_x)[shown[:-1, :-1]]
    return max(1, round(float(np.sqrt(np.median(areas))))) if areas.size else 1
