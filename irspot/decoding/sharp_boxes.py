"""Rectangles with straight, axis-parallel borders that are one pixel sharp, from the light of a picture.

Light is averaged over strips of a few rows (or columns), so that a faint border stands out of noise; along each strip a
border is a step larger than the next ones. Steps at one place in many strips are a side, four sides that meet a box.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2

Bool = NDArray[np.bool_]
U8 = NDArray[np.uint8]
F32 = NDArray[np.float32]
Box = tuple[int, int, int, int]
Sides = NDArray[np.intp]
"""Row by row: where a side lies, where along it it begins and ends."""

STRIP_PX: Final = 8
_STEP: Final = {False: 1.25, True: 1.6}
"""Light from one pixel to the next at a border, at least, averaged over a strip, of exact and of lossy pictures."""
_MEAN_STEP: Final = {False: 1.25, True: 2.2}
"""The same, averaged along a side."""
_OF_THREE: Final = 0.48
"""Share of the step over three pixels that lies between the middle two; one half through a lens."""
_BROKEN: Final = 8
"""Strips missing from a side, at most: something bright may lie across."""
_SHARPER: Final = 2.6
"""How many times larger that step is than the next ones; twice through a lens."""
_FAINT_SHARPER: Final = 1.15
_FAINT: Final = (8.0, 40.0)
"""The same of a lossy picture's faint steps, which coding blurs, and where between the two it changes."""
_NEAR_PX: Final = 9
_FAR_PX: Final = 28
_MISSING: Final = 0.5
"""How far from a corner a side may end: what is left over of a strip, and a little; of long sides, a share, since
a part may lie across the corner, up to the second."""
_SHORTEST_PX: Final = 14
_AROUND_BAR_PX: Final = 4
_MOST_SIDES: Final = 200
_MOST_BOXES: Final = 40
"""Only so many, the longest and the largest, are looked at: a photograph full of edges must not take long."""
_MOST_SHARE: Final = 0.15
"""Of the picture; what covers more is the picture itself."""


def sharp_boxes(light: U8, bar: Box, lossy: bool) -> list[Box]:
    """Find boxes with sharp borders on all sides, one of which may be the picture's edge.

    Parameters
    ----------
    light : ndarray of uint8, shape (rows, columns)
    bar : (int, int, int, int)
        Where the bar lies, in and around which no side is looked for.
    lossy : bool

    Returns
    -------
    list of (int, int, int, int)
        The largest first.
    """
    cv2 = load_cv2()
    x0, y0, x1, y1 = bar
    upright = _longest(_apart_from(_sides(light, lossy), (x0, x1), (y0, y1)))
    lying = _longest(_apart_from(_sides(cv2.transpose(light), lossy), (y0, y1), (x0, x1)))
    if len(upright) + len(lying) < 3:
        return []
    rows, columns = light.shape
    upright = np.concatenate([upright, [[0, 0, rows], [columns, 0, rows]]])
    lying = np.concatenate([lying, [[0, 0, columns], [rows, 0, columns]]])
    fitting = [box for box in _closed(upright, lying) if _fits(box, rows, columns)]
    return sorted(fitting, key=_area, reverse=True)[:_MOST_BOXES]


def _area(box: Box) -> int:
    return (box[2] - box[0]) * (box[3] - box[1])


def _sides(light: U8, lossy: bool) -> Sides:
    """Find upright sides."""
    cv2 = load_cv2()
    rows, columns = light.shape
    strips = rows // STRIP_PX
    if strips < 2 or columns < STRIP_PX:
        return np.empty((0, 3), np.intp)
    whole = light[: strips * STRIP_PX].astype(np.float32)
    mean = cv2.resize(whole, (columns, strips), interpolation=cv2.INTER_AREA)
    step = np.zeros_like(mean)
    np.abs(mean[:, 1:] - mean[:, :-1], out=step[:, 1:])
    beside = np.zeros_like(step)
    np.maximum(step[:, :-2], step[:, 2:], out=beside[:, 1:-1])
    strip, at = np.nonzero((step > _STEP[lossy]) & (step > _FAINT_SHARPER * beside))
    strong, next_to = step[strip, at], beside[strip, at]
    sharper = np.interp(strong, _FAINT, (_FAINT_SHARPER, _SHARPER)) if lossy else _SHARPER
    sharp = strong > sharper * next_to
    found = np.zeros(step.shape, np.uint8)
    found[strip[sharp], at[sharp]] = 1
    return _runs(cv2.morphologyEx(found, cv2.MORPH_CLOSE, np.ones((3, 1), np.uint8)), mean, _MEAN_STEP[lossy])


