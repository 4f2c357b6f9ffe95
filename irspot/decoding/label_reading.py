"""Reading one label for certain: twice by the engine, once by the form of its glyphs, all in agreement."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Rgb
from irspot.decoding.label_glyphs import FINER, Form, could_hide, forms, full_ink, ink_around
from irspot.decoding.label_ink import Region
from irspot.decoding.label_places import NEAR_PX, WIDEST_GAP, LabelBox
from irspot.decoding.label_rules import Number, Unit, number_of, tidy, unit_of
from irspot.decoding.ocr import Read, read_line
from irspot.opencv import load_cv2

LEAST_DIGITS_PX = 9
"""Digits lower than this are not read: their points and minus signs are a pixel that compression may move or drop."""
LEAST_SCORE = 0.8
_LEAST_FORMS = 2
_LEAST_WITH_POINT = 3
_LOOSE = 0.3
_WIDEST_IN_NUMBER = 0.8
"""Of the digits' height: what glyphs may leave free at a label's ends, and between two of them; a digit takes more."""
_LINE = 1.5
"""Of the digits' height, from which upright ink is a line, such as the bar's border, and no digit."""
_HOLES = {
    "0": (1,),
    "1": (0,),
    "2": (0,),
    "3": (0,),
    "4": (0, 1),
    "5": (0,),
    "6": (1,),
    "7": (0,),
    "8": (2,),
    "9": (1,),
}
"""Enclosed holes of each digit; a 4 may be open. A zero with a dot or a stroke is not told from an 8, and refused."""
_FORM = re.compile(r"(-?)(D{1,5}(?:\.D{1,3})?)(oD|o)?(-?)")
_SPLIT = re.compile(r"(-?[0-9.,]+)([^0-9]*)")


@dataclass(frozen=True, slots=True)
class Reading:
    """A label that was read for certain, sign apart.

    Parameters
    ----------
    label : LabelBox
    unsigned : Number
    unit : {"", "C", "F", "K"}
    dash : float or None
        Where a leading dash begins, px of the region; a minus sign, or a tick of the bar. None without.
    minus_read : bool
        Whether the engine, too, read a minus there.
    """

    label: LabelBox
    unsigned: Number
    unit: Unit
    dash: float | None
    minus_read: bool


def number_like(region: Region, label: LabelBox) -> list[Form]:
    """Give a label's forms if it looks like a number (with or without a unit), else nothing."""
    seen = [form for form in forms(region, label) if _accounts_for(label, form)]
    kinds = Counter(form.pattern for form in seen if _FORM.fullmatch(form.pattern))
    # Pieces at one level that make no number are breaks; two levels that make different numbers are a doubt, unless
    # only a point is missing where the cut is highest: it is smaller than a blurred stroke is wide, so it fades first.
    if len(kinds) == 2 and _point_faded(seen, kinds):
        del kinds[min(kinds, key=len)]
    return [form for form in seen if form.pattern in kinds] if len(kinds) == 1 else []


def _accounts_for(label: LabelBox, form: Form) -> bool:
    """Say whether glyphs fill a label from end to end: one in front of something lighter may lie below the cut."""
    if not form.glyphs:
        return False
    width = (label.box_px[2] - label.box_px[0]) / label.height_px
    inside = form.glyphs[0].x0 <= _LOOSE and form.glyphs[-1].x1 >= width - _LOOSE
    return inside and all(
        after.x0 - before.x1 <= _WIDEST_IN_NUMBER
        for before, after in pairwise(form.glyphs)
        if before.kind in "D." and after.kind in "D."
    )


def _point_faded(seen: Sequence[Form], kinds: Counter[str]) -> bool:
    """Say whether two patterns differ by a point that is there at all but the highest levels, and at most of them."""
    whole, less = sorted(kinds, key=len, reverse=True)
    lowest_without = min(form.level for form in seen if form.pattern == less)
    faded = all(form.level < lowest_without for form in seen if form.pattern == whole)
    return whole.replace(".", "") == less and faded and kinds[whole] >= _LEAST_WITH_POINT


