"""A visible-light photo of a board."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.placing import AUTO, HowToPlace, ImageSide

Rgb = NDArray[np.uint8]

DEFAULT_PHOTO_OPACITY: Final = 0.4
"""Share of a photo in what is shown, where nobody says otherwise: its parts can be told, the colours still read."""


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """A visible-light photo, upright as its file says.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
        Red, green, blue; made read-only.
    name : str
        The file's name.
    """

    rgb: Rgb
    name: str = "photo"

    def __post_init__(self) -> None:
        if self.rgb.ndim != 3 or self.rgb.shape[2] != 3 or self.rgb.dtype != np.uint8 or not self.rgb.size:
            raise ValueError(f"a photo is rows × columns × 3 of uint8, not {self.rgb.shape} of {self.rgb.dtype}")
        view = self.rgb.view()
        view.flags.writeable = False
        object.__setattr__(self, "rgb", view)

    @property
    def size_px(self) -> tuple[int, int]:
        """``(columns, rows)``."""
        return self.rgb.shape[1], self.rgb.shape[0]


@dataclass(frozen=True, slots=True)
class PhotoWish:
    """How somebody wants the board placed in a photo, and the photo shown beneath the colours.

    Parameters
    ----------
    how : CornersPx, PointsPx or AutoPlacement
    top : {"up", "right", "down", "left"} or None
        Side of the photo that the board's top edge faces.
    opacity : float
        Share of the photo in what is shown: 0 for the colours alone, 1 for the photo alone.
    """

    how: HowToPlace = AUTO
    top: ImageSide | None = None
    opacity: float = DEFAULT_PHOTO_OPACITY


DEFAULT_PHOTO_WISH = PhotoWish()
"""Found in the photo, shown as strongly as usual."""
