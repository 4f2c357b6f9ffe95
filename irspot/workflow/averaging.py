"""Frames of a recording summed one at a time, and the mean they become."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from irspot.errors import FrameUnreadable
from irspot.frame import Frame, FrameSource


@dataclass(frozen=True, slots=True, eq=False)
class Average:
    """Mean temperatures; what was clipped in any frame, at the upper and the lower end; mean uncertainty of decoding.

    Decoding errs alike in all frames (the same bar, the same path), so that averaging does not make it smaller.
    """

    degc: NDArray[np.float32]
    high: NDArray[np.bool_]
    low: NDArray[np.bool_]
    u_decode_k: NDArray[np.float32] | None


class Summing:
    """Successive frames of a recording, summed as they come.

    A pixel that holds no number in any of the frames holds none in the mean; one that was clipped in any of them is
    known as clipped.

    Parameters
    ----------
    first : int
        Index of the first frame in the recording.
    shape : tuple of int
        Rows and columns of every frame.
    """

    def __init__(self, first: int, shape: tuple[int, int]) -> None:
        self.first = first
        self.shape = shape
        self.count = 0
        self.latest: Frame | None = None
        self._total = np.zeros(shape, np.float64)
        self._high, self._low = np.zeros(shape, np.bool_), np.zeros(shape, np.bool_)
        self._total_u_k = np.zeros(shape, np.float64)
        self._decoded = False

    @property
    def last(self) -> int:
        """Index of the last frame."""
        return self.first + self.count - 1

    def add(self, frame: Frame, degc: NDArray[np.float32]) -> None:
        """Add a frame, and the radiance temperatures it holds."""
        self._total += degc
        _mark_clipped(frame, degc, self._high, self._low)
        if frame.u_decode_k is not None:
            self._decoded = True
            self._total_u_k += frame.u_decode_k
        self.latest = frame
        self.count += 1

    def mean(self) -> Average:
        """Give the mean of at least one frame."""
        u_decode_k = (self._total_u_k / self.count).astype(np.float32) if self._decoded else None
        return Average((self._total / self.count).astype(np.float32), self._high, self._low, u_decode_k)


def _check_size(frame: Frame, others: Summing, index: int, name: str) -> None:
    if frame.shape != others.shape:
        found, wanted = str(frame.shape), str(others.shape)
        raise FrameUnreadable("its frames differ in size", file=name, key=f"frame {index}", found=found, wanted=wanted)


class Watch(Protocol):
    """Tells in which frames of a recording the board is where it was."""

    def still(self, frame: Frame, degc: NDArray[np.float32], index: int) -> bool:
        """Say whether the board is where it was in the frames before; where not, those that follow are held to this."""
        ...


class NoWatch:
    """Takes every frame for still."""

    def still(self, frame: Frame, degc: NDArray[np.float32], index: int) -> bool:
        """See `Watch`."""
        return True


def summed(source: FrameSource, indices: range, name: str, watch: Watch) -> Summing:
    """Sum the frames of a recording over which its board stays where it is.

    Parameters
    ----------
    source : FrameSource
    indices : range
        At least one.
    name : str
        Named in errors.
    watch : Watch

    Returns
    -------
    Summing
        The longest still stretch, or the last one if that has at least half as many frames.

    Raises
    ------
    FrameUnreadable
        If a frame cannot be read, or they differ in size.
    """
    from irspot.radiometry import radiance_temperature

    longest: Summing | None = None
    current: Summing | None = None
    for index in indices:
        frame = source.frame(index)
        if current is not None:
            _check_size(frame, current, index, name)
        degc = radiance_temperature(frame)
        still = watch.still(frame, degc, index)
        if current is None:
            current = Summing(index, frame.shape)
        elif not still:
            longest = current if longest is None or current.count >= longest.count else longest
            current = Summing(index, frame.shape)
        current.add(frame, degc)
    assert current is not None
    return current if longest is None or 2 * current.count >= longest.count else longest


def _mark_clipped(frame: Frame, degc: NDArray[np.float32], high: NDArray[np.bool_], low: NDArray[np.bool_]) -> None:
    """Mark what is clipped: as the frame itself says, at the ends of its numbers, beyond the calibration's range."""
    from irspot.radiometry import falls, range_degc

    for said, marked in ((frame.clipped, high), (frame.clipped_low, low)):
        if said is not None:
            marked |= said
    if frame.stored.dtype.kind in "iu":
        ends = np.iinfo(frame.stored.dtype)
        cold, hot = (ends.max, ends.min) if falls(frame.camera.signal) else (ends.min, ends.max)
        high |= frame.stored == hot
        low |= frame.stored == cold
    if (span := range_degc(frame.camera)) is not None:
        high |= degc >= np.float32(span[1])
        low |= degc <= np.float32(span[0])
