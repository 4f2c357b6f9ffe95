"""Whether an outline that was found shows what tells it from itself turned, such as a bay or a corner cut off."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.registration.mark_ways import unlike_turns
from irspot.registration.outline_score import outline_points

FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

_APART_SHARE: Final = 0.015
"""Of an outline's size: places of it that lie further than this from the turned outline tell the two apart."""
_LEAST_HELD: Final = 0.4
"""Share of those places, of the ones in view, at which the frame has an edge; ..."""
_FEWEST: Final = 6
"""... and how many there are at least."""
_DENSE: Final = 2000


def shows_its_way(vertices_mm: FloatArray, xy_mm: FloatArray, seen: Bool, held: Bool) -> bool:
    """Say whether an outline shows which way round it lies.

    Parameters
    ----------
    vertices_mm : ndarray, shape (k, 2)
        Of the outline.
    xy_mm : ndarray, shape (n, 2)
        Points along it.
    seen, held : ndarray of bool, shape (n,)
        Which of them are in view, and at which the frame has an edge.

    Returns
    -------
    bool
        True also for an outline that looks the same, or like no box, in all its turns.
    """
    slack = _APART_SHARE * float(np.ptp(vertices_mm, axis=0).max())
    dense = outline_points(vertices_mm, _DENSE).xy_mm
    for turn in unlike_turns(vertices_mm):
        turned = turn.carried(dense)
        apart = np.array([float(np.hypot(*(turned - place).T).min()) for place in xy_mm])
        telling = seen & (apart > slack)
        count = int(np.count_nonzero(telling))
        if count < _FEWEST or np.count_nonzero(held & telling) < _LEAST_HELD * count:
            return False
    return True
