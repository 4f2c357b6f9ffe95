"""Colours that stand at several places of a bar's path: decided by what lies around them, or left out.

A path that repeats (a rainbow run through twice) or comes back near itself gives one colour several places. Temperature
is continuous nearly everywhere, so a pixel beside one already known has the place next to it. Known places spread over
a region in this way, pixel by pixel; a region that nothing known touches, or where what spread from two sides does not
meet, stays undecided.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.nearest import F32
from irspot.decoding.overlays import pieces
from irspot.decoding.path import COARSE, SAMPLES, ColorPath
from irspot.opencv import load_cv2

Bool = NDArray[np.bool_]

_EXACT_NEAR: Final = 2.5
_LOSSY_NEAR: Final = 4.0
"""Distance of two places in colour, up to which they cannot be told apart: of exact colours, and in units of noise."""
_APART: Final = 2.5
"""How many times further away the path has to go between two such places."""
_MOST_PLACES: Final = 8
_STEP: Final = 0.03 * SAMPLES
"""Difference from the known surroundings, in samples, that a place may have."""
_CLEAR: Final = 3.0
"""How many times more the next best place has to differ."""
_MOST_ROUNDS: Final = 2000
_SEAM: Final = 4.0 * _STEP


def places_alike(path: ColorPath, noise: float) -> NDArray[np.float32] | None:
    """List the places whose colours cannot be told apart, for each coarse sample of a path.

    Parameters
    ----------
    path : ColorPath
    noise : float
        Of a channel.

    Returns
    -------
    ndarray of float32, shape (SAMPLES / COARSE, k), or None
        Positions in samples, the sample's own first, NaN where there are fewer; None where no colour stands at two
        places.
    """
    colors = path.colors[::COARSE].astype(np.float64)
    apart = np.linalg.norm(colors[:, None] - colors, axis=2)
    near = _LOSSY_NEAR * noise if path.lossy else _EXACT_NEAR
    alike = np.full((len(colors), _MOST_PLACES), np.nan, np.float32)
    for k, row in enumerate(apart):
        found = _other_runs(row, k, near)[: _MOST_PLACES - 1]
        alike[k, 0] = k * COARSE
        alike[k, 1 : 1 + len(found)] = np.array(found, np.float32) * COARSE
    return alike if np.isfinite(alike[:, 1]).any() else None


def _other_runs(distance: NDArray[np.float64], own: int, near: float) -> list[int]:
    """Nearest sample of each stretch of the path that comes near, other than the one the sample itself lies on."""
    close, far = distance < near, distance >= _APART * near
    if np.count_nonzero(close) == 0:
        return []
    stretch = np.cumsum(far)  # samples between two far ones share a number
    found = []
    for number in np.unique(stretch[close]):
        members = np.flatnonzero(close & (stretch == number))
        if stretch[own] != number:
            found.append(int(members[np.argmin(distance[members])]))
    return found


def decided(at: F32, usable: Bool, alike: NDArray[np.float32]) -> tuple[F32, Bool]:
    """Decide between places of one colour from the surroundings.

    Parameters
    ----------
    at : ndarray of float32, shape (rows, columns)
        Positions in samples.
    usable : ndarray of bool, shape (rows, columns)
        Pixels with a colour of the path.
    alike : ndarray of float32, shape (SAMPLES / COARSE, k)
        From `places_alike`.

    Returns
    -------
    at : ndarray of float32, shape (rows, columns)
    ambiguous : ndarray of bool, shape (rows, columns)
        Pixels that nothing decides.
    """
    coarse = np.clip(np.rint(at / COARSE).astype(np.intp), 0, len(alike) - 1)
    open_ = usable & np.isfinite(alike[:, 1])[coarse]
    doubtful = open_.copy()
    known = usable & ~open_
    at = at.copy()
    for _ in range(_MOST_ROUNDS):
        index, place = _next_to_known(at, known, open_, alike, coarse)
        if not len(index):
            break
        at.ravel()[index] = place
        known.ravel()[index] = True
        open_.ravel()[index] = False
    return at, open_ | _with_seams(at, known, doubtful)


def _next_to_known(
    at: F32, known: Bool, open_: Bool, alike: NDArray[np.float32], coarse: NDArray[np.intp]
) -> tuple[NDArray[np.intp], F32]:
    """Decide the pixels beside known ones, where one of their places clearly goes on from these."""
    cv2 = load_cv2()
    share = cv2.blur(known.astype(np.float32), (3, 3))
    index = np.flatnonzero(open_ & (share > 0.01))
    mean = cv2.blur(np.where(known, at, 0.0).astype(np.float32), (3, 3)).ravel()[index] / share.ravel()[index]
    # What the coarse sample is off by holds for its other places as well.
    own = at.ravel()[index] - (coarse.ravel()[index] * COARSE)
    places = alike[coarse.ravel()[index]]
    places[:, 0] = at.ravel()[index]
    places[:, 1:] += own[:, None]
    miss = np.abs(places - mean[:, None])
    miss[~np.isfinite(miss)] = np.inf
    order = np.sort(miss, axis=1)
    clear = (order[:, 0] <= _STEP) & (order[:, 1] >= _CLEAR * order[:, 0] + 0.5 * _STEP)
    chosen = np.clip(places[np.arange(len(index)), miss.argmin(axis=1)], 0.0, SAMPLES - 1.0)
    return index[clear], chosen[clear].astype(np.float32)


def _with_seams(at: F32, known: Bool, doubtful: Bool) -> Bool:
    """Find regions once doubtful in which places that spread from two sides do not meet."""
    decided_here = doubtful & known
    if not decided_here.any():
        return decided_here
    labels, stats = pieces(decided_here)
    torn = np.zeros(len(stats), bool)
    for before, after in ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1], np.s_[1:])):
        same = (labels[before] == labels[after]) & (labels[before] > 0)
        jump = same & (np.abs(at[before] - at[after]) > _SEAM)
        torn[labels[before][jump]] = True
    return np.asarray(torn[labels])
