"""Which frames of a recording are reported, and the one frame they become."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Camera
from irspot.errors import FrameUnreadable
from irspot.frame import Frame, FrameSource
from irspot.readers.plain import taken_of
from irspot.readers.times import Taken
from irspot.study import Readout
from irspot.workflow.averaging import NoWatch, Summing, Watch, summed
from irspot.workflow.frame_times import frame_times


@dataclass(frozen=True, slots=True)
class Joined:
    """Several sources as one, in their order: numbered files that are one recording."""

    sources: tuple[FrameSource, ...]

    @property
    def count(self) -> int:
        """Number of frames."""
        return sum(source.count for source in self.sources)

    def taken(self) -> Iterator[Taken]:
        """Say when each frame was taken, without its pixels where its file allows that."""
        for source in self.sources:
            yield from taken_of(source)

    def frame(self, index: int) -> Frame:
        """Read one frame."""
        for source in self.sources:
            if index < source.count:
                return source.frame(index)
            index -= source.count
        raise IndexError(index)


def readout_frame(
    source: FrameSource, readout: Readout, frame_interval_s: float | None, utc_offset: timedelta | None, name: str
) -> Frame:
    """Average the readout of a recording into one frame of radiance temperatures.

    A pixel that holds no number in any of the frames holds none in the average; one that was clipped in any of them
    is known as clipped.

    Parameters
    ----------
    source : FrameSource
    readout : Readout
    frame_interval_s : float or None
        Where frames carry no time.
    utc_offset : timedelta or None
        Completes times without a zone.
    name : str
        How tables name the readout.

    Returns
    -------
    Frame
        In °C, with the time of its last frame and the noise of the average.

    Raises
    ------
    FrameUnreadable
        If the readout is in seconds and neither the frames nor the run say when they were taken, frames are not in
        the order of their times, or frames differ in size.
    """
    return still_readout(source, readout, frame_interval_s, utc_offset, name, NoWatch())[0]


def still_readout(
    source: FrameSource,
    readout: Readout,
    frame_interval_s: float | None,
    utc_offset: timedelta | None,
    name: str,
    watch: Watch,
) -> tuple[Frame, range]:
    """Average that part of the readout over which the board stays where it is; see `readout_frame`.

    Parameters
    ----------
    source, readout, frame_interval_s, utc_offset, name
        As of `readout_frame`.
    watch : Watch

    Returns
    -------
    Frame
        Flagged ``readout-short`` where it is shorter than asked for.
    range
        The frames that are in it.
    """
    first, short = first_of_readout(source, readout, frame_interval_s, name)
    stretch = summed(source, range(first, source.count), name, watch)
    short = short or stretch.count < source.count - first
    frame = _averaged(stretch, name, utc_offset)
    flags = (*frame.flags, "readout-short") if short else frame.flags
    return replace(frame, flags=flags), range(stretch.first, stretch.last + 1)


def span_frame(source: FrameSource, indices: range, utc_offset: timedelta | None, name: str) -> Frame:
    """Average given frames of a recording.

    Raises
    ------
    FrameUnreadable
        If a frame cannot be read, or they differ in size.
    """
    return _averaged(summed(source, indices, name, NoWatch()), name, utc_offset)


def _averaged(stretch: Summing, name: str, utc_offset: timedelta | None) -> Frame:
    """Make one frame of summed ones, with the time of the last of them and the noise of the average."""
    last, average = stretch.latest, stretch.mean()
    assert last is not None
    averaged = Frame(
        average.degc,
        _storing_degc(last.camera),
        name,
        time_utc=last.time_utc,
        time_local=last.time_local,
        notes=last.notes,
        averaged=stretch.count,
        noise_k=(last.noise_k or last.camera.accuracy.noise_k) / float(np.sqrt(stretch.count)),
        flags=last.flags,
        clipped=average.high,
        clipped_low=average.low,
        u_decode_k=average.u_decode_k,
    )
    return averaged.with_utc_offset(utc_offset)


def _storing_degc(camera: Camera) -> Camera:
    """Give the camera for averaged temperatures; where a calibration says how far it is good, that is kept."""
    from irspot.radiometry import range_degc

    return replace(camera.storing_degc(), accuracy=replace(camera.accuracy, range_degc=range_degc(camera)))


def first_of_readout(
    source: FrameSource, readout: Readout, frame_interval_s: float | None, name: str
) -> tuple[int, bool]:
    """Find the first frame of the readout, and whether the recording is shorter than asked for."""
    if readout.everything:
        return 0, False
    if readout.last_frames is not None:
        return max(0, source.count - readout.last_frames), source.count < readout.last_frames
    seconds = relative_times_s(source, frame_interval_s)
    if seconds is None:
        raise FrameUnreadable(
            "its frames carry no time, so the last seconds cannot be found",
            file=name,
            hint="give frame_interval_s, or readout = 'all' or a count of frames",
        )
    assert readout.last_s is not None
    if (backwards := np.diff(seconds) < 0.0).any():
        raise FrameUnreadable(
            "its frames are not in the order of their times, so the last seconds cannot be found",
            file=name,
            key=f"frame {int(np.argmax(backwards)) + 1}",
            hint="rename the files so that they sort by time, or give readout = 'all' or a count of frames",
        )
    wanted_from = seconds[-1] - readout.last_s
    # Half a frame of grace: 60 s at one frame a second is 60 frames, whichever way their stamps were rounded.
    first = int(np.searchsorted(seconds, wanted_from + 1e-9, side="right"))
    return min(first, source.count - 1), bool(seconds[0] > wanted_from + _step(seconds))


def relative_times_s(source: FrameSource, frame_interval_s: float | None) -> NDArray[np.float64] | None:
    """Give seconds from the first frame; see `irspot.workflow.frame_times`.

    Returns
    -------
    ndarray, shape (count,), or None
        None where nothing says when the frames were taken.
    """
    times = frame_times(source, frame_interval_s)
    return None if times is None else times.time_s


def _step(seconds: NDArray[np.float64]) -> float:
    return float(np.median(np.diff(seconds))) if len(seconds) > 1 else 0.0
