"""A finished picture: pixels, and the PNG made of them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from irspot.atomic import write_atomic
from irspot.errors import IrspotError
from irspot.opencv import load_cv2
from irspot.rendering.png_text import with_text

_PNG_LEVEL = 1
"""Levels above pack a third smaller and take twice as long."""


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A picture.

    Parameters
    ----------
    array : ndarray of uint8, shape (height, width, 3) or (height, width, 4)
        Red, green, blue, and where it is to lie over others its alpha (straight: colours are not multiplied by it);
        made read-only.
    texts : tuple of str
        Every piece of text that was set on it.
    alt : str
        What it shows, in words, for those who do not see it; goes into the PNG.
    """

    array: NDArray[np.uint8]
    texts: tuple[str, ...] = ()
    alt: str = ""

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
        swap = cv2.COLOR_RGBA2BGRA if self.array.shape[2] == 4 else cv2.COLOR_RGB2BGR
        packed, data = cv2.imencode(".png", cv2.cvtColor(self.array, swap), settings)
        if not packed:
            raise IrspotError("the picture could not be packed as PNG")
        return with_text(bytes(data), "Description", self.alt) if self.alt else bytes(data)

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