def _apart_from(sides: Sides, across: tuple[int, int], along: tuple[int, int]) -> Sides:
    """Drop sides within a box or at its border."""
    at, begin, end = sides.T
    beside = (at < across[0] - _AROUND_BAR_PX) | (at > across[1] + _AROUND_BAR_PX)
    beyond = (end <= along[0] + STRIP_PX) | (begin >= along[1] - STRIP_PX)
    return np.asarray(sides[beside | beyond])


def _longest(sides: Sides) -> Sides:
    if len(sides) <= _MOST_SIDES:
        return sides
    return np.asarray(sides[np.argsort(sides[:, 1] - sides[:, 2], kind="stable")[:_MOST_SIDES]])


def _runs(mask: U8, mean: F32, least: float) -> Sides:
    """List runs of two strips at least, and, where several lie in line, what reaches over all of them."""
    strips = mask.shape[0]
    padded = np.zeros((mask.shape[1], strips + 2), np.int8)
    padded[:, 1:-1] = mask.T
    change = np.diff(padded, axis=1).ravel()
    begin, end = np.flatnonzero(change == 1), np.flatnonzero(change == -1)
    long = end - begin >= 2
    at, first = np.divmod(begin[long], strips + 1)
    last = first + (end - begin)[long]
    step = _sums(np.abs(mean[:, at] - mean[:, at - 1]), first, last)
    far = np.minimum(at + 1, mean.shape[1] - 1), np.maximum(at - 2, 0)
    around = _sums(np.abs(mean[:, far[0]] - mean[:, far[1]]), first, last)
    strong = (step >= least * (last - first)) & (step >= _OF_THREE * around)
    at, first, last = at[strong], first[strong], last[strong]
    near = np.flatnonzero((at[1:] == at[:-1]) & (first[1:] - last[:-1] <= _BROKEN))
    at, first, last = (np.concatenate(pair) for pair in ((at, at[near]), (first, first[near]), (last, last[near + 1])))
    return np.stack([at, first * STRIP_PX, last * STRIP_PX], axis=1)


def _sums(values: F32, first: NDArray[np.intp], last: NDArray[np.intp]) -> F32:
    """Add up a part of each column."""
    total = np.zeros((len(values) + 1, len(first)), np.float32)
    np.cumsum(values, axis=0, out=total[1:])
    each = np.arange(len(first))
    return np.asarray(total[last, each] - total[first, each])


def _missing(sides: Sides) -> Sides:
    """Say how much may be missing at the ends of sides."""
    return np.clip((_MISSING * (sides[:, 2] - sides[:, 1])).astype(np.intp), _NEAR_PX, _FAR_PX)


def _closed(upright: Sides, lying: Sides) -> list[Box]:
    """Join sides that meet at four corners."""
    # Shape (lying, upright): whether the one reaches the other and goes on from there.
    y, begin_x, end_x, near_x = (column[:, None] for column in (*lying.T, _missing(lying)))
    x, begin_y, end_y, near_y = (column[None] for column in (*upright.T, _missing(upright)))
    down, up = (begin_y <= y + near_y) & (end_y > y + _NEAR_PX), (end_y >= y - near_y) & (begin_y < y - _NEAR_PX)
    to_right, to_left = (
        (begin_x <= x + near_x) & (end_x > x + _NEAR_PX),
        (end_x >= x - near_x) & (begin_x < x - _NEAR_PX),
    )
    corners = [
        (a & b).astype(np.float32) for a, b in ((down, to_right), (down, to_left), (up, to_right), (up, to_left))
    ]
    above, below = corners[0].T @ corners[1], corners[2].T @ corners[3]
    found = set()
    for left, right in np.argwhere((above > 0) & (below > 0)):
        tops = lying[(corners[0][:, left] > 0) & (corners[1][:, right] > 0), 0]
        bottoms = lying[(corners[2][:, left] > 0) & (corners[3][:, right] > 0), 0]
        for top in tops:
            for bottom in bottoms:
                found.add((int(upright[left, 0]), int(top), int(upright[right, 0]), int(bottom)))
    return sorted(found)


def _fits(box: Box, rows: int, columns: int) -> bool:
    x0, y0, x1, y1 = box
    at_edge = (x0 == 0) + (y0 == 0) + (x1 == columns) + (y1 == rows)
    small = (x1 - x0) * (y1 - y0) <= _MOST_SHARE * rows * columns
    return at_edge <= 1 and small and min(x1 - x0, y1 - y0) >= _SHORTEST_PX
