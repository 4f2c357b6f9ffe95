"""Zones as they will lie on the board, front and rear side by side, before anything is measured with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Side, Zone
from irspot.rendering import theme
from irspot.rendering.heat import checked_size
from irspot.rendering.picture import Picture
from irspot.rendering.placed_picture import OUTLINE, TOP, top_edges
from irspot.rendering.placement_page import Item, Mark, Plan, plan_placement
from irspot.rendering.placement_strokes import finished
from irspot.rendering.sheet import Line, set_text
from irspot.rendering.strokes import Image, closed, double_lines
from irspot.rendering.text import clean, text_width
from irspot.rendering.theme import Color
from irspot.shapes import Shape

FloatArray = NDArray[np.float64]

# Colours of Okabe and Ito (2008), told apart by all common colour visions.
NEW: Final[Color] = (240, 228, 66)
OFF: Final[Color] = (255, 120, 60)
OLD: Final[Color] = theme.MUTED
_ROWS: Final = 1000
"""Of the drawing: a frame of so many rows would lie on the page as it does."""
_MARGIN: Final = 0.04
_ROOM_WIDE, _ROOM_NARROW = 1.25, 0.9
"""Width by height of the part of a page that is there for the drawing, its words beside or below it."""
_WORDS, _SMALL = 32.0, 26.0
_NAME, _NAME_OF_MANY, _MANY = 22.0, 15.0, 40
_NAMES_DRAWN: Final = 400


@dataclass(frozen=True, slots=True)
class View:
    """One side of the board on the drawing.

    Parameters
    ----------
    side : {"front", "rear"}
        The rear is drawn as one sees it, turned over.
    x0, y1 : float
        Of the drawing, rows: left edge and lower edge of the board's box.
    scale : float
        Rows to a mm.
    width_mm : float
    """

    side: Side
    x0: float
    y1: float
    scale: float
    width_mm: float

    def at(self, xy_mm: FloatArray) -> FloatArray:
        """Carry board places onto the drawing, shape (n, 2)."""
        x = self.width_mm - xy_mm[:, 0] if self.side == "rear" else xy_mm[:, 0]
        return np.column_stack([self.x0 + x * self.scale, self.y1 - xy_mm[:, 1] * self.scale])


def layout_picture(
    board: Board,
    new: Sequence[Zone],
    *,
    facts: Sequence[str] = (),
    refused: str = "",
    subtitle: str = "",
    size: tuple[int, int] = (1920, 1080),
) -> Picture:
    """Draw a board's outline, its zones, and new ones among them.

    Parameters
    ----------
    board : Board
        Its zones are drawn muted, unless they are among the new ones.
    new : sequence of Zone
    facts : sequence of str
        What is to be confirmed: unit, origin, how the rear is given.
    refused : str
        Why the new zones were not taken; empty where they were.
    subtitle : str
    size : tuple of int
        Width and height, px.

    Returns
    -------
    Picture
        Of exactly that size.

    Raises
    ------
    UsageError
        For a size too small to read or too large to hold.
    """
    sides = _sides(board, new)
    wide = size[0] >= _ROOM_WIDE * size[1]
    shape, views = _views(board, new, sides, _ROOM_WIDE if wide else _ROOM_NARROW)
    items = _items(board, new, facts, refused, sides)
    title = f"{'Not taken' if refused else 'Zones' if new else 'Outline'}: {board.name}"
    plan = plan_placement(checked_size(size), shape, title, subtitle, items)
    image = np.empty((plan.size[1], plan.size[0], 3), np.uint8)
    image[:] = np.full((plan.size[0], 3), theme.PAGE, np.uint8)
    view_px = image[plan.view]
    names: list[Line] = []
    taken = {zone.id for zone in new}
    for view in views:
        _draw_board(view_px, plan, board, view)
        old = [zone for zone in board.zones_of(view.side) if zone.id not in taken]
        _draw_zones(view_px, plan, old, view, OLD, 1.4)
        mine = [zone for zone in new if zone.side == view.side]
        _draw_zones(view_px, plan, [zone for zone in mine if _inside(zone, board)], view, NEW, 1.8)
        _draw_zones(view_px, plan, [zone for zone in mine if not _inside(zone, board)], view, OFF, 2.4)
        names += [*_names(plan, mine, view), _side_name(plan, board, view)]
    set_text(view_px, names)
    return finished(image, plan)


def _sides(board: Board, new: Sequence[Zone]) -> tuple[Side, ...]:
    has_rear = any(zone.side == "rear" for zone in (*board.zones, *new))
    has_front = any(zone.side == "front" for zone in (*board.zones, *new))
    return ("front", "rear") if has_front and has_rear else ("rear",) if has_rear else ("front",)


def _views(board: Board, new: Sequence[Zone], sides: Sequence[Side], room: float) -> tuple[tuple[int, int], list[View]]:
    """Lay the sides out beside or above each other; give ``(rows, columns)`` of the drawing, and the views."""
    width = board.outline.box_mm[2]
    boxes = np.array([board.outline.box_mm, *(zone.shape.box_mm for zone in new if _is_shown(zone, board))])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    margin = _MARGIN * max(high - low)
    span = high - low + 2.0 * margin
    name_mm = 0.08 * span[1]
    step = np.array([span[0], span[1] + name_mm])
    beside, above = step * [len(sides), 1], step * [1, len(sides)]
    # Whichever is drawn larger on the part of the page that is there for it.
    stacked = _fits(above, room) > _fits(beside, room)
    total = above if stacked else beside
    scale = _ROWS / total[1]
    views = []
    for place, side in enumerate(sides):
        corner = step * ([0, place] if stacked else [place, 0])
        left = high[0] - width if side == "rear" else -low[0]
        x0, y1 = scale * (corner[0] + margin + left), scale * (corner[1] + margin + high[1] + name_mm)
        views.append(View(side, float(x0), float(y1), float(scale), width))
    return (_ROWS, max(1, round(scale * total[0]))), views


def _fits(size: FloatArray, room: float) -> float:
    """Say how large a drawing of some size can be drawn where there is room of some width by height."""
    return float(min(room / size[0], 1.0 / size[1]))


def _is_shown(zone: Zone, board: Board) -> bool:
    """Whether a zone lies within a board's length of the board: what lies further off would leave the board a dot."""
    _, _, width, height = board.outline.box_mm
    x0, y0, x1, y1 = zone.shape.box_mm
    return x0 > -1.05 * width and x1 < 2.05 * width and y0 > -1.05 * height and y1 < 2.05 * height


