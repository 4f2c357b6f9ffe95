"""The form of a printed number, seen without reading it: how many digits, where a decimal point, whether a minus.

This is the second, independent look at a label. A reading engine that loses a decimal point or a minus sign, or sees a
1 in a border, is sure of itself; the count of its glyphs does not agree.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Box
from irspot.decoding.label_ink import Region, plane, strokes
from irspot.decoding.label_places import LabelBox
from irspot.opencv import load_cv2

FloatArray = NDArray[np.float32]

FINER = 4
"""The look is taken at four times the picture's size."""
LEVELS = (0.35, 0.42, 0.5, 0.58, 0.65)
"""Shares of full ink at which glyphs are cut out; blurred ones touch at the first and break at the last."""
LEAST_SEEN = 45.0
"""Of 255, below which ink would not be found."""
_SEEN_SHARE = 0.6
_PLAIN = 12.0
_ENDS_SHARE = 0.9
LEAST_INK = 80.0
"""Of 255 luma, between a label and what lies behind it."""


class Glyph(NamedTuple):
    """A connected piece of a label, its box in units of the digits' height from their upper left corner."""

    kind: str
    """``D`` digit or letter, ``.`` point or comma, ``-`` dash, ``o`` raised ring."""
    x0: float
    x1: float
    holes: int
    letter: str
    """Which of C, F and K a tall glyph would be, if it was one of them; empty for others."""


@dataclass(frozen=True, slots=True)
class Form:
    """The form of a label.

    Parameters
    ----------
    glyphs : tuple of Glyph
        From left to right.
    level : float
        Share of full ink it was cut out at.
    """

    glyphs: tuple[Glyph, ...]
    level: float

    @property
    def pattern(self) -> str:
        """Its glyphs' kinds in one word."""
        return "".join(glyph.kind for glyph in self.glyphs)


def forms(region: Region, label: LabelBox) -> list[Form]:
    """Cut a label's glyphs out at several levels.

    Parameters
    ----------
    region : Region
    label : LabelBox

    Returns
    -------
    list of Form
        One for each of `LEVELS` at which every piece is a single glyph; none where the label is too faint.
    """
    ink, left, top = ink_around(region, label)
    peak = full_ink(ink)
    if peak < LEAST_INK:
        return []
    fine = _enlarged(ink)
    y0, y1 = ((edge - top) * FINER for edge in label.digits_px)
    x0, x1 = (label.box_px[0] - left) * FINER, (label.box_px[2] - left) * FINER
    seen = []
    for level in LEVELS:
        glyphs = _glyphs(fine >= level * peak, (x0, y0, x1, y1))
        if glyphs is not None:
            seen.append(Form(glyphs, level))
    return seen


