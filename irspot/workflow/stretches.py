"""Stretches of a recording over which the board stays where it is, looked after every ten seconds.

Each look holds its frame against the one that the geometry was last confirmed in; only where that does not settle it
is the board followed from the run's first frame. A geometry stays until the board is elsewhere by more than placing
can be off, so that noise moves no zone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Camera
from irspot.constants import NUDGE_SIGMAS, REFRESH_S
from irspot.errors import PlacementRefused
from irspot.flags import sorted_flags
from irspot.frame import Frame, FrameSource
from irspot.measurement.zone_flags import flags_of_frame
from irspot.workflow.follow_run import Placed, RunPlacer
from irspot.workflow.frame_times import FrameTimes
from irspot.workflow.opened import conditions_of
from irspot.workflow.tasks import MeasureTask
from irspot.workflow.zone_series import sampled_indices

if TYPE_CHECKING:
    from irspot.registration.placement import Placement
    from irspot.registration.still_check import StillCheck

_MOVED_PX: Final = 0.3
"""A move by less changes no zone by more than a border pixel; the same as for readouts."""
_TRIED: Final = (0, 1, 2, 4, 8)
"""Frames behind the one of a look that are tried before the board counts as lost: shutters close for a few."""


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """Frames of a recording that share their geometry.

    Parameters
    ----------
    first, stop : int
        Indices of the frames, the second exclusive.
    shape : tuple of int
        ``(rows, columns)`` of every frame.
    flags : tuple of str
        Of every frame.
    camera : Camera
        As the frames name it: a file may say itself what its numbers are.
    placement : Placement or None
        None where the board was not placed.
    declared, found : ndarray of int
        Pixels that are dead, by the camera file and by the looks of it: places in a frame read row by row.
    misplaced_k : tuple of float
        What the place of each zone, and of `elsewhere`, leaves open of its maximum, on its radiance temperature: the
        larger of a frame at the stretch's beginning and its last, since boards warm up.
    looked_at : int
        That frame at the beginning.
    refusal : PlacementRefused or None
    """

    first: int
    stop: int
    shape: tuple[int, int]
    flags: tuple[str, ...]
    camera: Camera
    placement: Placement | None
    declared: NDArray[np.intp]
    found: NDArray[np.intp]
    misplaced_k: tuple[float, ...]
    looked_at: int
    refusal: PlacementRefused | None = None


def stretches_of(task: MeasureTask, source: FrameSource, times: FrameTimes) -> list[Stretch]:
    """Look through a recording for where its board is.

    Parameters
    ----------
    task : MeasureTask
    source : FrameSource
    times : FrameTimes

    Returns
    -------
    list of Stretch
        All frames, in order.

    Raises
    ------
    FrameUnreadable
        If a frame cannot be read.
    """
    looked = _Looks(task, source, times)
    firsts = sampled_indices(times.time_s, REFRESH_S).tolist()
    looks = [looked.at(first, stop) for first, stop in zip(firsts, [*firsts[1:], source.count], strict=True)]
    looks = [_ambiguous(*pair) for pair in pairwise(looks)] + looks[-1:]
    found = looks[:1]
    for stretch in looks[1:]:
        if _alike(found[-1], stretch):
            found[-1] = replace(found[-1], stop=stretch.stop)
        else:
            found.append(stretch)
    return [looked.misplaced(stretch) for stretch in found]


def _alike(before: Stretch, after: Stretch) -> bool:
    return (
        before.placement is after.placement
        and before.placement is not None
        and (before.shape, before.flags) == (after.shape, after.flags)
        and np.array_equal(before.found, after.found)
    )


def _ambiguous(before: Stretch, after: Stretch) -> Stretch:
    """Mark frames in which the board began to move."""
    if before.placement is None or after.placement is None or before.placement is after.placement:
        return before
    return replace(before, flags=sorted_flags((*before.flags, "nudged")))


class _Looks:
    """Looks at one frame of a recording after another."""

    def __init__(self, task: MeasureTask, source: FrameSource, times: FrameTimes) -> None:
        self._task, self._source, self._times = task, source, times
        self._placer = RunPlacer(task)
        self._placer.begin(source)
        self._held: Placed | None = None
        self._check: StillCheck | None = None
        self._conditions = conditions_of(task.run)
        self._board_mm = task.board.outline.array_mm

    def at(self, first: int, stop: int) -> Stretch:
        """Find the board about a frame."""
        refused: PlacementRefused | None = None
        for index in (first + step for step in _TRIED if first + step < stop):
            frame = self._frame(index)
            try:
                placed = self._placed(frame)
            except PlacementRefused as refusal:
                refused = refused or refusal
                continue
            return self._stretch(first, stop, index, frame, placed)
        frame = self._frame(first)
        none = np.zeros(0, np.intp)
        zones = len(self._task.board.zones_of(self._task.run.side)) + 1
        nothing = (None, none, none, (0.0,) * zones, first)
        return Stretch(first, stop, frame.shape, self._flags(frame), frame.camera, *nothing, refused)

    def _stretch(self, first: int, stop: int, index: int, frame: Frame, placed: Placed) -> Stretch:
        from irspot.measurement.pixels import pixels_of

        pixels = pixels_of(frame)
        dead = np.flatnonzero(pixels.declared), np.flatnonzero(pixels.found)
        flags = self._flags(frame, *placed.flags)
        return Stretch(first, stop, frame.shape, flags, frame.camera, placed.placement, *dead, (), index)

    def misplaced(self, stretch: Stretch) -> Stretch:
        """Find out what the place of the zones leaves open in a stretch."""
        from irspot.measurement.misplaced import misplaced_all_k
        from irspot.measurement.pixels import pixels_of

        if stretch.placement is None:
            return stretch
        ends_k = [
            misplaced_all_k(self._task.board, stretch.placement, pixels_of(self._frame(index)))
            for index in sorted({stretch.looked_at, stretch.stop - 1})
        ]
        return replace(stretch, misplaced_k=tuple(np.max(ends_k, axis=0).tolist()))

    def _flags(self, frame: Frame, *flags: str) -> tuple[str, ...]:
        return sorted_flags((*flags_of_frame(frame, self._conditions), *flags, *self._times.flags))

    def _frame(self, index: int) -> Frame:
        return self._source.frame(index).with_utc_offset(self._task.utc_offset)

    def _placed(self, frame: Frame) -> Placed:
        from irspot.radiometry import radiance_temperature

        degc = radiance_temperature(frame)
        if self._held is not None and self._check is not None and self._check.surely(degc):
            return self._held
        placed = self._placer.place(frame)
        if self._held is None or self._elsewhere(placed, self._held) or placed.flags != self._held.flags:
            self._held = placed
        self._check = self._check_of(frame, degc)
        return self._held

    def _elsewhere(self, placed: Placed, held: Placed) -> bool:
        """Say whether the board is not where it was held to be, by more than placing can be off."""
        if placed.placement.size_px != held.placement.size_px:
            return True
        away = placed.placement.to_px(self._board_mm) - held.placement.to_px(self._board_mm)
        u_px = 0.0 if placed.moved is None else placed.moved.u_px
        return bool(np.hypot(*away.T).max() > max(_MOVED_PX, NUDGE_SIGMAS * u_px))

    def _check_of(self, frame: Frame, degc: NDArray[np.float32]) -> StillCheck | None:
        from irspot.registration.following import reference_of
        from irspot.registration.still_check import StillCheck

        assert self._held is not None
        noise_k = frame.noise_k or frame.camera.accuracy.noise_k
        reference = reference_of(degc, self._task.board, self._held.placement, noise_k)
        return StillCheck.of(reference) if reference.usable else None
