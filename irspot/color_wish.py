"""What somebody says about a colour-mapped picture: the numbers of its colour bar, and where the bar is."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Colorbar
from irspot.errors import UsageError

Box = tuple[int, int, int, int]
"""``(x0, y0, x1, y1)`` in px, ends exclusive."""

CLOSEST_TICKS: Final = 0.001
"""No bar is drawn so finely that two ticks nearer than this share of it say something."""

End = Literal["top", "bottom", "left", "right"]

_CLOCK_S = 0.001
"""By how much a video's clock may round the time of a picture down."""


@dataclass(frozen=True, slots=True)
class BarScale:
    """The numbers of a bar: temperatures at places along it.

    Parameters
    ----------
    ticks : tuple of (float, float)
        ``(place, degc)``, places from 0 (low end of the bar) to 1 (high end), rising in both; at least two. Between
        and beyond them the scale is linear piece by piece, and it reaches from 0 to 1.
    ends_from : {"given", "printed", "log"}
    bound_k : float
        How far off it may be anywhere, for what printing rounded away; 0 for numbers that were given.
    labels : tuple of str
        Numbers as they were printed, from the low end up.
    """

    ticks: tuple[tuple[float, float], ...]
    ends_from: Literal["given", "printed", "log"] = "given"
    bound_k: float = 0.0
    labels: tuple[str, ...] = ()

    @classmethod
    def of_ends(cls, low_degc: float, high_degc: float) -> BarScale:
        """Make a linear scale from the temperatures of the two ends."""
        return cls(((0.0, low_degc), (1.0, high_degc)))

    def degc(self, place: NDArray[np.floating]) -> NDArray[np.float64]:
        """Give temperatures at places along the bar, continued linearly beyond the outer ticks."""
        places, temperatures = (np.array(column) for column in zip(*self.ticks, strict=True))
        inner = np.interp(place, places, temperatures)
        first = (temperatures[1] - temperatures[0]) / (places[1] - places[0])
        last = (temperatures[-1] - temperatures[-2]) / (places[-1] - places[-2])
        below, above = np.minimum(place - places[0], 0.0), np.maximum(place - places[-1], 0.0)
        return np.asarray(inner + below * first + above * last)

    @property
    def low_degc(self) -> float:
        """Temperature of the bar's low end."""
        return float(self.degc(np.array(0.0)))

    @property
    def high_degc(self) -> float:
        """Temperature of the bar's high end."""
        return float(self.degc(np.array(1.0)))


@dataclass(frozen=True, slots=True)
class ScaleLog:
    """The numbers of a video's bar over time, for cameras that change their scale while they record.

    Parameters
    ----------
    times_s : tuple of float
        From when on, in s of the video, rising.
    ends_degc : tuple of (float, float)
        Low and high end from each of these times on, until the next.
    file : Path
        Where it was read.
    """

    times_s: tuple[float, ...]
    ends_degc: tuple[tuple[float, float], ...]
    file: Path

    def at(self, time_s: float) -> BarScale:
        """Give the numbers that hold at a time.

        Raises
        ------
        UsageError
            If the log begins later.
        """
        line = bisect_right(self.times_s, time_s + _CLOCK_S) - 1
        if line < 0:
            raise UsageError(
                "the log of the colour scale begins after the video's picture",
                file=str(self.file),
                found=f"a picture at {time_s:.3f} s",
                wanted=f"pictures from {self.times_s[0]:g} s on, or a first line at 0",
            )
        return replace(BarScale.of_ends(*self.ends_degc[line]), ends_from="log")


@dataclass(frozen=True, slots=True)
class ColorWish:
    """What somebody said about the colour bar of a picture.

    Parameters
    ----------
    scale : BarScale or None
        Its numbers; None has them read from the picture, or refused where `printed` is false.
    printed : bool
        Whether printed labels may be read.
    bar_px : tuple of int or None
        Where it is; None has it found.
    low_end : str or None
    ignore_px : tuple of tuple of int
        Boxes that hold no picture.
    ambient_degc : float or None
        Supports, or contradicts, printed labels.
    log : ScaleLog or None
        Its numbers over time, of a video; then `scale` is None.
    """

    scale: BarScale | None = None
    printed: bool = True
    bar_px: Box | None = None
    low_end: End | None = None
    ignore_px: tuple[Box, ...] = ()
    ambient_degc: float | None = None
    log: ScaleLog | None = None

    def at_time(self, time_s: float | None) -> ColorWish:
        """Give the wish for a picture of a video, or for a still, which has no time.

        Raises
        ------
        UsageError
            If there is a log and it says nothing for that picture.
        """
        if self.log is None:
            return self
        if time_s is None:
            raise UsageError(
                "a log of the colour scale is for videos",
                file=str(self.log.file),
                hint="give a still's numbers themselves: low and high, or color_scale_degc = [low, high]",
            )
        return replace(self, scale=self.log.at(time_s), log=None)

    def completed(self, colorbar: Colorbar | None) -> ColorWish:
        """Add what the camera file says wherever nothing else was said."""
        if colorbar is None:
            return self
        scale = self.scale or (BarScale(colorbar.ticks) if colorbar.ticks and self.log is None else None)
        return replace(
            self,
            scale=scale,
            bar_px=self.bar_px or colorbar.bar_px,
            low_end=self.low_end or colorbar.low_end,
            ignore_px=(*self.ignore_px, *colorbar.ignore_px),
        )


NO_WISH = ColorWish()
"""Nothing was said: the bar is found and its labels read."""


def scale_of(low: float | None, high: float | None, ticks: Sequence[tuple[float, float]]) -> BarScale | None:
    """Make a bar's numbers from ends or ticks.

    Raises
    ------
    UsageError
        If they contradict one another or do not suffice.
    """
    if ticks and (low is not None or high is not None):
        ticks = [*ticks, *([(0.0, low)] if low is not None else []), *([(1.0, high)] if high is not None else [])]
        low = high = None
    if ticks:
        return _scale_of_ticks(sorted(ticks))
    if (low is None) != (high is None):
        raise UsageError("one end of the bar alone does not make a scale", hint="give --low and --high, or ticks")
    if low is None or high is None:
        return None
    if low >= high:
        raise UsageError("the bar's low end must be below its high end", found=f"{low:g} and {high:g} °C")
    return BarScale.of_ends(low, high)


def _scale_of_ticks(ticks: list[tuple[float, float]]) -> BarScale:
    if len(ticks) < 2:
        raise UsageError("one tick alone does not make a scale", hint="give two --tick or more")
    for (place0, degc0), (place1, degc1) in pairwise(ticks):
        if place1 - place0 < CLOSEST_TICKS or degc0 >= degc1:
            raise UsageError(
                "ticks must rise in place and in temperature",
                found=f"{place0:g}={degc0:g} and {place1:g}={degc1:g}",
                wanted=f"places at least {CLOSEST_TICKS:g} of the bar apart",
            )
    return BarScale(tuple(ticks))
