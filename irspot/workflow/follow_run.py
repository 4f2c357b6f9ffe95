"""The board placed in one frame of a run after another: first as the study says, later relative to that frame.

The first frame in which the board was placed stays the one that all later frames are held against, so that nothing
adds up. Where a frame cannot be, a board that is found by itself is sought anew; one placed by hand is refused there,
since its points belong to the first frame.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from irspot.errors import IrspotError, PlacementRefused
from irspot.frame import Frame, FrameSource
from irspot.placing import AutoPlacement, CornersPx, PhotoPlacement
from irspot.workflow.tasks import MeasureTask

if TYPE_CHECKING:
    from irspot.registration.following import Reference
    from irspot.registration.moved import Moved
    from irspot.registration.placement import Placement

F32 = NDArray[np.float32]

_ACCURATE_PX: Final = 0.4
"""Largest standard uncertainty of a corner that a frame may have to hold later ones against it."""
_TRIED_AT: Final = (16, 8, 4, 2)
"""Where the first frame of a recording shows too little of a board placed by hand, these parts of it are looked at."""


@dataclass(frozen=True, slots=True)
class Placed:
    """Where the board is in one frame of a run.

    Parameters
    ----------
    placement : Placement
    moved : Moved or None
        Since the first placed frame; None for that frame, and where nothing tells.
    flags : tuple of str
        For every reading of the frame.
    """

    placement: Placement
    moved: Moved | None = None
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Start:
    """A frame in which the board was placed."""

    degc: F32
    noise_k: float
    placement: Placement


def place_run(task: MeasureTask, frame: Frame) -> Placement:
    """Place a run's board in one of its frames by that frame alone, as the study says.

    Raises
    ------
    PlacementRefused
        With the reason.
    """
    from irspot.registration import place_frame
    from irspot.workflow.photos import place_frame_by_photo

    run = task.run
    if isinstance(run.placement, PhotoPlacement) and run.photo_file is not None:
        return place_frame_by_photo(frame, task.board, run.photo_file, run.photo, run.side, run.top)
    return place_frame(frame, task.board, run.placement, side=run.side, top=run.top)


class RunPlacer:
    """Places the board in the frames of one run, in their order.

    Parameters
    ----------
    task : MeasureTask
    """

    def __init__(self, task: MeasureTask) -> None:
        self._task = task
        self._by_hand = not isinstance(task.run.placement, AutoPlacement)
        self._start: _Start | None = None
        self._made: Reference | None = None
        self._blind = False

    def place(self, frame: Frame) -> Placed:
        """Place the board in the next frame.

        Raises
        ------
        PlacementRefused
            With the reason.
        """
        from irspot.registration.following import follow

        reference = self._reference()
        if reference is None:
            return Placed(self._begun(frame), flags=self._flags())
        degc = _degc(frame)
        try:
            found = follow(reference, degc, _noise_k(frame), file=frame.name)
        except PlacementRefused as lost:
            return self._by_itself(frame, reference, lost)
        flags = ("nudged",) if found.moved.is_nudge else ()
        return Placed(found.placement, found.moved, (*flags, *self._flags()))

    def begin(self, source: FrameSource) -> None:
        """Take the earliest frame of a recording that shows the board as the one to hold later ones against.

        Points given by hand belong to the first frame; where that shows nothing of the board, the first one that
        does is taken to show it there still, and what is placed is flagged.
        """
        if self._start is not None:
            return
        try:
            self._begun(source.frame(0))
            if not self._by_hand or self._usable():
                return
            self._blind = True
            for part in _TRIED_AT:
                frame = source.frame((source.count - 1) // part)
                if frame.shape == self._size():
                    self._take(frame, self._placement())
                if self._usable():
                    return
        except IrspotError:
            # The readout itself may be sound, and if it is not, will say so.
            self._blind = self._by_hand

    def anchor(self, frame: Frame, degc: F32) -> Reference | None:
        """Make a frame the one that those right after it are held against; None where the board is not placed."""
        from irspot.registration.following import reference_of

        placement = self._somewhere(frame)
        return None if placement is None else reference_of(degc, self._task.board, placement, _noise_k(frame))

    def calmed(self, anchor: Reference, degc: F32) -> Reference:
        """Make a mean of frames over which the board was where it was in an anchor the anchor.

        Its edges have to show in single frames, so that it is taken to be as noisy as these.
        """
        from irspot.registration.following import reference_of

        return reference_of(degc, self._task.board, anchor.placement, anchor.noise_k)

    def _somewhere(self, frame: Frame) -> Placement | None:
        """Say where the board is, or else was, without a claim."""
        try:
            return self.place(frame).placement
        except PlacementRefused:
            return None if self._start is None else self._start.placement

    def _by_itself(self, frame: Frame, reference: Reference, lost: PlacementRefused) -> Placed:
        """Place a board that could not be followed."""
        from irspot.registration.moved import moved_between

        if not self._by_hand:
            placement = self._cold(frame)
            if lost.cause == "content":
                self._take(frame, placement)
            corners = reference.corners_mm
            if placement.size_px != reference.placement.size_px:
                return Placed(placement)
            u_px = np.hypot(placement.u_px_at(corners), reference.placement.u_px_at(corners))
            moved = moved_between(reference.placement, placement, corners, u_px)
            return Placed(placement, moved, ("nudged",) if moved.is_nudge else ())
        if lost.cause == "content":
            self._blind = True
            self._take(frame, self._placement())
            return Placed(self._placement(), flags=self._flags())
        key = "corners_px" if isinstance(self._task.run.placement, CornersPx) else "points_px"
        raise PlacementRefused(
            f"the board moved, or changed too much, since the frame its points were given for: {lost.message}",
            cause=lost.cause,
            file=frame.name,
            key=key,
            found=lost.found,
            hint='give the frames since the move a run of their own, or use placement = "auto"',
        )

    def _begun(self, frame: Frame) -> Placement:
        """Place the board by itself; a frame in which it is placed well becomes the one to hold later ones against."""
        placement = self._cold(frame)
        if self._by_hand or placement.u_px_at(self._task.board.outline.array_mm).max() <= _ACCURATE_PX:
            self._take(frame, placement)
        return placement

    def _cold(self, frame: Frame) -> Placement:
        return place_run(self._task, frame)

    def _take(self, frame: Frame, placement: Placement) -> None:
        self._start, self._made = _Start(_degc(frame), _noise_k(frame), placement), None

    def _reference(self) -> Reference | None:
        """Prepare the first placed frame when another one is to be held against it."""
        from irspot.registration.following import reference_of

        if self._made is None and self._start is not None:
            start = self._start
            self._made = reference_of(start.degc, self._task.board, start.placement, start.noise_k)
            self._start = replace(start, degc=start.degc[:0])
        return self._made

    def _usable(self) -> bool:
        reference = self._reference()
        return reference is not None and reference.usable

    def _placement(self) -> Placement:
        assert self._start is not None
        return self._start.placement

    def _size(self) -> tuple[int, int]:
        return self._placement().size_px[::-1]

    def _flags(self) -> tuple[str, ...]:
        return ("not-followed",) if self._blind else ()


def _degc(frame: Frame) -> F32:
    from irspot.radiometry import radiance_temperature

    return radiance_temperature(frame)


def _noise_k(frame: Frame) -> float:
    return frame.noise_k or frame.camera.accuracy.noise_k
