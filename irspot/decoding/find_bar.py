"""Find the colour bar of a picture from its pixels, or take the one that was pointed out."""

from __future__ import annotations

from dataclasses import replace
from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Bar, Box, End, Rgb
from irspot.decoding.bar_candidates import (
    EXACT,
    LOSSY,
    NARROW,
    Tolerance,
    column_runs,
    flat_across,
    joined,
    promising,
    stretches,
)
from irspot.decoding.bar_extent import extent_of, fitted_extent
from irspot.decoding.bar_judging import (
    LEAST_ON_PALETTE,
    Candidate,
    form_fault,
    is_drawn_with,
    judged,
    sample_colors,
)
from irspot.decoding.bar_path import LEAST_CONTRAST, contrast, runs_from_low
from irspot.decoding.bar_view import UprightView, views_of
from irspot.errors import BarRefused, UsageError

FloatArray = NDArray[np.float64]

_POINT_IT_OUT = "give its place by hand: --bar-px x0,y0,x1,y1"
_WIDEST = 0.34
"""Share of the picture's shorter side; what is wider is the picture."""
_MOST_STRETCHES = 8
"""Of one pass and direction. The bar came among the first 4 in 400 rendered frames."""
_SHORTEST_RUN = 24
_LEAST_SPAN = 28
"""Of luma or chroma along a run; far below what a bar needs, so that a bar without contrast is told from none."""
_GIVEN_ACROSS = 12.0
"""Mean difference across a bar that was pointed out, above which its box cannot be the bar's."""


def find_bar(rgb: Rgb, *, bar_px: Box | None = None, low_end: End | None = None, near: Box | None = None) -> Bar:
    """Find the colour bar of a picture, or read the one at a given place.

    A bar is a slender box whose colours are constant across, change steadily along, differ from what lies beside it,
    and recur in the rest of the picture. The picture's own gradients have no such sides, a photograph other colours.

    Which end is low is, in this order: as given; that of the colour map of matplotlib whose colours it has (unless the
    reverse of another map has them too); the dark end where lightness only rises or only falls, which is common
    practice but not certain (a reversed grey bar would be read upside down: give `low_end` for such cameras).

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
    bar_px : tuple of int, optional
        Its box, ``(x0, y0, x1, y1)``, ends exclusive, without border; taken as it is.
    low_end : {"top", "bottom", "left", "right"}, optional
        Where the lowest temperature is.
    near : tuple of int, optional
        Only bars whose middle lies in this box count.

    Returns
    -------
    Bar

    Raises
    ------
    BarRefused
        With cause ``none``, ``two`` (that fit equally), ``contrast``, ``hidden`` (something covers a part of it),
        ``box`` (the given one holds no bar) or ``direction`` (`low_end` has to be given).
    UsageError
        If the given box and end contradict the picture or one another.
    """
    if bar_px is not None:
        return _given_bar(rgb, bar_px, low_end)
    views = views_of(rgb)
    for tolerance in (EXACT, LOSSY, NARROW):
        candidates = _candidates(rgb, views, tolerance)
        if near is not None:
            candidates = [c for c in candidates if _middle_within(c.box_px, near)]
        bars = [c for c in candidates if not c.fault]
        if bars:
            chosen = _only_one(bars, candidates, tolerance)
            return _bar(chosen, low_end)
        if any(_is_torn(c) for c in candidates):
            break
    _refuse_without_bar(candidates)


def _bar(chosen: Candidate, low_end: End | None) -> Bar:
    end = _low_end(chosen.profile, chosen.vertical, low_end)
    path = chosen.profile if end in ("top", "left") else chosen.profile[::-1]
    return Bar(chosen.box_px, end, np.ascontiguousarray(path), "found")


def _low_end(profile: FloatArray, vertical: bool, low_end: End | None) -> End:
    """Decide the low end of a profile from top to bottom or left to right."""
    ends: tuple[End, End] = ("top", "bottom") if vertical else ("left", "right")
    if low_end is not None:
        if low_end not in ends:
            raise UsageError(
                "the low end does not fit the colour bar's direction",
                key="low_end",
                found=f"{low_end}, for a bar that is {'vertical' if vertical else 'horizontal'}",
                wanted=" or ".join(ends),
            )
        return low_end
    first = runs_from_low(profile)
    if first is None:
        raise BarRefused(
            "which end of the colour bar is the cold one does not show in its colours",
            cause="direction",
            wanted=f"low_end = {' or '.join(ends)}",
            hint="give low_end in the camera file's [colorbar]",
        )
    return ends[0] if first else ends[1]


