"""From a stretch that could hold a bar to the box of the bar's colours, to the pixel.

The stretch may be longer than the bar, because border, gap and panel beyond its ends are constant across as well. But
there the bar's columns look like the columns beside it: a border closes, a panel or the scene goes on. So the bar ends
where it no longer differs from its flanks, and where its last colour is that of the flanks, where its colours stop
changing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.bar_candidates import Stretch, Tolerance
from irspot.decoding.bar_fit import FIT_REACH, fitted_ends
from irspot.decoding.bar_view import UprightView

FloatArray = NDArray[np.float64]
_Sides = tuple[int, int, tuple[tuple[float, float], tuple[float, float]], float]

_BEYOND_PX = 16
"""How far beyond a stretch its ends are sought: rows next to an end may have been out of line across."""
_BRIDGE = 0.12
"""Share of the length over which a bar may look like its flanks, where a scene happens to have its colour."""

_SHARED_WITH_FRAME = 0.04
"""Share of a bar that may have its frame's colour. A scene around a warm strip has the colour of the strip's cold end,
and a bar's end is white or black in fewer rows."""
_SHARP = 6.0
"""An end is sharp where the bar differs from its flanks by this many times the profile's noise."""
_FAINT = 40.0
"""An end that differs from its flanks by no more than this, of 255, is left to the fit where a known map decides."""
_RINGING = 0.3
_MOST_RINGING = 80.0
"""Compression at quality 70 rings by up to three tenths of a step within its 8 px blocks, and by 25 of 255."""
_ALIKE = 0.9
"""Share of rows in which a column of the bar agrees with its middle."""


@dataclass(frozen=True, slots=True, eq=False)
class Extent:
    """A bar in an upright picture.

    Parameters
    ----------
    x0, x1, y0, y1 : int
        Ends exclusive.
    profile : ndarray, shape (y1 - y0, 3)
        RGB of each row, 0 to 255.
    flanks : tuple of (float, float)
        For the column outside either side: mean difference from the bar (of luma, a quarter of chroma added), and
        share of rows that do not differ. ``(inf, 0)`` at the picture's edge.
    across : float
        Mean difference of the bar's own columns from their mean.
    sharp : bool
        Whether the bar ends with a clear step at both ends.
    framed : bool
        Whether it has a column of one colour at either side, which is none of its own: a border, a gap, a panel.
    """

    x0: int
    x1: int
    y0: int
    y1: int
    profile: FloatArray
    flanks: tuple[tuple[float, float], tuple[float, float]]
    across: float
    sharp: bool = False
    framed: bool = False


def extent_of(view: UprightView, stretch: Stretch, tolerance: Tolerance) -> Extent | None:
    """Refine a stretch to a bar's box.

    Parameters
    ----------
    view : UprightView
    stretch : Stretch
    tolerance : Tolerance

    Returns
    -------
    Extent or None
        None where nothing in the stretch changes steadily.
    """
    first, last = max(0, stretch.y0 - _BEYOND_PX), min(view.rows, stretch.y1 + _BEYOND_PX)
    core = core_columns(stretch)
    profile = _mean_across(view.rgb_columns[:, core, first:last])
    changing = changing_part(profile, tolerance.profile)
    if changing is None:
        return None
    rows = slice(first + changing[0], first + changing[1])
    x0, x1, _, _ = sides_of(view.ycc_columns[..., rows], core, stretch, tolerance)
    if x1 - x0 < 3:
        return None
    ycc = view.ycc_columns[..., first:last]
    away = from_flanks(ycc, x0, x1, core)
    away[~flat_rows(ycc[0, max(core.start - 1, x0) : min(core.stop + 1, x1)], tolerance)] = 0.0
    y0, y1 = ends_of(profile, away, changing, tolerance)
    if y1 - y0 < 8:
        return None
    y0, y1 = first + y0, first + y1
    x0, x1, flanks, across = sides_of(view.ycc_columns[..., y0:y1], core, stretch, tolerance)
    inner = slice(x0 + 1, x1 - 1) if x1 - x0 > 4 else slice(x0, x1)
    rgb = view.rgb_columns[..., y0:y1]
    profile = _mean_across(rgb[:, inner])
    framed = all(_is_frame(rgb[:, x], profile, tolerance) for x in (x0 - 1, x1) if 0 <= x < view.columns)
    return Extent(x0, x1, y0, y1, profile, flanks, across, framed=framed)


