"""Several boards side by side on one colour scale, each with its hottest zones in numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.errors import UsageError
from irspot.registration.placement import Placement
from irspot.rendering import theme
from irspot.rendering.callouts import Box
from irspot.rendering.caption import PLUS_MINUS, Caption, header_lines, header_px, set_footer, small_print
from irspot.rendering.colors import ColorScale, color_scale
from irspot.rendering.frame_layer import draw_frame, draw_outlines
from irspot.rendering.grid_layout import MOST_TILES, NAME, VALUE, TileLayout, plan_grid
from irspot.rendering.heat import blank, checked_size, lettered
from irspot.rendering.labels import Label, labels_of
from irspot.rendering.legend import draw_legend, legend_lines
from irspot.rendering.page import Page, bare_page, legend_top_px, on_page, unit_of
from irspot.rendering.picture import Picture
from irspot.rendering.sheet import Line
from irspot.rendering.strokes import Image, double_ring, fill, frame_around
from irspot.rendering.text import clean, paragraph, shortened, text_width
from irspot.rendering.value import value_parts
from irspot.results import Reading

_UNPLACED_SHAPE = (3, 4)


@dataclass(frozen=True, slots=True, eq=False)
class Tile:
    """One board of a grid.

    Parameters
    ----------
    title : str
        The board's name.
    facts : tuple of str
        What tells it from the others, the most important first.
    board : Board or None
    surface_degc : ndarray, shape (rows, columns), or None
        None where there is nothing to show.
    placement : Placement or None
    readings : sequence of Reading
    problem : str
        Why there is nothing to show.
    """

    title: str
    facts: tuple[str, ...]
    board: Board | None
    surface_degc: NDArray[Any] | None
    placement: Placement | None
    readings: Sequence[Reading]
    problem: str = ""


def grid_picture(
    tiles: Sequence[Tile],
    *,
    caption: Caption,
    scale_degc: tuple[float, float],
    cmap: str = "inferno",
    size: tuple[int, int] = (1920, 1080),
) -> Picture:
    """Draw boards side by side.

    Parameters
    ----------
    tiles : sequence of Tile
        2 to 12.
    caption : Caption
        Of the whole.
    scale_degc : tuple of float
        One for all of them.
    cmap : str
        A colour map of matplotlib.
    size : tuple of int

    Returns
    -------
    Picture

    Raises
    ------
    UsageError
        For a count of tiles that no grid is made of.
    """
    if not 2 <= len(tiles) <= MOST_TILES:
        raise UsageError("a grid has 2 to 12 tiles", found=f"{len(tiles)}")
    size = checked_size(size)
    scale = color_scale(cmap, scale_degc)
    labels = [_labels(tile) for tile in tiles]
    everything = [label for each in labels for label in each]
    parts = [f"surface temperature, colour map {clean(cmap)}, one scale for all", PLUS_MINUS]
    parts += ["≥ the true value may be higher" if any(label.lower_bound for label in everything) else ""]
    surfaces = [tile.surface_degc for tile in tiles if tile.surface_degc is not None]
    parts += ["hatched: not measured" if not all(np.isfinite(s).all() for s in surfaces) else ""]
    footer = small_print(caption, parts, size)
    unit = unit_of(size)
    margin = theme.MARGIN * unit
    room = Box(margin, header_px(caption, size), size[0] - margin, legend_top_px(size, len(footer)) - 10.0 * unit)
    shapes = [_UNPLACED_SHAPE if t.surface_degc is None else (*t.surface_degc.shape,) for t in tiles]
    layouts = plan_grid(room, [(s[0], s[1]) for s in shapes], [len(each) for each in labels], unit)
    page = bare_page(size, len(footer), room)
    image = blank(page)
    lines = [*header_lines(caption, page), *legend_lines(page, scale), *set_footer(footer, page)]
    for tile, layout, own in zip(tiles, layouts, labels, strict=True):
        lines += _draw_tile(image, page, tile, layout, own, scale)
    draw_legend(image, page, scale, everything)
    return lettered(image, tuple(lines))


def _labels(tile: Tile) -> tuple[Label, ...]:
    if tile.surface_degc is None or tile.board is None:
        return ()
    shape = (tile.surface_degc.shape[0], tile.surface_degc.shape[1])
    return labels_of(tile.readings, tile.board, tile.placement, shape)


def _draw_tile(
    image: Image, page: Page, tile: Tile, layout: TileLayout, labels: Sequence[Label], scale: ColorScale
) -> list[Line]:
    """Draw one tile but for its text, and give that."""
    lines = _title(tile, layout, len(labels))
    if tile.surface_degc is None or tile.placement is None or tile.board is None:
        return lines + _draw_refusal(image, tile, layout)
    local = replace(page, image=layout.image, unit=layout.unit)
    draw_frame(image, local, tile.surface_degc, scale)
    draw_outlines(image, replace(local, unit=0.55 * layout.unit), tile.board, tile.placement, tile.surface_degc.shape)
    shape = (tile.surface_degc.shape[0], tile.surface_degc.shape[1])
    shown = list(zip(labels, layout.entries, strict=False))
    for number, (label, box) in enumerate(shown, start=1):
        lines += _entry(image, layout, number, label, box, scale)
    return lines + _markers(image, layout, [on_page(label.spot_px, layout.image, shape) for label, _ in shown])


def _title(tile: Tile, layout: TileLayout, count: int) -> list[Line]:
    """Set a tile's name, how many of its zones it lists where that is not all, and what tells it from the others."""
    unit, box = layout.unit, layout.box
    base, size = box.y0 + 27.0 * unit, 26.0 * unit
    title = Line(clean(tile.title), box.x0, base, size, "bold").within(0.68 * box.width)
    x = box.x0 + text_width(title.text, "bold", size) + 14.0 * unit
    listed = len(layout.entries)
    part = f"{listed} of {count} zones" if listed < count else ""
    told = _fitting([clean(fact) for fact in tile.facts], part, NAME * unit, box.x1 - x)
    return [title, Line(told, x, base, NAME * unit, color=theme.MUTED).within(box.x1 - x)]