def _candidates(rgb: Rgb, views: tuple[UprightView, UprightView], tolerance: Tolerance) -> list[Candidate]:
    sampled = sample_colors(rgb)
    upright, lying = (_upright_candidates(view, tolerance) for view in views)
    turned = [replace(c, box_px=_transposed(c.box_px), vertical=False) for c in lying]
    return _without_repeats([judged(c, rgb, sampled, tolerance) for c in upright + turned])


def _transposed(box: Box) -> Box:
    return (box[1], box[0], box[3], box[2])


def _upright_candidates(view: UprightView, tolerance: Tolerance) -> list[Candidate]:
    """Look for upright bars."""
    shorter = min(view.rows, view.columns)
    if shorter < tolerance.columns or view.rows < _SHORTEST_RUN:
        return []
    runs = column_runs(flat_across(view, tolerance), view, _SHORTEST_RUN, _LEAST_SPAN)
    found = [s for s in stretches(runs, view.columns, tolerance) if s.x1 - s.x0 <= _WIDEST * shorter]
    found = promising(found, view.ycc_columns[0], _MOST_STRETCHES)
    if tolerance.smooth_px > 1:
        found = joined(found)
    candidates = []
    for stretch in found:
        extent = extent_of(view, stretch, tolerance)
        if extent is None:
            continue
        fault = form_fault(extent, shorter, tolerance)
        if fault in ("", "path"):
            extent = fitted_extent(extent, view, tolerance)
            fault = form_fault(extent, shorter, tolerance)
        box = (extent.x0, extent.y0, extent.x1, extent.y1)
        candidates.append(Candidate(box, True, extent.profile, fault, extent.sharp, extent.framed))
    return candidates


def _without_repeats(candidates: list[Candidate]) -> list[Candidate]:
    """Keep the best of candidates that overlap by half of the smaller one."""
    kept: list[Candidate] = []
    for candidate in sorted(candidates, key=_rank, reverse=True):
        if not any(_shared(candidate.box_px, other.box_px) > 0.5 for other in kept):
            kept.append(candidate)
    return kept


def _rank(candidate: Candidate) -> tuple[bool, bool, bool, float]:
    return not candidate.fault, candidate.known, candidate.well_formed, _area(candidate.box_px)


def _area(box: Box) -> float:
    return float(max(0, box[2] - box[0]) * max(0, box[3] - box[1]))


def _shared(a: Box, b: Box) -> float:
    common = (max(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), min(a[3], b[3]))
    return _area(common) / max(1.0, min(_area(a), _area(b)))


def _middle_within(box: Box, near: Box) -> bool:
    x, y = (box[0] + box[2]) / 2.0, (box[1] + box[3]) / 2.0
    return near[0] <= x < near[2] and near[1] <= y < near[3]


_CLEARLY_BETTER = 0.25
"""By how much more of the picture the better of two bars has to explain."""


def _only_one(bars: list[Candidate], candidates: list[Candidate], tolerance: Tolerance) -> Candidate:
    """Choose the bar that explains clearly more of the picture than every other one, strips of the picture aside."""
    bars = [b for b in bars if not any(is_drawn_with(b.profile, o.profile, tolerance) for o in bars if o is not b)]
    best, *others = sorted(bars, key=lambda c: c.evidence, reverse=True)
    part = next((c for c in candidates if c is not best and c.well_formed and _in_line(c, best)), None)
    if part is not None:
        raise BarRefused(
            "something covers a part of the colour bar",
            cause="hidden",
            found=f"two pieces in one line, at {_words(best.box_px)} and {_words(part.box_px)}",
            hint="use a frame without it, or " + _POINT_IT_OUT,
        )
    if others and best.evidence - others[0].evidence < _CLEARLY_BETTER:
        raise BarRefused(
            "the picture has two colour bars that fit equally",
            cause="two",
            found=f"{_words(best.box_px)} and {_words(others[0].box_px)}",
            hint=_POINT_IT_OUT,
        )
    return best


