"""What results and messages say about a board that was moved during a run."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from irspot.constants import NUDGE_MM
from irspot.errors import Problem
from irspot.uncertain import expanded, with_uncertainty
from irspot.workflow.still_watch import Break

if TYPE_CHECKING:
    from irspot.registration.moved import Moved


def moved_json(moved: Moved | None) -> dict[str, Any]:
    """Say how far the board is from where it was in the run's first placed frame; nothing for that frame itself."""
    if moved is None:
        return {}
    from irspot.exports.json_results import number

    return {"moved_mm": number(round(moved.mm, 3)), "u_moved_mm": number(round(moved.u_mm, 3))}


def readout_json(kept: range | None, breaks: Sequence[Break]) -> dict[str, Any]:
    """Say which frames of a recording were averaged where it moved in between; nothing where it did not."""
    if kept is None or not breaks:
        return {}
    moves = [{"frame": each.frame, "moved_mm": _rounded(each.moved_mm)} for each in breaks]
    return {"averaged_frames": [kept.start, kept.stop - 1], "moves_in_readout": moves}


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def nudge_warnings(frame: str, moved: Moved | None, before: Moved | None, breaks: Sequence[Break]) -> list[Problem]:
    """Warn of a board that was moved since the frame before, or during a readout.

    Parameters
    ----------
    frame : str
    moved, before : Moved or None
        Of this frame and of the one before; what was said of that is not said again.
    breaks : sequence of Break
    """
    found = []
    if moved is not None and moved.is_nudge and not (before and abs(moved.mm - before.mm) < NUDGE_MM):
        size = with_uncertainty(moved.mm, expanded(moved.u_mm), "mm") if math.isfinite(moved.mm) else "far away"
        found.append(_warning(frame, f"the board lies {size} from where it was first placed"))
    if breaks:
        sizes = [each.moved_mm for each in breaks if each.moved_mm is not None]
        what = f"moved by up to {max(sizes):.1f} mm" if sizes else "did not show plainly"
        at = ", ".join(str(each.frame) for each in breaks[:5]) + (", ..." if len(breaks) > 5 else "")
        found.append(
            _warning(
                frame, f"the board {what} during the readout (frame {at}); only a part in which it stayed is averaged"
            )
        )
    return found


def _warning(frame: str, message: str) -> Problem:
    return Problem(message, key=frame, severity="warning")
