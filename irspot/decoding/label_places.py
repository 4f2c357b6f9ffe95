"""Boxes near a colour bar that could hold its numbers, and the places on the bar they belong to.

Digits are strokes of one height that stand side by side. What has that form beside the bar, or beyond its ends, is a
candidate; whether it is a number is for the reading to say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Box
from irspot.decoding.label_ink import Ink, Region, strokes
from irspot.opencv import load_cv2

Side = Literal["before", "after", "beyond"]

_KERNELS: tuple[tuple[int, int, int], ...] = ((9, 6, 18), (17, 17, 36), (33, 34, 72))
"""Widest stroke, and the least and greatest height of digits it is used for, px: strokes of bold type are a fifth of
the digits' height wide."""
_LEAST_CONTRAST = 45.0
"""Of 255 luma, between a stroke and what lies behind it."""
_MOST_CANDIDATES = 40
_BORDER_PX = 9
"""Gap and border together, at most."""
NEAR_PX = 3
"""From the bar, within which ink is its border or its ticks."""
WIDEST_GAP = 0.45
"""Of the digits' height, between glyphs of one number that nothing small stands between."""


class Part(NamedTuple):
    """A connected piece of ink: its box and its number of pixels."""

    x0: int
    y0: int
    x1: int
    y1: int
    area: int

    @property
    def height(self) -> int:
        """Rows."""
        return self.y1 - self.y0

    @property
    def width(self) -> int:
        """Columns."""
        return self.x1 - self.x0


@dataclass(frozen=True, slots=True)
class LabelBox:
    """Something that could be a number at the bar.

    Parameters
    ----------
    box_px : tuple of int
        Of its ink, in the region's px.
    digits_px : (int, int)
        First and last row (exclusive) of its tall glyphs.
    ink : {"white", "black", "light", "dark"}
    widest_px : int
        Widest stroke, as in `strokes`.
    side : {"before", "after", "beyond"}
        Left of or above the bar, right of or below it, or beyond an end.
    centre : float
        Place of its middle on the bar, from 0 at the low end to 1 at the high end.
    reach : (float, float)
        Places of its two edges along the bar.
    """

    box_px: Box
    digits_px: tuple[int, int]
    ink: Ink
    widest_px: int
    side: Side
    centre: float
    reach: tuple[float, float]

    @property
    def height_px(self) -> int:
        """Height of its digits."""
        return self.digits_px[1] - self.digits_px[0]


def label_boxes(region: Region, low_end: str, inks: Sequence[Ink]) -> list[LabelBox]:
    """Find what could be numbers beside the bar or beyond its ends.

    Parameters
    ----------
    region : Region
    low_end : {"top", "bottom", "left", "right"}
    inks : sequence of {"white", "black", "light", "dark"}

    Returns
    -------
    list of LabelBox
        Nearest to the bar first, at most 40.
    """
    found = []
    for ink in inks:
        for widest, least, most in _KERNELS:
            parts, remains = ink_parts(strokes(region.rgb, ink, widest), region.bar_px)
            for line in text_lines(parts, least, most, remains):
                label = _placed(line, region.bar_px, low_end, ink, widest)
                if label is not None:
                    found.append(label)
    return sorted(found, key=lambda label: _gap_px(label.box_px, region.bar_px))[:_MOST_CANDIDATES]


