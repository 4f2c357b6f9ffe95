"""Which way round a placed board lies, by the marks that show: the ways its outline leaves open, compared.

Two ways are told apart by those marks alone that one way has where the other has none.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.registration.mark_evidence import BoardRoundness, weights_of
from irspot.registration.way_round import SAME_SHARE, alike

FloatArray = NDArray[np.float64]

CLEAR_CHANCE: Final = 0.02
"""A mark shows clearly if no more than this share of the board's places look as much like one."""
_FEWEST_CLEAR: Final = 2
_LEAST_WEIGHT: Final = 6.0
"""Logarithm of the likelihood ratio from which marks decide: by chance, one board in 400 at most."""
_APART_MM: Final = 5.0
"""Two places nearer than this are not told apart."""


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """A way of laying a board into its own outline.

    Parameters
    ----------
    quarters : int
        Turns counter-clockwise, seen from the front.
    turned_over : bool
        Whether the other side faces the camera.
    matrix : ndarray, shape (3, 3)
        Where each place of the board, in mm, comes to lie, in mm of the board that lies as it was placed.
    """

    quarters: int
    turned_over: bool
    matrix: FloatArray

    def carried(self, xy_mm: FloatArray) -> FloatArray:
        """Carry places, shape (n, 2)."""
        return np.asarray(xy_mm @ self.matrix[:2, :2].T + self.matrix[:2, 2])


def ways_of(vertices_mm: FloatArray) -> tuple[Way, ...]:
    """List the ways in which an outline looks the same, the one as it lies first.

    Parameters
    ----------
    vertices_mm : ndarray, shape (n, 2)
        Outlines that are nearly the same in two ways are stretched to be the same.

    Examples
    --------
    >>> oblong = np.array([[0.0, 0.0], [305.0, 0.0], [305.0, 244.0], [0.0, 244.0]])
    >>> [(way.quarters, way.turned_over) for way in ways_of(oblong)]
    [(0, False), (2, False), (0, True), (2, True)]
    """
    slack = SAME_SHARE * float(np.ptp(vertices_mm, axis=0).max())
    turns = _turns(vertices_mm, slack)
    ways = [_way(vertices_mm, quarters, turned_over) for turned_over in (False, True) for quarters in turns]
    return tuple(way for way in ways if alike(vertices_mm, way.carried(vertices_mm), slack))


def unlike_turns(vertices_mm: FloatArray) -> tuple[Way, ...]:
    """List the turns that keep an outline's bounding box and not the outline: what it is easily taken for.

    Parameters
    ----------
    vertices_mm : ndarray, shape (n, 2)
    """
    slack = SAME_SHARE * float(np.ptp(vertices_mm, axis=0).max())
    ways = [_way(vertices_mm, quarters, False) for quarters in _turns(vertices_mm, slack)]
    return tuple(way for way in ways if not alike(vertices_mm, way.carried(vertices_mm), slack))


def _turns(vertices_mm: FloatArray, slack: float) -> tuple[int, ...]:
    """Quarters by which a bounding box can be turned and look the same."""
    width, height = np.ptp(vertices_mm, axis=0).tolist()
    return (0, 1, 2, 3) if abs(width - height) <= slack else (0, 2)


def _way(vertices_mm: FloatArray, quarters: int, turned_over: bool) -> Way:
    """Turn over and about the middle of the bounding box, which keeps its sides."""
    low, high = vertices_mm.min(axis=0), vertices_mm.max(axis=0)
    middle, half = (low + high) / 2.0, (high - low) / 2.0
    turn = np.linalg.matrix_power(np.array([[0.0, -1.0], [1.0, 0.0]]), quarters)
    turn = np.diag(half) @ turn @ np.diag([-1.0 if turned_over else 1.0, 1.0]) @ np.diag(1.0 / half)
    matrix = np.eye(3)
    matrix[:2, :2] = turn
    matrix[:2, 2] = middle - turn @ middle
    return Way(quarters, turned_over, matrix)


def can_tell(one: Way, other: Way, marks_mm: FloatArray) -> bool:
    """Say whether enough marks lie where the other way has none.

    Parameters
    ----------
    one, other : Way
    marks_mm : ndarray, shape (n, 2)
    """
    return bool(np.count_nonzero(_alone(one, other, marks_mm)) >= _FEWEST_CLEAR)


def beats(one: Way, other: Way, marks_mm: FloatArray, seen: BoardRoundness) -> bool:
    """Say whether marks show clearly as one way has them, and not as another has them.

    Parameters
    ----------
    one, other : Way
    marks_mm : ndarray, shape (n, 2)
    seen : BoardRoundness
    """
    chances = seen.chances(one.carried(marks_mm)[_alone(one, other, marks_mm)])
    against = seen.chances(other.carried(marks_mm)[_alone(other, one, marks_mm)])
    clear = np.count_nonzero(chances <= CLEAR_CHANCE)
    # The other way's weight is of use only where it is for it: hidden marks are no reason to believe in any way.
    margin = float(weights_of(chances).sum()) - max(0.0, float(weights_of(against).sum()))
    return bool(clear >= _FEWEST_CLEAR and margin >= _LEAST_WEIGHT)


def best_way(ways: tuple[Way, ...], marks_mm: FloatArray, seen: BoardRoundness) -> Way | None:
    """Give the way that beats all others, or None.

    Parameters
    ----------
    ways : tuple of Way
    marks_mm : ndarray, shape (n, 2)
    seen : BoardRoundness
    """
    for one in ways:
        if all(beats(one, other, marks_mm, seen) for other in ways if other is not one):
            return one
    return None


def _alone(one: Way, other: Way, marks_mm: FloatArray) -> NDArray[np.bool_]:
    """Which marks one way has where the other has none."""
    if len(marks_mm) == 0:
        return np.zeros(0, bool)
    apart = np.linalg.norm(one.carried(marks_mm)[:, None] - other.carried(marks_mm)[None], axis=2)
    return np.asarray(apart.min(axis=1) > _APART_MM)
