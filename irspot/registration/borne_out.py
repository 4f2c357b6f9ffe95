"""Whether a board's marks bear out where its outline seems to lie."""

from __future__ import annotations

from typing import Final

import numpy as np

from irspot.board import Board
from irspot.registration.placement import Placement

_SURE_SHARE: Final = 0.85
"""An outline that shows along so much of it needs no mark to bear it out."""
_FEWEST: Final = 4
"""So many marks in view do not all hide where the board is: of the demo's views, placed right, six or more show."""
_MARGIN_PX: Final = 4.0


def contradicted(placement: Placement, board: Board) -> bool:
    """Say whether an outline that shows in part only lies where not one of the board's marks shows.

    Parts of a board have straight edges too, and those of sockets and heatsinks may look like its outline; but holes
    and dots do not show where the board is not.

    Parameters
    ----------
    placement : Placement
        Found by the outline, and by the marks that show.
    board : Board
    """
    if placement.marks or placement.share_held is None or placement.share_held >= _SURE_SHARE:
        return False
    if len(board.marks) < _FEWEST:
        return False
    places = placement.to_px(np.array([(mark.x_mm, mark.y_mm) for mark in board.marks]))
    far = np.array(placement.size_px) - 1.0 - _MARGIN_PX
    return int(np.count_nonzero(np.all((places >= _MARGIN_PX) & (places <= far), axis=1))) >= _FEWEST
