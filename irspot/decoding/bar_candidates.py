"""Where a picture could have a colour bar: long stretches whose colours are constant across and change along.

Everything here looks for upright bars; a lying bar is found in the transposed picture.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.bar_view import UprightView
from irspot.opencv import load_cv2

IntArray = NDArray[np.int64]

_SPAN_ROWS = 4
_SIDE_ROWS = 32
_LEAST_SIDE_STEP = 10.0
"""Of 255, on average along the stretch. Bars differ from their borders, gaps and scenes by 25 and more."""


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far colours of one row of a bar may differ.

    Parameters
    ----------
    columns : int
        Neighbours that have to agree; odd; so the thinnest bar that is found.
    luma, chroma : int
        Largest less smallest of these columns.
    smooth_px : int
        Rows averaged beforehand, against compression noise; odd.
    gap_px : int
        Rows out of line that do not break a stretch; odd.
    profile : float
        By how much neighbouring colours of the bar's profile differ from noise alone.
    across : float
        Mean difference of a bar's columns from their mean; a strip of the scene carries the frame's noise on top.
    """

    columns: int
    luma: int
    chroma: int
    smooth_px: int
    gap_px: int
    profile: float
    across: float


EXACT = Tolerance(columns=5, luma=1, chroma=2, smooth_px=1, gap_px=1, profile=1.5, across=0.15)
"""For pictures without loss: one row of a bar has one colour."""

LOSSY = Tolerance(columns=5, luma=9, chroma=18, smooth_px=5, gap_px=9, profile=5.0, across=5.0)
"""For JPEG. Measured on rendered bars: at quality 70 with 4:2:0, nine in ten keep 95 % of their rows within 7.4 in luma
and 12.4 in chroma, over 5 columns and after averaging 5 rows."""


NARROW = Tolerance(columns=3, luma=16, chroma=40, smooth_px=5, gap_px=9, profile=5.0, across=5.0)
"""For bars of few px and for steps of strong colours, where compression leaves only the middle columns alike."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Neighbouring columns that agree over a range of rows; ends exclusive."""

    x0: int
    x1: int
    y0: int
    y1: int


def flat_across(view: UprightView, tolerance: Tolerance) -> NDArray[np.uint8]:
    """Mark where the columns around a pixel agree.

    Parameters
    ----------
    view : UprightView
    tolerance : Tolerance

    Returns
    -------
    ndarray of uint8, shape (rows, columns)
        255 where they agree, else 0. The outermost columns compare with what lies inside.
    """
    cv2 = load_cv2()
    kernel = np.ones((1, tolerance.columns), np.uint8)
    flat: NDArray[np.uint8] | None = None
    for plane, bound in zip(view.ycc_rows, (tolerance.luma, tolerance.chroma, tolerance.chroma), strict=True):
        smooth = cv2.blur(plane, (1, tolerance.smooth_px)) if tolerance.smooth_px > 1 else plane
        spread = cv2.subtract(cv2.dilate(smooth, kernel), cv2.erode(smooth, kernel))
        within = cv2.compare(spread, float(bound), cv2.CMP_LE)
        flat = within if flat is None else cv2.bitwise_and(flat, within)
    if tolerance.gap_px > 1:
        flat = cv2.morphologyEx(flat, cv2.MORPH_CLOSE, np.ones((tolerance.gap_px, 1), np.uint8))
    return np.asarray(flat)


def column_runs(flat: NDArray[np.uint8], view: UprightView, shortest: int, contrast: int) -> NDArray[np.intp]:
    """Find runs down single columns that are flat across and change along.

    Parameters
    ----------
    flat : ndarray of uint8, shape (rows, columns)
    view : UprightView
    shortest : int
        Rows.
    contrast : int
        Least range of luma, or of a chroma, along the run.

    Returns
    -------
    ndarray, shape (n, 3)
        Column, first row, row after the last; by column.
    """
    rows, columns = flat.shape
    # A row of zeros between the columns keeps runs from going on in the next one.
    upright = np.zeros((columns, rows + 1), np.uint8)
    upright[:, :rows] = load_cv2().transpose(flat)
    line = upright.ravel()
    change = np.flatnonzero(line[1:] != line[:-1]) + 1
    if line[0]:
        change = np.concatenate([[0], change])
    starts, stops = change[::2], change[1::2]
    long = stops - starts >= shortest
    starts, stops = starts[long], stops[long]
    if not len(starts):
        return np.empty((0, 3), np.intp)
    column = starts // (rows + 1)
    first, last = starts - column * (rows + 1), stops - column * (rows + 1)
    changing = _span(column, first, last, view.ycc_columns) >= contrast
    return np.column_stack([column, first, last])[changing]


