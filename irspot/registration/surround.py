"""Whether what lies around an outline may be the rest of the board: sockets and heatsinks can have its form.

A bench beside a board is mostly even; a board around one of its own parts is not. Along the outline, a little outside,
the temperatures of the one stray by a small part of the step across the outline, those of the other by as much as that.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.opencv import load_cv2
from irspot.registration.placement import Placement

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]

_SURE_SHARE: Final = 0.68
"""An outline that shows along so much of it is believed whatever lies around."""
_SURE_AREA: Final = 0.45
"""So is one that covers so much of the frame: no room is left for a board around it."""
_DOUBTED_AREA: Final = 0.25
"""One that covers less is believed only where it shows: most of what has a board's form is smaller than boards are."""
_MOST_STRAY: Final = 0.7
_EVEN_SHARE: Final = 0.35
"""How much temperatures outside stray, against the step across, along the evenest third of an outline (warm things may
lie along the rest): 0.1 or less beside the demo's boards, 1.7 beside the larger part of one that was taken for it."""
_BESIDE: Final = 0.024
_LEAST_BESIDE_PX: Final = 4.0
"""Where that is looked at, inside and outside of the outline: a share of the frame's longer side, and at least."""
_STEP_PX: Final = 2.0
_FEWEST: Final = 20


def may_be_a_part(degc: F32, placement: Placement, board: Board) -> bool:
    """Say whether an outline that shows in part only may be that of a part of the board.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Without gaps.
    placement : Placement
        Found by the outline; one that marks bear out is no part.
    board : Board
    """
    if placement.marks or placement.share_held is None or placement.share_held >= _SURE_SHARE:
        return False
    corners = placement.to_px(board.outline.array_mm)
    columns, rows = placement.size_px
    cv2 = load_cv2()
    hull = cv2.convexHull(corners.astype(np.float32))
    area = float(cv2.contourArea(hull)) / (columns * rows)
    if area >= _SURE_AREA:
        return False
    return area < _DOUBTED_AREA or stray(degc, corners) > _MOST_STRAY


def stray(degc: F32, corners_px: FloatArray) -> float:
    """How unlike places beside an outline are, against the step across it.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
    corners_px : ndarray, shape (n, 2)
        Of the outline, in order.

    Returns
    -------
    float
        Deviation outside that the evenest third keeps to, over the median step; infinite where there is no step, 0
        where too little is in view.
    """
    cv2 = load_cv2()
    beside = max(_LEAST_BESIDE_PX, _BESIDE * max(degc.shape))
    smooth = cv2.GaussianBlur(degc, (0, 0), beside / 4.0)
    places, outwards = _border(corners_px)
    (inside, seen_inside), (outside, seen_outside) = (
        _read(smooth, places + way * beside * outwards) for way in (-1.0, 1.0)
    )
    seen = seen_inside & seen_outside
    if np.count_nonzero(seen) < _FEWEST:
        return 0.0
    step = float(np.median(np.abs(inside[seen] - outside[seen])))
    spread = float(np.quantile(np.abs(outside[seen] - np.median(outside[seen])), _EVEN_SHARE))
    return spread / step if step > 0.0 else float("inf")


def _border(corners_px: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Places along a closed outline, and unit vectors pointing out of it."""
    following = np.roll(corners_px, -1, axis=0)
    turn = float(np.sum(corners_px[:, 0] * following[:, 1] - following[:, 0] * corners_px[:, 1]))
    places, outwards = [], []
    for begin, end in zip(corners_px, following, strict=True):
        length = float(np.hypot(*(end - begin)))
        count = max(2, int(length / _STEP_PX))
        places.append(begin + (end - begin) * ((np.arange(count) + 0.5) / count)[:, None])
        along = (end - begin) / max(length, 1e-9) * np.sign(turn)
        outwards.append(np.tile([along[1], -along[0]], (count, 1)))
    return np.concatenate(places), np.concatenate(outwards)


def _read(degc: F32, places_px: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Temperatures at places, and whether these are in view."""
    last = np.array(degc.shape[::-1]) - 1
    seen = np.all((places_px >= 0.0) & (places_px <= last), axis=1)
    x, y = (np.ascontiguousarray(axis, np.float32)[:, None] for axis in places_px.T)
    read = load_cv2().remap(degc, x, y, load_cv2().INTER_LINEAR)
    return np.asarray(read[:, 0], np.float64), np.asarray(seen)
