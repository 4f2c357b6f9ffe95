"""Whether the board stays where it is from frame to frame of a recording, and where it does not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from irspot.constants import NUDGE_SIGMAS
from irspot.errors import PlacementRefused
from irspot.frame import Frame
from irspot.workflow.follow_run import RunPlacer

if TYPE_CHECKING:
    from irspot.registration.following import Reference
    from irspot.registration.still_check import StillCheck

_BLUR_PX: Final = 0.3
"""A move by more than this would blur an average."""
_CALMED_BY: Final = 8
"""So many frames are averaged to hold later ones against, once there are so many."""


@dataclass(frozen=True, slots=True)
class Break:
    """A frame in which the board is not where it was in those before.

    Parameters
    ----------
    frame : int
        Its index in the recording.
    moved_mm : float or None
        By how much; None where the frame does not show it plainly enough to say.
    nudge : bool
        Whether that counts as a nudge.
    """

    frame: int
    moved_mm: float | None
    nudge: bool


class StillWatch:
    """Holds each frame of a readout against the first since the board moved last, or the mean of the first few.

    Parameters
    ----------
    placer : RunPlacer
    """

    def __init__(self, placer: RunPlacer) -> None:
        self.breaks: list[Break] = []
        self._placer = placer
        self._anchor: Reference | None = None
        self._next_try = 0
        self._seen = 0
        self._torn = False
        self._check: StillCheck | None = None
        self._total = np.zeros((0, 0), np.float32)
        self._count = 0

    def still(self, frame: Frame, degc: NDArray[np.float32], index: int) -> bool:
        """Say whether the board is where it was; see `irspot.workflow.averaging.Watch`."""
        from irspot.registration.following import follow

        self._seen += 1
        if self._anchor is None or not self._anchor.usable:
            self._look_again(frame, degc)
            return True
        if self._check is not None and not self._torn and self._check.surely(degc):
            self._calm(degc)
            return True
        try:
            moved = follow(self._anchor, degc, frame.noise_k).moved
        except PlacementRefused:
            found = Break(index, None, nudge=False)
        else:
            if moved.px <= max(_BLUR_PX, NUDGE_SIGMAS * moved.u_px):
                self._calm(degc)
                # After a frame that shows nothing the board may be where it was, but that frame is not to be with it.
                torn, self._torn = self._torn, False
                return not torn
            found = Break(index, moved.mm, nudge=moved.is_nudge)
        anchor = self._placer.anchor(frame, degc)
        self._torn = anchor is None or not anchor.usable
        if not self._torn:
            self._hold(anchor, degc)
        self.breaks.append(found)
        return False

    def _look_again(self, frame: Frame, degc: NDArray[np.float32]) -> None:
        """Try for a frame that shows the board: in the first, and then ever more seldom, since that takes time."""
        if self._seen > self._next_try:
            self._hold(self._placer.anchor(frame, degc), degc)
            self._next_try = 2 * self._seen

    def _hold(self, anchor: Reference | None, degc: NDArray[np.float32]) -> None:
        """Hold later frames against an anchor."""
        from irspot.registration.still_check import StillCheck

        self._anchor, self._total, self._count = anchor, degc, 1
        self._check = StillCheck.of(anchor) if anchor is not None and anchor.usable else None

    def _calm(self, degc: NDArray[np.float32]) -> None:
        """Take the mean of the first few frames for the first one: it has less noise."""
        if self._count >= _CALMED_BY or self._anchor is None:
            return
        self._total = self._total + degc
        self._count += 1
        if self._count == _CALMED_BY:
            anchor = self._placer.calmed(self._anchor, self._total / np.float32(_CALMED_BY))
            if anchor.usable:
                self._hold(anchor, degc)
                self._count = _CALMED_BY
