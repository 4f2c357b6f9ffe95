"""Colours that stand at several places of a bar's path: decided by what lies around them, or left out.

A path that repeats (a rainbow run through twice) or comes back near itself gives one colour several places. Temperature
is continuous nearly everywhere, so a pixel beside one already known has the place next to it. Known places spread over
a region in this way, pixel by pixel; a region that nothing known touches, or where what spread from two sides does not
meet, stays undecided.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.nearest import F32
from irspot.decoding.overlays import pieces, widened
from irspot.decoding.path import COARSE, SAMPLES, ColorPath
from irspot.opencv import load_cv2

Bool = NDArray[np.bool_]
Project = Callable[[NDArray[np.intp], F32], F32]

_EXACT_NEAR: Final = 3.0
_LOSSY_NEAR: Final = 4.0
"""Distance of two places in colour, up to which they cannot be told apart: of exact colours, and in units of noise."""
_CORNER: Final = 0.25
_APART: Final = 2.5
"""How many times further away the path has to go between two such places."""
_LONGEST_PATH: Final = 6000.0
"""Length in colour from which a path winds so closely that rounding leads from one winding to the next; maps made to be
read have 300 to 2900."""
_MOST_PLACES: Final = 8
_PARTS: Final = 8
_STEP: Final = 0.03 * SAMPLES
"""Difference from the known surroundings, in samples, that a place may have."""
_CLEAR: Final = 3.0
"""How many times more the next best place has to differ."""
_MOST_ROUNDS: Final = 2000
_AREA_PX: Final = 5
_MOST_REPEATED: Final = 0.6
"""Share of the path that stands at several places, from which what is left is too little to begin from."""
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
    if float(np.linalg.norm(path.slopes, axis=1).sum()) > _LONGEST_PATH:
        return np.zeros((SAMPLES // COARSE, 2), np.float32)
    # Two runs through the same colours, in other steps, cut each other's corners by a part of a step of colour.
    step = np.linalg.norm(path.slopes, axis=1) * path.widths / np.float32(path.spacing)
    near = (_LOSSY_NEAR * noise if path.lossy else _EXACT_NEAR) + _CORNER * step[::COARSE, None]
    colors = path.colors - path.colors.mean(axis=0)
    square = np.sum(colors**2, axis=1)
    # In parts so small that the product stays on one thread: handing it to several costs more than it saves.
    product = (colors[::COARSE].reshape(_PARTS, -1, 3) @ colors.T).reshape(-1, SAMPLES)
    apart = square[::COARSE, None] + square - 2.0 * product
    # Only where the path is near, then far, then near again can there be another place.
    stretch = np.cumsum(apart >= (_APART * near) ** 2, axis=1, dtype=np.int16)
    own = stretch[np.arange(len(apart)), np.arange(0, SAMPLES, COARSE)]
    again = (apart < near**2) & (stretch != own[:, None])
    if not again.any():
        return None
    alike = np.full((SAMPLES // COARSE, _MOST_PLACES), np.nan, np.float32)
    alike[:, 0] = np.arange(0, SAMPLES, COARSE)
    for k in np.flatnonzero(again.any(axis=1)):
        found = _nearest_of_each(apart[k], stretch[k], again[k])[: _MOST_PLACES - 1]
        alike[k, 1 : 1 + len(found)] = found
    return alike


def _nearest_of_each(distance: F32, stretch: NDArray[np.int16], again: Bool) -> list[int]:
    """Nearest sample of each stretch of the path that comes near again."""
    found = []
    for number in np.unique(stretch[again]):
        members = np.flatnonzero(again & (stretch == number))
        found.append(int(members[np.argmin(distance[members])]))
    return found


def decided(at: F32, usable: Bool, alike: NDArray[np.float32], project: Project) -> tuple[F32, Bool]:
    """Decide between places of one colour from the surroundings.

    Parameters
    ----------
    at : ndarray of float32, shape (rows, columns)
        Positions in samples.
    usable : ndarray of bool, shape (rows, columns)
        Pixels with a colour of the path.
    alike : ndarray of float32, shape (SAMPLES / COARSE, k)
        From `places_alike`.
    project : callable
        Projects the colours of pixels (their indices) near given places.

    Returns
    -------
    at : ndarray of float32, shape (rows, columns)
    ambiguous : ndarray of bool, shape (rows, columns)
        Pixels that nothing decides.
    """
    coarse = np.clip(np.rint(at / COARSE).astype(np.intp), 0, len(alike) - 1)
    open_ = usable & np.isfinite(alike[:, 1])[coarse]
    doubtful = open_.copy()
    if np.mean(np.isfinite(alike[:, 1])) > _MOST_REPEATED:
        return at, usable.copy()
    known = _areas(usable & ~open_)
    alone = usable & ~open_ & ~known
    at = at.copy()
    for _ in range(_MOST_ROUNDS):
        index, place = _next_to_known(at, known, open_, alike, coarse)
        if not len(index):
            break
        at.ravel()[index] = project(index, place)
        known.ravel()[index] = True
        open_.ravel()[index] = False
    undecided = open_ | _with_seams(at, known, doubtful)
    # A single pixel that seems to be unique amid others that are not owes it to noise or mixing.
    astray = alone & (np.abs(at - _mean_of_known(at, known)) > _STEP)
    return at, undecided | astray | (alone & widened(undecided, _AREA_PX // 2 + 1))


def _mean_of_known(at: F32, known: Bool) -> F32:
    """Mean of known neighbours; the pixel's own value where there are none."""
    cv2 = load_cv2()
    share = cv2.blur(known.astype(np.float32), (_AREA_PX, _AREA_PX))
    total = cv2.blur(np.where(known, at, 0.0).astype(np.float32), (_AREA_PX, _AREA_PX))
    return np.where(share > 0.01, total / np.maximum(share, np.float32(0.01)), at).astype(np.float32)


def _areas(known: Bool) -> Bool:
    """Keep known pixels that have known ones around them; the colour of an edge may be anything by mixing."""
    kernel = np.ones((_AREA_PX, _AREA_PX), np.uint8)
    return np.asarray(load_cv2().morphologyEx(known.astype(np.uint8), load_cv2().MORPH_OPEN, kernel) > 0)


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
