"""A video's bar, read once: its path is kept for the pictures that show the same bar in the same place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Bar
from irspot.decoding.path import ColorPath, lossy_path
from irspot.decoding.picture import ColorPicture

F32 = NDArray[np.float32]

_CELLS: Final = 16
_DRIFT: Final = 1.5
"""Change of a cell's mean colour that coding alone makes, or as much as the noise of the bar's pixels."""
_SHIFT_PX: Final = 0.4
"""Movement along the bar from which its places are others."""
_SIDE_CHANGE: Final = 8.0
"""Mean change of luma in one line along the bar: it moved sideways, or something covers it. Coding leaves 1 to 3."""


@dataclass(frozen=True, slots=True, eq=False)
class KnownBar:
    """A bar that was found in one picture of a video, ready for decoding others.

    Parameters
    ----------
    bar : Bar
    path : ColorPath
    lines : ndarray of float32, shape (across, along, 3)
        Luma and chroma of its box as they were then, from low to high.
    """

    bar: Bar
    path: ColorPath
    lines: F32

    @classmethod
    def of(cls, picture: ColorPicture, bar: Bar) -> KnownBar:
        """Read a bar's colours in a picture that went through a lossy coding."""
        return cls(bar, lossy_path(picture, bar), _lines(picture, bar))

    def is_in(self, picture: ColorPicture) -> bool:
        """Say whether a picture shows the same colours in the same place, so that the path holds for it.

        A bar that moved by a pixel, got other colours or is covered in part differs somewhere by more than coding
        does; it has to be found anew.
        """
        if picture.ycc is None or not _holds(picture, self.bar):
            return False
        change = _lines(picture, self.bar) - self.lines
        bound = max(_DRIFT, self.path.noise)
        if np.abs(change[..., 0]).mean(axis=1).max() > _SIDE_CHANGE:
            return False
        along = change.mean(axis=0)
        cells = np.array([part.mean(axis=0) for part in np.array_split(along, _CELLS)])
        return bool(np.abs(cells).max() <= bound and abs(_moved_px(self.lines.mean(axis=0), along)) <= _SHIFT_PX)


def _holds(picture: ColorPicture, bar: Bar) -> bool:
    rows, columns = picture.shape
    return bar.box_px[2] <= columns and bar.box_px[3] <= rows


def _lines(picture: ColorPicture, bar: Bar) -> F32:
    assert picture.ycc is not None
    x0, y0, x1, y1 = bar.box_px
    part = picture.ycc[y0:y1, x0:x1].astype(np.float32)
    lines = part.transpose(1, 0, 2) if bar.vertical else part
    return lines if bar.low_end in ("top", "left") else lines[:, ::-1]


def _moved_px(colors: F32, change: F32) -> float:
    """How far colours moved along a bar, by least squares: ``change = -slope * moved``."""
    slope = np.gradient(colors, axis=0)
    return float(-np.sum(slope * change) / max(float(np.sum(slope * slope)), 1e-6))
