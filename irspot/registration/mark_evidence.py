"""What speaks for a mark being at a place: how round the frame is there, against places of the same board by chance.

A place's roundness is the largest within the reach of the placement's error. The share of all places on the board that
come to as much is the chance of it, whatever the board is full of. Of marks that are there experience has the chance p
distributed as ``a p^(a - 1)``, of those that are hidden or missing evenly: the likelihood ratio weighs one mark, and
the sum of logarithms several (no more than ``e^-E`` of boards without marks reach a sum E).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2
from irspot.registration.board_plane import BoardPlane
from irspot.registration.roundness import RADII_MM, Roundness, roundness

FloatArray = NDArray[np.float64]

REACH_PX: Final = 1.5
REACH_MM: Final = 0.5
"""Marks are sought within the sum of these of where they should be: edges found wrongly, and holes seen aslant."""
_OWN_MM: Final = 8.0
"""Places nearer than this to where a mark could be tell nothing about chance."""
_SHOWN: Final = 0.85
_SHARPNESS: Final = 0.12
"""Of marks in view, how many show, and the exponent a; from trial scenes."""
_FEWEST: Final = 200


@dataclass(frozen=True, slots=True, eq=False)
class BoardRoundness:
    """Roundness all over a board, and how common it is there.

    Parameters
    ----------
    plane : BoardPlane
    roundness : Roundness
        Of the plane's grid.
    near : ndarray of float32, shape (rows, columns)
        Largest share within reach.
    common : ndarray, shape (n,)
        The same at places where no mark could be, ascending.
    reach_mm : float
    """

    plane: BoardPlane
    roundness: Roundness
    near: NDArray[np.float32]
    common: FloatArray
    reach_mm: float

    def chances(self, xy_mm: FloatArray) -> FloatArray:
        """Give the share of places by chance as round as some places are, shape (n,); NaN where none can be seen."""
        column, row = self.plane.cells(xy_mm).T
        rows, columns = self.near.shape
        inside = (column >= 0) & (column < columns) & (row >= 0) & (row < rows)
        column, row = np.where(inside, column, 0), np.where(inside, row, 0)
        seen = inside & self.plane.known[row, column]
        if len(self.common) < _FEWEST:
            return np.full(len(xy_mm), np.nan)
        above = len(self.common) - np.searchsorted(self.common, self.near[row, column])
        return np.where(seen, (above + self._alike) / (len(self.common) + self._alike), np.nan)

    def roundest(self, xy_mm: FloatArray) -> tuple[FloatArray, float]:
        """Give the roundest place within reach of a place, in mm, and the radius of the disc there."""
        column, row = self.plane.cells(xy_mm[None])[0].tolist()
        cells = int(np.ceil(self.reach_mm / self.plane.step_mm))
        left, upper = max(column - cells, 0), max(row - cells, 0)
        part = self.roundness.share[upper : row + cells + 1, left : column + cells + 1]
        down, right = np.unravel_index(int(np.argmax(part)), part.shape)
        best = (upper + int(down), left + int(right))
        place = self.plane.origin_mm + self.plane.step_mm * np.array([best[1], best[0]], np.float64)
        return place, float(self.roundness.radius[best])

    @property
    def _alike(self) -> float:
        """Grid places that share one maximum: what the chance is uncertain by."""
        return float(np.pi * (self.reach_mm / self.plane.step_mm) ** 2)


def board_roundness(plane: BoardPlane, places_mm: FloatArray, noise_k: float) -> BoardRoundness:
    """Judge a board all over.

    Parameters
    ----------
    plane : BoardPlane
    places_mm : ndarray, shape (n, 2)
        Where marks could be: those places are no chance ones.
    noise_k : float

    Returns
    -------
    BoardRoundness
    """
    cv2 = load_cv2()
    found = roundness(plane.degc, plane.step_mm, plane.blur_mm, noise_k, RADII_MM)
    reach_mm = REACH_PX / plane.px_per_mm + REACH_MM
    cells = int(np.ceil(reach_mm / plane.step_mm))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * cells + 1, 2 * cells + 1))
    near = np.asarray(cv2.dilate(found.share, disc), np.float32)
    elsewhere = plane.known.astype(np.uint8)
    for column, row in plane.cells(places_mm).tolist():
        cv2.circle(elsewhere, (column, row), round(_OWN_MM / plane.step_mm), 0, -1)
    return BoardRoundness(plane, found, near, np.sort(near[elsewhere > 0]).astype(np.float64), reach_mm)


def weights_of(chances: FloatArray) -> FloatArray:
    """Logarithm of the likelihood ratio of a mark being where it should be, given the chance of what shows there.

    Parameters
    ----------
    chances : ndarray, shape (n,)
        NaN where nothing can be seen, which weighs nothing.

    Examples
    --------
    >>> weights_of(np.array([0.001, 0.3, np.nan])).round(1).tolist()
    [3.8, -0.8, 0.0]
    """
    density = _SHARPNESS * np.where(np.isfinite(chances), chances, 1.0) ** (_SHARPNESS - 1.0)
    return np.where(np.isfinite(chances), np.log(1.0 - _SHOWN + _SHOWN * density), 0.0)