def _in_line(a: Candidate, b: Candidate) -> bool:
    """Say whether two candidates look like pieces of one bar: same direction, same sides, one beyond the other."""
    if a.vertical != b.vertical:
        return False
    first, second = (c.box_px if c.vertical else _transposed(c.box_px) for c in (a, b))
    return abs(first[0] - second[0]) <= 2 and abs(first[2] - second[2]) <= 2


def _words(box: Box) -> str:
    return ",".join(str(edge) for edge in box)


def _is_torn(candidate: Candidate) -> bool:
    """Say whether a candidate is a bar but for what covers it."""
    drawn = candidate.framed or candidate.known
    return candidate.fault == "torn" and drawn and candidate.on_palette >= LEAST_ON_PALETTE


def _refuse_without_bar(candidates: list[Candidate]) -> NoReturn:
    torn = next((c for c in candidates if _is_torn(c)), None)
    if torn is not None:
        raise BarRefused(
            "something covers a part of the colour bar", cause="hidden", found=_words(torn.box_px), hint=_POINT_IT_OUT
        )
    faint = next(
        (c for c in candidates if c.fault == "contrast" and c.framed and contrast(c.profile) >= _LEAST_SPAN), None
    )
    if faint is not None:
        raise BarRefused(
            "the colour bar's colours differ too little to be told apart",
            cause="contrast",
            found=f"a range of {contrast(faint.profile):.0f} of 255 at {_words(faint.box_px)}",
            wanted=f"at least {LEAST_CONTRAST:.0f}",
        )
    foreign = next((c for c in candidates if c.fault == "palette"), None)
    if foreign is not None:
        raise BarRefused(
            "the picture has no colour bar whose colours it shows",
            cause="none",
            found=f"{foreign.on_palette:.0%} of the picture in the colours of what is at {_words(foreign.box_px)}",
            wanted=f"at least {LEAST_ON_PALETTE:.0%}",
            hint=_POINT_IT_OUT,
        )
    raise BarRefused("the picture has no colour bar", cause="none", hint=_POINT_IT_OUT)


def _given_bar(rgb: Rgb, box: Box, low_end: End | None) -> Bar:
    """Read the bar at a place that was pointed out."""
    rows, columns = rgb.shape[:2]
    x0, y0, x1, y1 = box
    if not (0 <= x0 < x1 <= columns and 0 <= y0 < y1 <= rows):
        raise UsageError(
            "the colour bar's box does not lie within the picture",
            key="bar_px",
            found=_words(box),
            wanted=f"x0 < x1 <= {columns} and y0 < y1 <= {rows}, ends exclusive",
        )
    if max(x1 - x0, y1 - y0) < 8 or min(x1 - x0, y1 - y0) < 1:
        raise BarRefused("the colour bar's box is too small", cause="box", found=_words(box), wanted="8 px along")
    part = rgb[y0:y1, x0:x1].astype(np.float64)
    vertical = low_end in ("top", "bottom") if low_end is not None else _changes_down(part)
    lines = part if vertical else part.transpose(1, 0, 2)
    profile = np.median(lines, axis=1)
    across = float(np.median(np.abs(lines - profile[:, None]).max(axis=2), axis=1).mean())
    if across > _GIVEN_ACROSS:
        raise BarRefused(
            "the given box holds no colour bar: its colours are not constant across",
            cause="box",
            found=f"a difference of {across:.0f} of 255 at {_words(box)}",
            wanted=f"at most {_GIVEN_ACROSS:.0f}",
        )
    if contrast(profile) < LEAST_CONTRAST:
        raise BarRefused(
            "the colour bar's colours differ too little to be told apart",
            cause="contrast",
            found=f"a range of {contrast(profile):.0f} of 255 at {_words(box)}",
            wanted=f"at least {LEAST_CONTRAST:.0f}",
        )
    end = _low_end(profile, vertical, low_end)
    path = profile if end in ("top", "left") else profile[::-1]
    return Bar(box, end, np.ascontiguousarray(path), "given")


def _changes_down(part: FloatArray) -> bool:
    """Say whether a box's colours change down it rather than along it."""
    down = np.abs(np.diff(part.mean(axis=1), axis=0)).sum()
    along = np.abs(np.diff(part.mean(axis=0), axis=0)).sum()
    return bool(down >= along)