def _fitting(facts: Sequence[str], part: str, size_px: float, room: float) -> str:
    """Join as many facts as have room; the first may be cut, but never what says that zones are missing."""
    width = text_width(f", {part}", "regular", size_px) if part else 0.0
    first = shortened(facts[0], "regular", size_px, room - width) if facts else ""
    told = ", ".join(each for each in (first, part) if each)
    for fact in facts[1:]:
        if text_width(f"{told}, {fact}", "regular", size_px) > room:
            break
        told = f"{told}, {fact}" if told else fact
    return told


def _draw_refusal(image: Image, tile: Tile, layout: TileLayout) -> list[Line]:
    """Say in place of a frame why there is none."""
    unit, box = layout.unit, Box(layout.box.x0, layout.image.y0, layout.box.x1, layout.box.y1)
    edges = (round(box.x0), round(box.y0), round(box.x1), round(box.y1))
    fill(image, edges, (28, 33, 41))
    frame_around(image, edges, 1.5 * unit, theme.HAIRLINE)
    size, pitch = NAME * unit, 1.35 * NAME * unit
    most = max(1, int((box.height - 24.0 * unit) // pitch))
    told = paragraph(clean(tile.problem), "regular", size, box.width - 32.0 * unit)[:most]
    top = box.y0 + 14.0 * unit + size
    return [Line(text, box.x0 + 16.0 * unit, top + i * pitch, size, color=theme.WARNING) for i, text in enumerate(told)]


def _entry(image: Image, layout: TileLayout, number: int, label: Label, box: Box, scale: ColorScale) -> list[Line]:
    """Set one zone's number, value and name, with a chip of the value's own colour."""
    unit = layout.unit
    value_px, name_px, chip = VALUE * unit, NAME * unit, 7.0 * unit
    color = theme.WARNING if math.isnan(label.degc) else theme.INK
    base = box.y0 + (0.95 if layout.two_lines else 1.05) * value_px
    chip_box = (box.x0, base - 0.86 * value_px, box.x0 + chip, base + 0.12 * value_px)
    fill(image, chip_box, theme.HATCH[0] if math.isnan(label.degc) else scale.color_of(label.degc))
    frame_around(image, chip_box, unit, theme.MUTED)
    x = box.x0 + chip + 9.0 * unit
    lines = [Line(str(number), x, base, name_px, color=theme.MUTED)]
    x += text_width("8", "regular", name_px) + 9.0 * unit
    head, tail = value_parts(label.value)
    lines.append(Line(head, x, base, value_px, "bold", color))
    after = x + text_width(head, "bold", value_px)
    lines.append(Line(tail, after, base, name_px, color=color))
    name = f"{label.name} ({label.why})" if label.why else label.name
    if layout.two_lines:
        below = Line(name, x, base + 1.12 * name_px, name_px, color=theme.MUTED)
        return [*lines, below.within(box.x1 - x)]
    after += text_width(tail, "regular", name_px) + 12.0 * unit
    return [*lines, Line(name, after, base, name_px, color=theme.MUTED).within(box.x1 - after)]


def _markers(image: Image, layout: TileLayout, points: Sequence[tuple[float, float] | None]) -> list[Line]:
    """Ring the hot spots of the zones listed, each with its number beside it where that hides no other."""
    unit = min(layout.unit, layout.image.width / 330.0)
    radius, size = 6.0 * unit, max(11.0, 16.0 * unit)
    width, height = text_width("8", "bold", size) + 6.0 * unit, 1.2 * size
    taken: list[Box] = [_around(point, radius) for point in points if point is not None]
    lines = []
    for number, point in enumerate(points, start=1):
        if point is None:
            continue
        double_ring(image, *point, radius, 1.6 * unit)
        plate = next((b for b in _beside_ring(point, radius, width, height) if _free(b, taken, layout.image)), None)
        if plate is not None:
            taken.append(plate)
            fill(image, (plate.x0, plate.y0, plate.x1, plate.y1), theme.PAGE)
            middle = 0.5 * (plate.x0 + plate.x1)
            lines.append(Line(str(number), middle, plate.y1 - 0.22 * height, size, "bold", align="middle"))
    return lines


def _around(point: tuple[float, float], radius: float) -> Box:
    return Box(point[0] - radius, point[1] - radius, point[0] + radius, point[1] + radius)


def _beside_ring(point: tuple[float, float], radius: float, width: float, height: float) -> list[Box]:
    x, y = point
    gap = radius + 3.0
    lefts = (x + gap, x - gap - width)
    places = [(left, y - 0.5 * height) for left in lefts]
    places += [(x - 0.5 * width, y - gap - height), (x - 0.5 * width, y + gap)]
    places += [(left, top) for left in lefts for top in (y - gap - 0.5 * height, y + gap - 0.5 * height)]
    return [Box(left, top, left + width, top + height) for left, top in places]


def _free(box: Box, taken: Sequence[Box], image: Box) -> bool:
    return image.holds(box) and not any(box.overlaps(other) for other in taken)