def ink_parts(inked: NDArray[np.float32], bar_px: Box) -> tuple[list[Part], list[Part]]:
    """Give the connected pieces of ink, those apart that touch the painted bar.

    Parameters
    ----------
    inked : ndarray of float32, shape (rows, columns)
    bar_px : tuple of int

    Returns
    -------
    parts : list of Part
        Without those that touch the bar, as its border and ticks do.
    remains : list of Part
        What of those lies further out than a border: a digit may have run into it.
    """
    cv2 = load_cv2()
    mask = (inked >= _LEAST_CONTRAST).astype(np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    every = [Part(x, y, x + w, y + h, a) for x, y, w, h, a in stats[1:].tolist()]
    touching = np.array([False, *(_touches(part, bar_px) for part in every)])
    outside = touching[labels].astype(np.uint8)
    x0, y0, x1, y1 = bar_px
    outside[max(0, y0 - _BORDER_PX) : y1 + _BORDER_PX, max(0, x0 - _BORDER_PX) : x1 + _BORDER_PX] = 0
    _, _, cut, _ = cv2.connectedComponentsWithStats(outside, connectivity=8)
    remains = [Part(x, y, x + w, y + h, a) for x, y, w, h, a in cut[1:].tolist()]
    return [part for part in every if part.area >= 2 and not _touches(part, bar_px)], remains


def _touches(part: Part, bar_px: Box) -> bool:
    """Say whether a piece of ink comes near the bar: labels keep a distance, border and ticks do not."""
    near = NEAR_PX
    across = part.x0 < bar_px[2] + near and part.x1 > bar_px[0] - near
    return across and part.y0 < bar_px[3] + near and part.y1 > bar_px[1] - near


@dataclass(frozen=True, slots=True)
class Line:
    """Glyphs side by side, and the pieces of ink they consist of."""

    box_px: Box
    digits_px: tuple[int, int]
    pieces: frozenset[Part]


def text_lines(parts: Sequence[Part], least_px: int, most_px: int, remains: Sequence[Part] = ()) -> list[Line]:
    """Chain tall pieces of ink into lines of text and add the small ones between and beside them.

    Lines that go on in other parts, or in the `remains` of ink that touches the bar, are pieces, and left out.
    """
    tall = sorted((p for p in parts if least_px <= p.height <= most_px and _glyph_like(p)), key=lambda p: p.x0)
    small = [p for p in parts if p.height < 0.7 * most_px]
    lines = [_line(chain, small) for chain in _chains(tall, small)]
    pieces = (line for line in lines if not any(_goes_on(line, part) for part in parts))
    return [line for line in pieces if not any(_runs_into(line, part) for part in remains)]


def _runs_into(line: Line, part: Part) -> bool:
    """Say whether what is beside a line, and touches the bar, could be a digit; ticks are lower than half of one."""
    (x0, _, x1, _), (top, bottom) = line.box_px, line.digits_px
    gap = max(x0 - part.x1, part.x0 - x1)
    return min(part.y1, bottom) - max(part.y0, top) >= 0.5 * (bottom - top) and gap <= bottom - top


def _goes_on(line: Line, part: Part) -> bool:
    """Say whether ink beside a line could be a further glyph of it: what was seen is then only a piece of a number."""
    (x0, _, x1, _), (top, bottom) = line.box_px, line.digits_px
    height = bottom - top
    if part in line.pieces:
        return False
    gap = max(x0 - part.x1, part.x0 - x1)
    common = min(part.y1, bottom) - max(part.y0, top)
    if common >= 0.3 * height and part.area >= (0.12 * height) ** 2:
        return gap <= height
    dash = 3 * part.height <= height and part.width >= 1.3 * part.height and part.width >= 0.22 * height
    if dash and part.x1 <= x0 and common == part.height:
        return gap <= height
    ring = 5 * part.height >= height and 7 * part.width >= height and 2 * common >= part.height
    if ring and part.x0 >= x1:
        return gap <= 1.3 * height  # a unit, without which the number's middle is not the label's
    point = part.y0 >= top + 0.55 * height and part.y1 >= bottom - 0.15 * height and part.area >= (0.1 * height) ** 2
    return point and common > 0 and gap <= 0.8 * height


def _glyph_like(part: Part) -> bool:
    filled = part.area / (part.width * part.height)
    return part.width <= 6.0 * part.height and part.width >= 0.08 * part.height and filled >= 0.12


def _chains(tall: Sequence[Part], small: Sequence[Part]) -> list[list[Part]]:
    chains: list[list[Part]] = []
    for part in tall:
        fitting = [chain for chain in chains if _follows(part, chain, small)]
        if fitting:
            max(fitting, key=lambda chain: chain[-1].x1).append(part)
        else:
            chains.append([part])
    return chains


def _follows(part: Part, chain: Sequence[Part], small: Sequence[Part]) -> bool:
    last = chain[-1]
    height = max(last.height, part.height)
    common = min(last.y1, part.y1) - max(last.y0, part.y0)
    if common < 0.8 * height or part.x0 < last.x0:
        return False
    gap = part.x0 - last.x1
    return gap <= WIDEST_GAP * height or (gap <= 2.0 * height and _bridged(last, part, small))


def _bridged(last: Part, part: Part, small: Sequence[Part]) -> bool:
    """Say whether something small (a decimal point, a degree sign) fills the gap, at most 0.8 of the height away."""
    height, end = last.height, last.x1
    top, bottom = min(last.y0, part.y0), max(last.y1, part.y1)
    in_row = [p for p in small if p.y0 >= top - 2 and p.y1 <= bottom + 0.3 * height + 1]
    between = [p for p in in_row if p.x0 >= last.x1 - 1 and p.x1 <= part.x0 + 1]
    for piece in sorted(between, key=lambda p: p.x0):
        if piece.x0 - end > 0.8 * height + 1:
            return False
        end = max(end, piece.x1)
    return bool(between) and part.x0 - end <= 0.75 * height


def _line(chain: Sequence[Part], small: Sequence[Part]) -> Line:
    top, bottom = int(np.median([p.y0 for p in chain])), int(np.median([p.y1 for p in chain]))
    height = bottom - top
    x0, x1 = chain[0].x0, max(p.x1 for p in chain)
    members = list(chain)
    beside = [
        p for p in small if p not in chain and p.y0 >= top - 0.15 * height - 1 and p.y1 <= bottom + 0.3 * height + 1
    ]
    for piece in sorted(beside, key=lambda p: -p.x1):
        if x0 - 0.45 * height <= piece.x1 <= x0 + 1 and piece.height <= 0.7 * height:
            x0 = piece.x0
            members.append(piece)
    for piece in sorted(beside, key=lambda p: p.x0):
        if piece.x0 >= x0 and piece.x0 <= x1 + 0.8 * height + 1 and piece.height <= 0.7 * height:
            x1 = max(x1, piece.x1)
            members.append(piece)
    box = (x0, min(p.y0 for p in members), x1, max(p.y1 for p in members))
    return Line(box, (top, bottom), frozenset(members))


def _placed(line: Line, bar_px: Box, low_end: str, ink: Ink, widest: int) -> LabelBox | None:
    vertical = low_end in ("top", "bottom")
    box, bar = (line.box_px, bar_px) if vertical else (_turned(line.box_px), _turned(bar_px))
    digits = line.digits_px if vertical else (box[1], box[3])
    height = line.digits_px[1] - line.digits_px[0]
    side = _side(box, digits, bar, height, vertical)
    if side is None:
        return None
    first, last = bar[1], bar[3]
    places = [(edge - first) / (last - first) for edge in digits]
    if low_end in ("bottom", "right"):
        places = [1.0 - place for place in places[::-1]]
    middle = (digits[0] + digits[1]) / 2.0
    share = (middle - first) / (last - first)
    centre = share if low_end in ("top", "left") else 1.0 - share
    return LabelBox(line.box_px, line.digits_px, ink, widest, side, centre, (places[0], places[1]))


def _turned(box: Box) -> Box:
    return (box[1], box[0], box[3], box[2])


def _side(box: Box, along: tuple[int, int], bar: Box, height: int, vertical: bool) -> Side | None:
    """Say on which side of an upright bar a box lies, None where it is too far away."""
    beside = 2.5 * height + 12 if vertical else 1.5 * height + 14
    beyond = 1.5 * height + 14
    in_line = along[1] > bar[1] - 3 and along[0] < bar[3] + 3
    if box[2] <= bar[0] and in_line:
        return "before" if bar[0] - box[2] <= beside else None
    if box[0] >= bar[2] and in_line:
        return "after" if box[0] - bar[2] <= beside else None
    if box[2] > bar[0] - 2 and box[0] < bar[2] + 2 and (along[1] <= bar[1] or along[0] >= bar[3]):
        return "beyond" if max(bar[1] - along[1], along[0] - bar[3]) <= beyond else None
    return None


def _gap_px(box: Box, bar: Box) -> int:
    return max(bar[0] - box[2], box[0] - bar[2], bar[1] - box[3], box[1] - bar[3], 0)
