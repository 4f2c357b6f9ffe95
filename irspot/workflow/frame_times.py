"""When the frames of a recording were taken, in seconds from the first, without reading a pixel where that can be.

TIFF times have whole seconds, so that several frames share a stamp: they are spread evenly from that second to the
next. The first and the last second of a recording are rarely whole; as many frames are taken for a whole one as most
seconds have.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.errors import FrameUnreadable
from irspot.frame import FrameSource
from irspot.readers.plain import taken_of

FloatArray = NDArray[np.float64]

_STAMP_S: Final = 1.0
"""How coarse stamps are: frames of one stamp were taken within so long."""


@dataclass(frozen=True, slots=True, eq=False)
class FrameTimes:
    """When the frames of a recording were taken.

    Parameters
    ----------
    time_s : ndarray, shape (count,)
        Seconds from the first frame.
    spread : bool
        Whether frames shared stamps and were spread evenly.
    stamps : int
        Different times that the frames carry; 0 where only an interval tells.
    """

    time_s: FloatArray
    spread: bool = False
    stamps: int = 0

    @property
    def flags(self) -> tuple[str, ...]:
        """What is worth knowing about the times."""
        return ("times-spread",) if self.spread else ()


def frame_times(source: FrameSource, frame_interval_s: float | None) -> FrameTimes | None:
    """Find out when the frames of a recording were taken, by their own times or else by the interval.

    One time for all frames (a file stamped once) is as good as none where there is an interval. Frames without a time
    follow the one before by the interval.

    Parameters
    ----------
    source : FrameSource
    frame_interval_s : float or None

    Returns
    -------
    FrameTimes or None
        None where nothing says when they were taken.
    """
    if (known := getattr(source, "times_s", None)) is not None:
        # A video says when its pictures were shown, whatever its name says.
        seconds = np.asarray(known, np.float64)
        return FrameTimes(seconds - seconds[0], stamps=len(seconds))
    stamped = _stamped_s(source)
    known_too = np.isfinite(stamped)
    different = len(np.unique(stamped[known_too]))
    if frame_interval_s is not None and different < 2:
        return FrameTimes(np.arange(source.count, dtype=np.float64) * float(frame_interval_s))
    if not known_too.all():
        if frame_interval_s is None:
            return None
        return FrameTimes(_by_interval(stamped, float(frame_interval_s)), stamps=different)
    spread = spread_stamps(stamped)
    return FrameTimes(spread - spread[0], bool((spread != stamped).any()), different)


def rising_times(source: FrameSource, frame_interval_s: float | None, name: str) -> FrameTimes:
    """Find the times of frames, each later than the one before.

    Raises
    ------
    FrameUnreadable
        If nothing says when they were taken, one stamp stands for all of them, or they are not in the order of their
        times.
    """
    times = frame_times(source, frame_interval_s)
    if times is None or (times.stamps == 1 and source.count > 1):
        raise FrameUnreadable(
            "its frames carry no times that tell them apart, so nothing can be said over time",
            file=name,
            hint="give frame_interval_s",
        )
    if (stuck := np.diff(times.time_s) <= 0.0).any():
        raise FrameUnreadable(
            "its frames are not in the order of their times",
            file=name,
            key=f"frame {int(np.argmax(stuck)) + 1}",
            hint="rename the files so that they sort by time",
        )
    return times


def spread_stamps(stamped_s: FloatArray) -> FloatArray:
    """Spread frames that share a stamp evenly from it to the next second.

    Parameters
    ----------
    stamped_s : ndarray, shape (count,)

    Returns
    -------
    ndarray, shape (count,)
        The same where no two neighbours are equal.

    Examples
    --------
    >>> spread_stamps(np.array([0.0, 1.0, 1.0, 1.0, 1.0, 2.0, 2.0])).tolist()
    [0.75, 1.0, 1.25, 1.5, 1.75, 2.0, 2.25]
    """
    first = np.flatnonzero(np.diff(stamped_s, prepend=np.nan) != 0.0)
    size = np.diff(first, append=len(stamped_s))
    if not len(first) or size.max() == 1:
        return stamped_s
    whole = size.copy()
    if len(size) > 2:
        usual = int(np.median(size[1:-1]))
        whole[[0, -1]] = np.maximum(size[[0, -1]], usual)
    elif len(size) == 2:
        # Of two seconds neither need be whole; the fuller one is the better guess.
        whole[:] = size.max()
    room = np.full(len(first), _STAMP_S)
    steps = np.diff(stamped_s[first])
    room[:-1] = np.where(steps > 0.0, np.minimum(steps, _STAMP_S), _STAMP_S)
    room[-1] = room.min()
    place = np.arange(len(stamped_s)) - np.repeat(first, size)
    # Of the first second the end was recorded, of the last its beginning.
    place[: size[0]] += (whole[0] - size[0]) if len(size) > 1 else 0
    return np.asarray(stamped_s + place * np.repeat(room / whole, size))


def _stamped_s(source: FrameSource) -> FloatArray:
    """Seconds of the frames' own stamps since the first known one, by UTC where all have it; NaN where unknown."""
    utc, local = np.full(source.count, np.nan), np.full(source.count, np.nan)
    for index, taken in enumerate(taken_of(source)):
        for seconds, moment in ((utc, taken.utc), (local, taken.local)):
            if moment is not None:
                seconds[index] = _seconds(moment)
    chosen = utc if np.isfinite(utc).sum() >= np.isfinite(local).sum() else local
    known = chosen[np.isfinite(chosen)]
    return chosen - (known[0] if len(known) else 0.0)


_ORIGIN: Final = datetime(2000, 1, 1)


def _seconds(moment: datetime) -> float:
    # By subtraction: timestamps of naive times would depend on the machine's own zone and its summer time.
    since = moment.replace(tzinfo=None) - _ORIGIN
    return since.days * 86400.0 + since.seconds + since.microseconds / 1e6


def _by_interval(stamped_s: FloatArray, interval_s: float) -> FloatArray:
    """Continue known times by the interval where there are none, backwards before the first."""
    places = np.arange(len(stamped_s))
    known = np.flatnonzero(np.isfinite(stamped_s))
    before = known[np.maximum(np.searchsorted(known, places, side="right") - 1, 0)]
    seconds = stamped_s[before] + (places - before) * interval_s
    return np.asarray(seconds - seconds[0])
