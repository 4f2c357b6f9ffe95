"""One infrared image, as stored, with what is needed to read it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, timezone
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Camera
from irspot.camera_error import Held, Pattern


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """One infrared image: a 2-D array of stored numbers, its camera and its time.

    Parameters
    ----------
    stored : ndarray, shape (rows, columns)
        Numbers as stored (integers or floats), made read-only; NaN where nothing was measured.
    camera : Camera
        Turns them into radiance temperatures (`irspot.radiometry.radiance_temperature`).
    name : str
        How tables name the frame: the file's name, with ``#index`` for one of several in a file.
    time_utc : datetime or None
        When it was taken, aware and in UTC.
    time_local : datetime or None
        When it was taken by a clock whose zone is not known, naive.
    notes : tuple of str
        What the reader found out and states: separator, decimal comma, ...
    averaged : int
        How many frames were averaged into this one.
    noise_k : float or None
        Standard deviation of a pixel, where it differs from the camera's (averaged frames).
    flags : tuple of str
        Flags that every reading of this frame carries.
    clipped : ndarray of bool, shape (rows, columns), or None
        Pixels known to stand at the upper end of what could be recorded, where the stored numbers no longer tell.
    clipped_low : ndarray of bool, shape (rows, columns), or None
        The same at the lower end.
    u_decode_k : ndarray of float32, shape (rows, columns), or None
        Standard uncertainty of each pixel's decoding from a colour-mapped picture, as radiance temperature.
    pattern : Pattern or None
        The camera's, taken off before anything is measured.
    held : Held or None
        What patches of known temperature in the frame say; a frame is held against them once.
    """

    stored: NDArray[Any]
    camera: Camera
    name: str
    time_utc: datetime | None = None
    time_local: datetime | None = None
    notes: tuple[str, ...] = ()
    averaged: int = 1
    noise_k: float | None = None
    flags: tuple[str, ...] = ()
    clipped: NDArray[np.bool_] | None = None
    clipped_low: NDArray[np.bool_] | None = None
    u_decode_k: NDArray[np.float32] | None = None
    pattern: Pattern | None = None
    held: Held | None = None

    def __post_init__(self) -> None:
        if self.stored.ndim != 2:
            raise ValueError(f"a frame is two-dimensional, not {self.stored.shape}")
        if self.time_utc is not None and self.time_utc.tzinfo is None:
            raise ValueError("time_utc must be aware")
        view = self.stored.view()
        view.flags.writeable = False
        object.__setattr__(self, "stored", view)

    @property
    def shape(self) -> tuple[int, int]:
        """``(rows, columns)``."""
        return self.stored.shape[0], self.stored.shape[1]

    @property
    def time_text(self) -> str:
        """UTC time as ISO 8601 with ``Z``, milliseconds only where there are any; empty if unknown."""
        if self.time_utc is None:
            return ""
        spec = "milliseconds" if self.time_utc.microsecond else "seconds"
        return self.time_utc.astimezone(UTC).replace(tzinfo=None).isoformat(timespec=spec) + "Z"

    def with_utc_offset(self, offset: timedelta | None) -> Frame:
        """Complete a local time with the zone it was taken in; None, where nobody stated it, leaves it local."""
        if offset is None or self.time_utc is not None or self.time_local is None:
            return self
        return replace(self, time_utc=self.time_local.replace(tzinfo=timezone(offset)).astimezone(UTC))


class FrameSource(Protocol):
    """A file (or an array) of one or many frames, read one at a time."""

    @property
    def count(self) -> int:
        """Number of frames."""
        ...

    def frame(self, index: int) -> Frame:
        """Read one frame.

        Raises
        ------
        FrameUnreadable
            If its bytes are not what the header promised.
        """
        ...


@dataclass(frozen=True, slots=True)
class FrameList:
    """A `FrameSource` of frames already in memory."""

    frames: tuple[Frame, ...]

    @property
    def count(self) -> int:
        """Number of frames."""
        return len(self.frames)

    def frame(self, index: int) -> Frame:
        """Give one frame."""
        return self.frames[index]


def degc_frame(temperature_degc: NDArray[np.floating[Any]], name: str = "array", camera: Camera | None = None) -> Frame:
    """Make a frame from radiance temperatures in °C.

    Parameters
    ----------
    temperature_degc : ndarray, shape (rows, columns)
        NaN where not measured.
    name : str
    camera : Camera, optional
        For band, optics and accuracy; its signal is replaced.
    """
    return Frame(np.asarray(temperature_degc), (camera or Camera(name="array")).storing_degc(), name)
