"""What some sources tell besides their frames: when all were taken, and where their numbers lie bare in a file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.frame import FrameSource
from irspot.readers.times import Taken


@dataclass(frozen=True, slots=True, eq=False)
class Plain:
    """Frames that lie in one file as they are: nothing packed, every row whole, one row after another.

    Parameters
    ----------
    path : Path
    dtype : numpy.dtype
        As stored, of any byte order.
    shape : tuple of int
        ``(rows, columns)``.
    offsets : ndarray of int64, shape (count,)
        Where each frame begins in the file, rising.
    """

    path: Path
    dtype: np.dtype[Any]
    shape: tuple[int, int]
    offsets: NDArray[np.int64]

    @property
    def frame_bytes(self) -> int:
        """Bytes of one frame."""
        return self.shape[0] * self.shape[1] * self.dtype.itemsize


def evenly(start: int, count: int, end: int) -> NDArray[np.int64]:
    """Give the places of frames that fill a file from a place to its end."""
    return np.arange(count, dtype=np.int64) * ((end - start) // count) + start


def taken_of(source: FrameSource) -> Iterator[Taken]:
    """Say when each frame of a source was taken, without reading pixels where the source can."""
    taken = getattr(source, "taken", None)
    if taken is not None:
        yield from taken()
        return
    for index in range(source.count):
        frame = source.frame(index)
        yield Taken(frame.time_utc, frame.time_local)


def plain_of(source: FrameSource) -> Plain | None:
    """Say where a source's frames lie bare in a file; None where they do not, or the source cannot tell."""
    plain = getattr(source, "plain", None)
    return None if plain is None else plain()