def ink_around(region: Region, label: LabelBox) -> tuple[FloatArray, int, int]:
    """Give a label's strokes with a margin around them, and the margin's upper left pixel."""
    margin = max(3, label.height_px // 2)
    rows, columns = region.rgb.shape[:2]
    x0, y0 = max(0, label.box_px[0] - margin), max(0, label.box_px[1] - margin)
    x1, y1 = min(columns, label.box_px[2] + margin), min(rows, label.box_px[3] + margin)
    wide = label.widest_px
    a, b = max(0, x0 - wide), max(0, y0 - wide)
    around = strokes(region.rgb[b : y1 + wide, a : x1 + wide], label.ink, wide)
    return around[y0 - b : y1 - b, x0 - a : x1 - a], x0, y0


def full_ink(ink: FloatArray) -> float:
    """Give the strength of full ink: the stroke that nine tenths of the inked pixels stay below."""
    inked = ink[ink >= 0.3 * ink.max()] if ink.size else ink
    return float(np.quantile(inked, 0.9)) if inked.size else 0.0


def could_hide(region: Region, label: LabelBox) -> bool:
    """Say whether a glyph next to a label could go unseen, because what lies there is as light (or dark) as the ink.

    Parameters
    ----------
    region : Region
    label : LabelBox
    """
    ink, left, top = ink_around(region, label)
    rows, columns = ink.shape
    shown = plane(region.rgb[top : top + rows, left : left + columns], label.ink).astype(np.float32)
    sign = 1.0 if label.ink in ("white", "light") else -1.0
    behind = sign * shown - ink
    level = float(np.quantile((sign * shown)[ink >= 0.7 * full_ink(ink)], 0.5))
    seen = level - behind >= LEAST_SEEN
    x0, y0, x1, y1 = (edge - corner for edge, corner in zip(region.bar_px, (left, top, left, top), strict=True))
    seen[max(0, y0 - 4) : max(0, y1 + 4), max(0, x0 - 4) : max(0, x1 + 4)] = True
    height = label.height_px
    digits = slice(label.digits_px[0] - top, label.digits_px[1] - top)
    near, far = max(1, round(0.15 * height)), max(3, round(0.45 * height))
    cells = (
        seen[digits, max(0, label.box_px[0] - left - far) : max(0, label.box_px[0] - left - near)],
        seen[digits, label.box_px[2] - left + near : label.box_px[2] - left + far],
    )
    hidden = any(cell.size > 0 and np.mean(cell) < _SEEN_SHARE for cell in cells)
    box = (label.box_px[0] - left, label.box_px[1] - top, label.box_px[2] - left, label.box_px[3] - top)
    return hidden and not _on_plate(behind, box, far)


def _on_plate(behind: FloatArray, box: Box, far: int) -> bool:
    """Say whether a label stands on a plain plate of its own, which ends on all four sides: nothing is beyond it."""
    x0, y0, x1, y1 = box
    plate = behind[y0:y1, x0:x1]
    color = float(np.median(plate))
    if np.mean(np.abs(plate - color) <= _PLAIN) < 0.95:
        return False
    sides = (
        behind[max(0, y0 - far) : max(0, y0 - far + 2), x0:x1],
        behind[y1 + far - 2 : y1 + far, x0:x1],
        behind[y0:y1, max(0, x0 - far) : max(0, x0 - far + 2)],
        behind[y0:y1, x1 + far - 2 : x1 + far],
    )
    return all(side.size > 0 and np.mean(np.abs(side - color) >= LEAST_SEEN) >= _ENDS_SHARE for side in sides)


def _enlarged(ink: FloatArray) -> FloatArray:
    cv2 = load_cv2()
    rows, columns = ink.shape
    # Pixel edges, not centres, keep their places: a box [x0, x1) becomes [4 x0, 4 x1).
    return np.asarray(cv2.resize(ink, (columns * FINER, rows * FINER), interpolation=cv2.INTER_CUBIC), np.float32)


def _glyphs(mask: NDArray[np.bool_], digits: tuple[int, int, int, int]) -> tuple[Glyph, ...] | None:
    """Sort the pieces of a mask; None where one cannot be a single glyph."""
    cv2 = load_cv2()
    x0, y0, x1, y1 = digits
    height = y1 - y0
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    found = []
    for number in range(1, count):
        left, top, width, tall, area = stats[number].tolist()
        right, bottom = left + width, top + tall
        middle = (top + bottom) / 2.0
        if area < (0.07 * height) ** 2 or middle < y0 - 0.05 * height or middle > y1 + 0.15 * height:
            continue  # noise; ticks and borders above or below
        if right < x0 - 0.1 * height or left > x1 + 0.1 * height:
            continue
        kind = kind_of(width / height, (top - y0) / height, (bottom - y0) / height)
        if kind is None:
            return None
        shape = labels[top:bottom, left:right] == number
        holes, letter = (_holes(shape), letter_like(shape)) if kind == "D" else (0, "")
        found.append(Glyph(kind, (left - x0) / height, (right - x0) / height, holes, letter))
    return tuple(sorted(found, key=lambda glyph: glyph.x0))


def kind_of(width: float, top: float, bottom: float) -> str | None:
    """Name a glyph by its size and place, in units of the digits' height, from their top down.

    Returns
    -------
    str or None
        None where it is no single glyph.

    Examples
    --------
    >>> kind_of(0.6, 0.0, 1.0), kind_of(0.15, 0.85, 1.0), kind_of(0.35, 0.55, 0.65), kind_of(0.4, 0.0, 0.4)
    ('D', '.', '-', 'o')
    """
    tall = bottom - top
    if tall >= 0.8:
        return "D" if width <= 1.0 and top > -0.2 and bottom < 1.2 else None
    if bottom >= 0.88 and tall <= 0.5 and width <= 0.42 and top >= 0.6:
        return "."
    if tall <= 0.33 and width >= 0.22 and width >= 1.3 * tall and 0.3 <= (top + bottom) / 2.0 <= 0.8:
        return "-"
    if top <= 0.2 and bottom <= 0.66 and tall >= 0.2 and 0.15 <= width <= 0.66:
        return "o"
    return None


def _holes(glyph: NDArray[np.bool_]) -> int:
    """Count the enclosed holes of a glyph."""
    cv2 = load_cv2()
    outside = np.pad(~glyph, 1, constant_values=True).astype(np.uint8)
    count, _, stats, _ = cv2.connectedComponentsWithStats(outside, connectivity=4)
    least = 0.004 * glyph.shape[0] ** 2
    # Number 0 is the glyph itself, the largest other piece what lies around it.
    return int(np.sum(np.sort(stats[1:count, 4])[:-1] >= least))


def letter_like(glyph: NDArray[np.bool_]) -> str:
    """Tell C, F and K apart: F and K have both left corners, C neither; K has ink at the lower right, F none.

    Parameters
    ----------
    glyph : ndarray of bool, shape (rows, columns)

    Returns
    -------
    {"C", "F", "K", ""}
    """
    rows, columns = glyph.shape
    high, wide = max(1, round(0.08 * rows)), max(1, round(0.15 * columns))
    corners = bool(glyph[:high, :wide].any()), bool(glyph[-high:, :wide].any())
    lower_right = bool(glyph[-max(1, round(0.2 * rows)) :, int(0.6 * columns) :].any())
    if corners == (False, False):
        return "C" if lower_right else ""
    return ("K" if lower_right else "F") if corners == (True, True) else ""