def _span(
    column: NDArray[np.intp], first: NDArray[np.intp], last: NDArray[np.intp], ycc: NDArray[np.uint8]
) -> IntArray:
    """Give the largest range of a plane along runs, seen in every `_SPAN_ROWS`-th row."""
    thin = ycc[:, :, ::_SPAN_ROWS]
    count = thin.shape[2]
    begin, end = column * count + -(-first // _SPAN_ROWS), column * count + -(-last // _SPAN_ROWS)
    # The pairs' gaps are reduced as well and left out; a run may end where the planes do.
    pairs = np.column_stack([begin, end]).ravel()
    span = np.zeros(len(column), np.int64)
    for plane in thin:
        flatline = np.append(plane.ravel(), np.uint8(0))
        high = np.maximum.reduceat(flatline, pairs)[::2].astype(np.int64)
        low = np.minimum.reduceat(flatline, pairs)[::2]
        span = np.maximum(span, high - low)
    return span


def stretches(runs: NDArray[np.intp], columns: int, tolerance: Tolerance) -> list[Stretch]:
    """Join runs of neighbouring columns that overlap by two thirds.

    Parameters
    ----------
    runs : ndarray, shape (n, 3)
        From `column_runs`.
    columns : int
        Of the picture.
    tolerance : Tolerance

    Returns
    -------
    list of Stretch
        Columns that agreed, those at either side of the outermost run included.
    """
    grown: list[list[tuple[int, int, int]]] = []
    open_groups: list[list[tuple[int, int, int]]] = []
    column = -1
    for run in map(tuple, runs.tolist()):
        if run[0] != column:
            column = run[0]
            open_groups = [group for group in open_groups if group[-1][0] >= column - 1]
        home = next((g for g in open_groups if g[-1][0] == run[0] - 1 and _overlap(g[-1], run) > 0.67), None)
        if home is None:
            home = []
            grown.append(home)
            open_groups.append(home)
        home.append((run[0], run[1], run[2]))
    half = tolerance.columns // 2
    found = []
    for group in grown:
        first, last = max(0, group[0][0] - half), min(columns, group[-1][0] + half + 1)
        middle = len(group) // 2
        y0, y1 = sorted(run[1] for run in group)[middle], sorted(run[2] for run in group)[middle]
        found.append(Stretch(first, last, y0, y1))
    return found


def promising(found: list[Stretch], luma: NDArray[np.uint8], most: int) -> list[Stretch]:
    """Keep the stretches that are slender and whose two sides differ from them, those with most luma along them first.

    A cheap look at a few columns and rows, before anything is refined.

    Parameters
    ----------
    found : list of Stretch
    luma : ndarray of uint8, shape (columns, rows)
    most : int
        To keep.
    """
    if not found:
        return []
    x0, x1, y0, y1 = np.array([(s.x0, s.x1, s.y0, s.y1) for s in found]).T
    step = _side_steps(x0, x1, y0, y1, luma)
    worth = np.where(step >= _LEAST_SIDE_STEP, step * (y1 - y0), 0.0)
    order = np.argsort(-worth, kind="stable")[:most]
    return [found[k] for k in order if worth[k] > 0.0]


def _side_steps(x0: IntArray, x1: IntArray, y0: IntArray, y1: IntArray, luma: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Give the mean difference of luma between the middle and what lies outside, the less different side of the two.

    The stretch may be a part of the bar only, so the columns outside reach twice its width away.
    """
    rows = y0[:, None] + ((np.arange(_SIDE_ROWS) + 0.5) / _SIDE_ROWS * (y1 - y0)[:, None]).astype(np.intp)
    width = x1 - x0
    away = np.stack([np.broadcast_to(d, width.shape) for d in (1, 3, 6)] + [width // 2 + 6, width + 6, 2 * width + 6])
    middle = luma[(x0 + x1)[:, None] // 2, rows].astype(np.int16)
    sides = []
    for columns in (x0 - away, x1 - 1 + away):
        inside = (columns >= 0) & (columns < len(luma))
        lines = luma[np.where(inside, columns, 0)[..., None], rows]
        step = np.abs(lines - middle).mean(axis=-1)
        # A stretch at the picture's edge has one side only.
        sides.append(np.where(inside.any(axis=0), np.where(inside, step, -1.0).max(axis=0), np.inf))
    lesser = np.minimum(*sides)
    return np.where(np.isfinite(lesser), lesser, 0.0)


def _overlap(a: tuple[int, int, int], b: tuple[int, ...]) -> float:
    common = min(a[2], b[2]) - max(a[1], b[1])
    return common / max(a[2] - a[1], b[2] - b[1])


def joined(found: list[Stretch], most_gap: float = 0.5) -> list[Stretch]:
    """Add what stretches one below the other in the same columns make together, where noise may have torn a bar.

    Parameters
    ----------
    found : list of Stretch
    most_gap : float
        Largest gap, as a share of the longer one's length.
    """
    together = []
    for number, a in enumerate(found):
        for b in found[number + 1 :]:
            upper, lower = (a, b) if a.y0 <= b.y0 else (b, a)
            common = min(a.x1, b.x1) - max(a.x0, b.x0)
            gap = lower.y0 - upper.y1
            longer = max(a.y1 - a.y0, b.y1 - b.y0)
            if common >= 0.6 * max(a.x1 - a.x0, b.x1 - b.x0) and -0.5 * longer < gap <= most_gap * longer:
                columns = (max(a.x0, b.x0), min(a.x1, b.x1))
                together.append(Stretch(*columns, upper.y0, max(upper.y1, lower.y1)))
    return found + [stretch for stretch in dict.fromkeys(together) if stretch not in found]