def read_label(region: Region, label: LabelBox, seen: Sequence[Form]) -> Reading | None:
    """Read a label.

    Parameters
    ----------
    region : Region
    label : LabelBox
    seen : sequence of Form
        From `number_like`.

    Returns
    -------
    Reading or None
        None where the looks do not agree, or one of them is not sure.
    """
    if len(seen) < _LEAST_FORMS or label.height_px < LEAST_DIGITS_PX:
        return None
    form = seen[len(seen) // 2]
    if _cut_off(region, label, form) or could_hide(region, label):
        return None
    found = _FORM.fullmatch(form.pattern)
    if found is None:
        return None
    dash, body, unit_form, _ = found.groups()
    first, last = len(dash), len(dash) + len(body)
    span = _span(region, label, form, first, last)
    parts = [
        _split(read) for read in (read_line(_crop(region, label, span)), read_line(_drawn(region, label, form, span)))
    ]
    if None in parts or parts[0] != parts[1] or parts[0] is None:
        return None
    number, tail = parts[0]
    letters = len(body) - len(number.form)
    if number.form + "D" * letters != body or letters != len(tail) or not _holes_agree(number, seen, first):
        return None
    unit = _unit(seen, found.end(2) - 1, tail) if letters else _unit_by_form(seen, unit_form)
    if unit is None:
        return None
    minus = bool(dash) and _minus_read(region, label, form, number, last)
    return Reading(label, number, unit, _dash_px(label, form) if dash else None, minus)


def _cut_off(region: Region, label: LabelBox, form: Form) -> bool:
    """Say whether the edge of what is seen may cut a label: as near as a next glyph would stand, or through it.

    A unit ends a label, so that it may stand nearer.
    """
    rows, columns = region.rgb.shape[:2]
    x0, y0, x1, y1 = label.box_px
    least = max(2.0, WIDEST_GAP * label.height_px)
    right = 2.0 if form.pattern.endswith("oD") else least
    return x0 < least or columns - x1 < right or y0 < 2 or rows - y1 < 2


def _span(region: Region, label: LabelBox, form: Form, first: int, last: int) -> tuple[int, int]:
    """Give the columns to read glyphs `first` to `last` (exclusive) from, with what margin their neighbours leave."""
    height, left = label.height_px, label.box_px[0]
    glyphs = form.glyphs
    start, end = left + glyphs[first].x0 * height, left + glyphs[last - 1].x1 * height
    before = left + glyphs[first - 1].x1 * height if first else -np.inf
    after = left + glyphs[last].x0 * height if last < len(glyphs) else np.inf
    margin = 0.3 * height
    x0 = max(start - margin, before + 0.25 * (start - before) if first else -np.inf, 0.0)
    x1 = min(end + margin, after - 0.25 * (after - end) if last < len(glyphs) else np.inf, region.rgb.shape[1])
    return int(np.floor(x0)), int(np.ceil(x1))


def _crop(region: Region, label: LabelBox, span: tuple[int, int]) -> Rgb:
    """Cut a label out of the picture as it is."""
    margin = max(2, round(0.3 * label.height_px))
    y0, y1 = label.digits_px
    return region.rgb[max(0, y0 - margin) : y1 + margin, span[0] : span[1]]


def _drawn(region: Region, label: LabelBox, form: Form, span: tuple[int, int]) -> Rgb:
    """Draw a label anew: black strokes on white, cut at a level of the ink, at another scale."""
    cv2 = load_cv2()
    ink, left, top = ink_around(region, label)
    rows, columns = ink.shape
    fine = cv2.resize(ink, (columns * FINER, rows * FINER), interpolation=cv2.INTER_CUBIC)
    bar = [(edge - corner) * FINER for edge, corner in zip(region.bar_px, (left, top, left, top), strict=True)]
    inked = _without_lines(fine >= form.level * full_ink(ink), _LINE * FINER * label.height_px, bar)
    mask = np.where(inked, 0, 255).astype(np.uint8)
    part = mask[:, max(0, (span[0] - left) * FINER) : (span[1] - left) * FINER]
    scale = 24.0 / (FINER * label.height_px)
    small = cv2.resize(part, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    # Half of a digit's height all around, which is also what keeps neighbours above and below out.
    y0, y1 = (round((edge - top) * FINER * scale) for edge in label.digits_px)
    small = small[max(0, y0 - 5) : y1 + 5]
    framed = np.pad(small, ((7, 7), (12, 12)), constant_values=255)
    return np.repeat(framed[:, :, None], 3, axis=2)


def _without_lines(inked: NDArray[np.bool_], least: float, bar: Sequence[int]) -> NDArray[np.bool_]:
    """Take out pieces as tall as `least` and the bar's border and ticks, which read as a 1 or a stroke."""
    cv2 = load_cv2()
    _, labels, stats, _ = cv2.connectedComponentsWithStats(inked.astype(np.uint8), connectivity=8)
    x0, y0, width, height = stats[:, :4].T
    near = NEAR_PX * FINER
    across = (x0 < bar[2] + near) & (x0 + width > bar[0] - near)
    touching = across & (y0 < bar[3] + near) & (y0 + height > bar[1] - near)
    kept = ~touching & (height < least)
    kept[0] = False
    return np.asarray(kept[labels])


def _split(read: Read) -> tuple[Number, str] | None:
    """Take a sure reading apart into a number without sign and what follows it."""
    found = _SPLIT.fullmatch(tidy(read.text))
    if found is None or read.score < LEAST_SCORE:
        return None
    number = number_of(found.group(1))
    return (number, found.group(2)) if number is not None and number.text[0] != "-" else None


def _holes_agree(number: Number, seen: Sequence[Form], first: int) -> bool:
    """Say whether at least half of the levels show every digit with the holes it has to have."""
    digits = [(at, digit) for at, digit in enumerate(number.text) if digit.isdigit()]
    agreeing = [all(form.glyphs[first + at].holes in _HOLES[digit] for at, digit in digits) for form in seen]
    return 2 * sum(agreeing) >= len(agreeing)


def _unit_by_form(seen: Sequence[Form], unit_form: str | None) -> Unit | None:
    if not unit_form:
        return ""
    if unit_form == "o":
        return ""
    ring = seen[0].pattern.index("o")
    return _letter(seen, ring + 1)


def _unit(seen: Sequence[Form], at: int, tail: str) -> Unit | None:
    """Take a letter that follows the number without a ring, if its form agrees."""
    unit = unit_of(tail)
    return unit if unit and _letter(seen, at) == unit else None


def _letter(seen: Sequence[Form], at: int) -> Unit | None:
    (letter, count), *_ = Counter(form.glyphs[at].letter for form in seen).most_common()
    return letter if letter and 2 * count > len(seen) else None  # type: ignore[return-value]


def _minus_read(region: Region, label: LabelBox, form: Form, number: Number, last: int) -> bool:
    """Say whether the engine reads a minus sign in front of the number."""
    found = _SPLIT.fullmatch(tidy(read_line(_crop(region, label, _span(region, label, form, 0, last))).text))
    return found is not None and found.group(1) == f"-{number.text}"


def _dash_px(label: LabelBox, form: Form) -> float:
    return label.box_px[0] + form.glyphs[0].x0 * label.height_px