def _is_frame(column: NDArray[np.uint8], profile: FloatArray, tolerance: Tolerance) -> bool:
    """Say whether a column beside a bar has one colour, and one that the bar has in few places at most."""
    color = np.median(column, axis=1)
    same = np.max(np.abs(column - color[:, None]), axis=0) <= 6.0 * tolerance.profile
    shared = np.max(np.abs(profile - color), axis=1) <= 6.0 * tolerance.profile
    return bool(np.mean(same) > _ALIKE and np.mean(shared) < _SHARED_WITH_FRAME)


def fitted_extent(extent: Extent, view: UprightView, tolerance: Tolerance) -> Extent:
    """Move ends that fade into their surroundings, or missed, to where a known map would have them.

    Parameters
    ----------
    extent : Extent
    view, tolerance
        As in `extent_of`.
    """
    reach = round(FIT_REACH * (extent.y1 - extent.y0)) + 4
    first, last = max(0, extent.y0 - reach), min(view.rows, extent.y1 + reach)
    ycc, rgb = view.ycc_columns[..., first:last], view.rgb_columns[..., first:last]
    core = core_columns(Stretch(extent.x0, extent.x1, extent.y0, extent.y1))
    y0, y1 = extent.y0 - first, extent.y1 - first
    away = from_flanks(ycc, extent.x0, extent.x1, core)
    levels = (_level(away[::-1], *_flipped(len(away), y0, y1)), _level(away, y0, y1))
    soft = tuple(level <= _FAINT for level in levels)
    profile = _mean_across(rgb[:, core])
    flat = flat_rows(ycc[0, core], tolerance)
    y0, y1 = fitted_ends(profile, flat, (y0, y1), (soft[0], soft[1]))
    sharp = _ends_sharply(away, y0, y1) and _ends_sharply(away[::-1], *_flipped(len(away), y0, y1))
    path = np.median(rgb[:, core, y0:y1].astype(np.float64), axis=1).T
    return replace(extent, y0=first + y0, y1=first + y1, profile=path, sharp=sharp)


def _ends_sharply(away: FloatArray, y0: int, y1: int) -> bool:
    """Say whether a bar differs clearly from its flanks up to its end, and what follows does not."""
    level = _level(away, y0, y1)
    after = away[y1 + 1 : y1 + 4]
    return level > _FAINT and (not len(after) or float(np.median(after)) < 0.4 * level)


def _mean_across(columns: NDArray[np.uint8]) -> FloatArray:
    """Average columns, shape (3, k, rows), to a profile, shape (rows, 3)."""
    return np.asarray(np.add.reduce(columns.astype(np.float32), axis=1).T / columns.shape[1], np.float64)


