"""A picture laid out for the search of bars: planes by row and by column, so that both run through memory in order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Rgb
from irspot.opencv import load_cv2

U8 = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class UprightView:
    """A picture in which upright bars are looked for.

    Parameters
    ----------
    ycc_rows : ndarray of uint8, shape (3, rows, columns)
        Y, Cr and Cb.
    ycc_columns : ndarray of uint8, shape (3, columns, rows)
        The same, column by column.
    rgb_columns : ndarray of uint8, shape (3, columns, rows)
    """

    ycc_rows: U8
    ycc_columns: U8
    rgb_columns: U8

    @property
    def rows(self) -> int:
        """Number of rows."""
        return int(self.ycc_rows.shape[1])

    @property
    def columns(self) -> int:
        """Number of columns."""
        return int(self.ycc_rows.shape[2])


def views_of(rgb: Rgb) -> tuple[UprightView, UprightView]:
    """Lay a picture out as it is, and transposed, so that its lying bars are upright.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
    """
    cv2 = load_cv2()
    whole = np.ascontiguousarray(rgb)
    rgb_rows, rgb_columns = _planes(whole)
    ycc_rows, ycc_columns = _planes(cv2.cvtColor(whole, cv2.COLOR_RGB2YCrCb))
    return UprightView(ycc_rows, ycc_columns, rgb_columns), UprightView(ycc_columns, ycc_rows, rgb_rows)


def _planes(picture: U8) -> tuple[U8, U8]:
    """Split a picture's channels: planes by row and by column."""
    cv2 = load_cv2()
    rows, columns = picture.shape[:2]
    by_row, by_column = np.empty((3, rows, columns), np.uint8), np.empty((3, columns, rows), np.uint8)
    for channel in range(3):
        cv2.extractChannel(picture, channel, by_row[channel])
        cv2.transpose(by_row[channel], by_column[channel])
    return by_row, by_column
