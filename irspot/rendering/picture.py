"""A finished picture: pixels, and the PNG made of them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from irspot.atomic import write_atomic
from irspot.errors import IrspotError
from irspot.opencv import load_cv2

_PNG_LEVEL = 1
"""Levels above pack a third smaller and take twice as long."""


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A picture.

    Parameters
    ----------
    array : ndarray of uint8, shape (height, width, 3)
        Red, green, blue; made read-only.
    """

    array: NDArray[np.uint8]

    def __post_init__(self) -> None:
        view = self.array.view()
        view.flags.writeable = False
        object.__setattr__(self, "array", view)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height, px."""
        return self.array.shape[1], self.array.shape[0]

    def png_bytes(self) -> bytes:
        """Pack as PNG, the same bytes each time."""
        cv2 = load_cv2()
        settings = [cv2.IMWRITE_PNG_COMPRESSION, _PNG_LEVEL]
        if hasattr(cv2, "IMWRITE_PNG_FILTER"):  # since OpenCV 4.12
            # A colour map has few colours, which repeat exactly: differences of neighbours only hide that.
            settings += [cv2.IMWRITE_PNG_FILTER, cv2.IMWRITE_PNG_FILTER_NONE]
        packed, data = cv2.imencode(".png", cv2.cvtColor(self.array, cv2.COLOR_RGB2BGR), settings)
        if not packed:
            raise IrspotError("the picture could not be packed as PNG")
        return bytes(data)

    def save(self, path: str | Path) -> None:
        """Write the picture as PNG, whole or not at all.

        Parameters
        ----------
        path : str or Path

        Raises
        ------
        OutputRefused
            If it cannot be written.
        """
        write_atomic(Path(path), self.png_bytes())