def core_columns(stretch: Stretch) -> slice:
    """Give the middle columns of a stretch, at least 3, which surely lie within the bar."""
    width = stretch.x1 - stretch.x0
    edge = max(0, min(width // 4 + 1, (width - 3) // 2))
    return slice(stretch.x0 + edge, stretch.x1 - edge)


def largest_step(profile: FloatArray, lag: int) -> FloatArray:
    """Largest change of a channel over a number of rows, shape (n - lag,)."""
    return np.asarray(np.max(np.abs(profile[lag:] - profile[:-lag]), axis=1))


def changing_part(profile: FloatArray, noise: float) -> tuple[int, int] | None:
    """Find the longest part of a profile that keeps changing over a tenth of its length; ends exclusive."""
    lag = max(4, len(profile) // 10)
    if len(profile) < 3 * lag:
        return None
    moving = np.concatenate([[False], largest_step(profile, lag) > 2.0 * noise, [False]])
    edges = np.flatnonzero(np.diff(moving.astype(np.int8)))
    if not len(edges):
        return None
    starts, stops = edges[::2], edges[1::2]
    longest = int(np.argmax(stops - starts))
    return int(starts[longest]), int(min(stops[longest] + lag, len(profile)))


def difference(a: NDArray[Any], b: NDArray[np.float32]) -> NDArray[np.float32]:
    """Difference of colours: of luma, with a quarter of that of Cr and Cb, which compression blurs.

    Parameters
    ----------
    a, b : ndarray of uint8 or float32, and of float32; shapes (3, ...)

    Returns
    -------
    ndarray of float32, shape (...)
    """
    away = np.abs(a - b)
    chroma = away[1] + away[2]
    chroma *= np.float32(0.25)
    return np.asarray(away[0] + chroma)


def _middle(ycc: NDArray[np.uint8], core: slice) -> NDArray[np.float32]:
    """Mean colour of the core columns, shape (3, rows)."""
    part = ycc[:, core].astype(np.float32)
    return np.asarray(np.add.reduce(part, axis=1) / np.float32(part.shape[1]))


def from_flanks(ycc: NDArray[np.uint8], x0: int, x1: int, core: slice) -> FloatArray:
    """Say how far the bar's middle differs from the columns beside it, the larger of both sides.

    Parameters
    ----------
    ycc : ndarray of uint8, shape (3, columns, rows)
    x0, x1 : int
    core : slice

    Returns
    -------
    ndarray, shape (rows,)
    """
    sides = [x for x in (x0 - 1, x1) if 0 <= x < ycc.shape[1]]
    if not sides:
        return np.zeros(ycc.shape[2])
    away = difference(ycc[:, sides], _middle(ycc, core)[:, None])
    return np.asarray(np.maximum.reduce(away, axis=0), np.float64)


def flat_rows(luma: NDArray[np.uint8], tolerance: Tolerance) -> NDArray[np.bool_]:
    """Say in which rows columns, shape (k, rows), agree: within four times the tolerance, because rows may ring."""
    spread = np.maximum.reduce(luma, axis=0) - np.minimum.reduce(luma, axis=0)
    return np.asarray(spread <= 4.0 * tolerance.luma)


def ends_of(profile: FloatArray, away: FloatArray, changing: tuple[int, int], tolerance: Tolerance) -> tuple[int, int]:
    """Find the ends of a bar along its profile.

    Parameters
    ----------
    profile : ndarray, shape (n, 3)
    away : ndarray, shape (n,)
        From `from_flanks`.
    changing : tuple of int
        From `changing_part`.
    tolerance : Tolerance

    Returns
    -------
    tuple of int
        First row and row after the last.
    """
    bound = 1.5 * tolerance.profile
    apart = np.concatenate([[False], away > bound, [False]])
    edges = np.flatnonzero(np.diff(apart.astype(np.int8)))
    if not len(edges):
        return (0, 0)
    parts = list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))
    common = [min(stop, changing[1]) - max(start, changing[0]) for start, stop in parts]
    main = int(np.argmax(common))
    y0, y1 = parts[main]
    for start, stop in parts[main + 1 :]:
        if not _bridges(profile, y0, y1, start, stop):
            break
        y1 = stop
    for start, stop in reversed(parts[:main]):
        if not _bridges(profile[::-1], *_flipped(len(profile), y0, y1), *_flipped(len(profile), start, stop)):
            break
        y0 = start
    y1 = _exact_end(profile, away, y0, y1, bound)
    y0 = len(profile) - _exact_end(profile[::-1], away[::-1], *_flipped(len(profile), y0, y1), bound)
    return max(0, y0), min(len(profile), y1)


def _level(away: FloatArray, y0: int, y1: int) -> float:
    """Give the difference from the flanks just before an end."""
    return float(np.median(away[max(y0, y1 - 8) : max(y0 + 1, y1 - 2)]))


def _exact_end(profile: FloatArray, away: FloatArray, y0: int, y1: int, bound: float) -> int:
    """Put an end where the difference from the flanks has fallen to half, or carry it on where the bar faded out."""
    level = _level(away, y0, y1)
    if level <= _SHARP / 1.5 * bound:
        return _faded_end(profile, away, y0, y1, bound)
    from_row = max(y0 + 1, y1 - 4)
    high = np.flatnonzero(away[from_row : y1 + 1] >= 0.5 * level)
    return from_row + int(high[-1]) + 1 if len(high) else y1


def _flipped(length: int, start: int, stop: int) -> tuple[int, int]:
    return length - stop, length - start


def _bridges(profile: FloatArray, y0: int, y1: int, start: int, stop: int) -> bool:
    """Say whether the part from `start` on continues a bar from `y0` to `y1` without a jump."""
    gap = start - y1
    if gap > _BRIDGE * (y1 - y0) + 2:
        return False
    window = max(8, 2 * gap)
    inside = largest_step(profile[max(y0, y1 - 4 * window) : y1], 1)
    across = largest_step(profile[y1 - 1 : min(start + min(window, stop - start), len(profile))], 1)
    return bool(len(inside) and len(across) and across.max() <= 1.5 * inside.max() + 3.0)


def _faded_end(profile: FloatArray, away: FloatArray, y0: int, y1: int, bound: float) -> int:
    """Carry an end on where the bar faded into its flanks instead of stopping sharply."""
    length = y1 - y0
    reach = max(6, length // 12)
    if y1 >= len(profile) or length < 3 * reach:
        return y1
    last = away[y1 - reach : y1]
    third = reach // 3
    before, now = float(last[:third].mean()), float(last[-third:].mean())
    if now > 2.5 * bound or before < 1.5 * now:
        return y1
    jump = np.flatnonzero(largest_step(profile[y1 - 1 : y1 + reach], 1) > bound)
    most = int(jump[0]) if len(jump) else reach
    slope = (before - now) / (reach - third)
    return y1 + min(most, max(0, round(now / slope) - third // 2))


def sides_of(ycc: NDArray[np.uint8], core: slice, stretch: Stretch, tolerance: Tolerance) -> _Sides:
    """Find the bar's first and last column by how far columns differ from its middle.

    Parameters
    ----------
    ycc : ndarray of uint8, shape (3, columns, length)
        The bar's rows.
    core : slice
        Columns surely within.
    stretch : Stretch
    tolerance : Tolerance

    Returns
    -------
    x0, x1 : int
    flanks : tuple
    across : float
        As in `Extent`.
    """
    columns, margin = ycc.shape[1], max(8, stretch.x1 - stretch.x0)
    while True:
        left, right = max(0, stretch.x0 - margin), min(columns, stretch.x1 + margin)
        x0, x1, flanks, across = _sides_within(ycc, core, (left, right), tolerance)
        # A stretch may be a strip of a wide bar, which then fills what was looked at.
        if (x0 > left or left == 0) and (x1 < right or right == columns):
            return x0, x1, flanks, across
        margin *= 2


def _sides_within(ycc: NDArray[np.uint8], core: slice, within: tuple[int, int], tolerance: Tolerance) -> _Sides:
    left, right = within
    differs = difference(ycc[:, left:right], _middle(ycc, core)[:, None])
    mean = differs.mean(axis=1)
    own = float(mean[core.start - left : core.stop - left].mean())
    bound = 2.0 * own + tolerance.profile
    same = np.count_nonzero(differs <= bound, axis=1) / differs.shape[1]
    # Noise of the whole column, or few rows that an overlay or the end's ringing changes.
    mean[same > _ALIKE] = 0.0
    side = _side_of_mixed if tolerance.smooth_px == 1 else _side_of_ringing
    last = side(mean, core.stop - 1 - left, bound)
    first = len(mean) - 1 - side(mean[::-1], len(mean) - 1 - (core.start - left), bound)
    flanks = tuple(
        (float(mean[x]), float(same[x])) if 0 <= x < len(mean) else (float("inf"), 0.0) for x in (first - 1, last + 1)
    )
    return left + first, left + last + 1, (flanks[0], flanks[1]), own


def _side_of_mixed(mean: NDArray[np.float32], start: int, bound: float) -> int:
    """Walk outward over columns' differences; give the last column of the bar.

    A column that differs by less than half of what its outer neighbours do was mixed by resizing, mostly from the bar.
    """
    for x in range(start + 1, len(mean)):
        if mean[x] > bound and not (x + 1 < len(mean) and mean[x] < 0.5 * mean[x + 1 : x + 3].max()):
            return x - 1
    return len(mean) - 1


def _side_of_ringing(mean: NDArray[np.float32], start: int, bound: float) -> int:
    """Walk outward as `_side_of_mixed` does, past columns that ring because something very different is near."""
    for x in range(start + 1, len(mean)):
        if mean[x] <= bound:
            continue
        outer = float(mean[x + 1 : x + 9].max()) if x + 1 < len(mean) else 0.0
        if not mean[x] < _RINGING * min(outer, _MOST_RINGING):
            return x - 1
    return len(mean) - 1