def _items(board: Board, new: Sequence[Zone], facts: Sequence[str], refused: str, sides: Sequence[Side]) -> list[Item]:
    items = [Item(refused, _WORDS, "bold", theme.WARNING)] if refused else []
    counts = f"{len(new)} zones, {_count(new, 'front')} on the front and {_count(new, 'rear')} on the rear"
    items.append(Item(counts if new else "the outline alone, no zones yet", _WORDS))
    items += [Item(fact, _SMALL) for fact in facts]
    if far_off := sum(not _is_shown(zone, board) for zone in new):
        items.append(Item(f"{far_off} zones lie too far off to be shown", _SMALL, color=theme.WARNING))
    lines: list[tuple[str, Mark, Color]] = [
        ("outline", "solid", OUTLINE),
        ("the board's top edge", "solid", TOP),
    ]
    if new:
        lines.append(("new zones", "solid", NEW))
    if any(not _inside(zone, board) and _is_shown(zone, board) for zone in new):
        lines.append(("new zones outside the outline", "solid", OFF))
    if len(board.zones) > 0 and {zone.id for zone in board.zones} - {zone.id for zone in new}:
        lines.append(("zones the board file had", "solid", OLD))
    items += [Item(words, _SMALL, mark=mark, mark_color=color) for words, mark, color in lines]
    if "rear" in sides:
        items.append(Item("the rear is drawn as one sees it from behind", _SMALL, color=theme.MUTED))
    return items


def _count(zones: Sequence[Zone], side: Side) -> int:
    return sum(zone.side == side for zone in zones)


def _inside(zone: Zone, board: Board) -> bool:
    points = zone.shape.border_points(1.0)
    return bool(board.outline.contains(points[:, 0], points[:, 1]).any())


def _ring(shape: Shape, plan: Plan, view: View) -> FloatArray:
    return plan.on_image(view.at(closed(shape.border_points(1.0))))


def _draw_board(image: Image, plan: Plan, board: Board, view: View) -> None:
    double_lines(image, [_ring(board.outline, plan, view)], plan.px(3.0), OUTLINE)
    double_lines(image, [plan.on_image(view.at(edge)) for edge in top_edges(board)], plan.px(6.0), TOP)


def _draw_zones(image: Image, plan: Plan, zones: Sequence[Zone], view: View, color: Color, width: float) -> None:
    if zones:
        double_lines(image, [_ring(zone.shape, plan, view) for zone in zones], plan.px(width), color)


def _names(plan: Plan, zones: Sequence[Zone], view: View) -> list[Line]:
    """Name zones in their middle, above or below, the largest first, as long as no name covers another."""
    boxes: list[tuple[float, float, float, float]] = []
    lines: list[Line] = []
    size = plan.px(_NAME if len(zones) <= _MANY else _NAME_OF_MANY)
    largest_first = sorted(zones, key=lambda zone: -_extent(zone.shape))
    for zone in largest_first[: 4 * _NAMES_DRAWN]:
        text = clean(zone.id)[:16]
        half = 0.5 * text_width(text, "bold", size) + 2.0
        for x, y in _places(plan, zone, view, half, size):
            box = (x - half, y - 0.7 * size, x + half, y + 0.7 * size)
            if len(boxes) < _NAMES_DRAWN and not any(_overlap(box, other) for other in boxes):
                boxes.append(box)
                lines.append(Line(text, x + 1.0, y + 0.36 * size + 1.0, size, "bold", theme.DARK_STROKE, "middle"))
                lines.append(Line(text, x, y + 0.36 * size, size, "bold", theme.INK, "middle"))
                break
    return lines


def _places(plan: Plan, zone: Zone, view: View, half: float, size: float) -> list[tuple[float, float]]:
    """Give where a name may stand, the best first: in its zone where it has room, else above or below it."""
    x0, y0, x1, y1 = zone.shape.box_mm
    (left, low), (right, high) = np.sort(plan.on_image(view.at(np.array([[x0, y0], [x1, y1]]))), axis=0).tolist()
    x = min(max(0.5 * (left + right), half), plan.image.width - half)
    around = [(x, low - 0.8 * size), (x, high + 0.8 * size)]
    fits = high - low > 1.5 * size and right - left > 1.8 * half
    inside = (x, 0.5 * (low + high))
    return [inside, *around] if fits else [*around, inside] if high - low > 1.5 * size else around


def _extent(shape: Shape) -> float:
    x0, y0, x1, y1 = shape.box_mm
    return (x1 - x0) * (y1 - y0)


def _overlap(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _side_name(plan: Plan, board: Board, view: View) -> Line:
    x0, _, x1, y1 = board.outline.box_mm
    left = view.at(np.array([[x1 if view.side == "rear" else x0, y1]]))
    x, y = plan.on_image(left)[0].tolist()
    words = "front" if view.side == "front" else "rear, from behind"
    return Line(words, x, y - plan.px(14.0), plan.px(_SMALL), "bold", theme.INK)
