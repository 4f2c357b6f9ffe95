"""What speaks against a place that the outline alone found."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.registration.borne_out import contradicted
from irspot.registration.placement import Placement
from irspot.registration.surround import may_be_a_part

_BY_HAND = "give corners_px by hand, or points_px of marks"


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why a place is not believed, and what to do."""

    message: str
    cause: str
    hint: str


def doubt_of(degc: NDArray[np.float32], placement: Placement, board: Board) -> Doubt | None:
    """Say what speaks against a placement by the outline, if anything does.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Without gaps.
    placement : Placement
        With the marks that bear it out.
    board : Board
    """
    if contradicted(placement, board):
        return Doubt(
            "not one of the board's marks shows where its outline seems to lie",
            "marks",
            "give corners_px by hand, or take marks that do not show out of the board file",
        )
    if may_be_a_part(degc, placement, board):
        return Doubt(
            "what looks like the outline may be a part of the board",
            "part",
            f"go nearer, put the board on an even bench, or list its mounting holes as marks; or {_BY_HAND}",
        )
    return None
