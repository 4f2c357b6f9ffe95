"""Where the tiles of a grid stand, and what stands where in a tile. Pure geometry."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from irspot.rendering.callouts import Box

MOST_TILES: Final = 12
GAP: Final = 26.0
HEADER: Final = 40.0
VALUE: Final = 26.0
NAME: Final = 20.0
_BETWEEN: Final = 16.0
"""Between image and list."""
_TWO_LINES: Final = 52.0
_ONE_LINE: Final = 35.0
_LIST_WIDTH: Final = 245.0
_LIST_WIDTH_MOST: Final = 420.0
_ENTRY_WIDTH: Final = 395.0
"""Value and name side by side, the name not cut where it is of usual length."""
_WANTED: Final = 4
"""Numbers a tile shows at least, where it has so many."""
_TYPE_SIZES: Final = (1.5, 1.25, 1.0)
_TYPE_COSTS: Final = 0.8
"""Larger type is taken where it costs no more than a fifth of what the tiles show."""


@dataclass(frozen=True, slots=True)
class TileLayout:
    """Where everything stands in one tile.

    Parameters
    ----------
    box : Box
        All of it.
    image : Box
        The frame, whole px.
    entries : tuple of Box
        Of the numbers, the most important first.
    two_lines : bool
        Whether a zone's name stands below its value, or beside it.
    unit : float
        px per design px.
    """

    box: Box
    image: Box
    entries: tuple[Box, ...]
    two_lines: bool
    unit: float


def plan_grid(
    room: Box, frame_shapes: Sequence[tuple[int, int]], counts: Sequence[int], unit: float
) -> list[TileLayout]:
    """Lay tiles out so that the images become as large as they can with their numbers beside or below them.

    Parameters
    ----------
    room : Box
    frame_shapes : sequence of (int, int)
        ``(rows, columns)`` of each tile's frame.
    counts : sequence of int
        Numbers that each tile has to show.
    unit : float
        px per design px of the page.

    Returns
    -------
    list of TileLayout
        Row by row, all tiles of one size.
    """
    best: list[TileLayout] = []
    for type_size in _TYPE_SIZES:
        here = max(_tilings(room, frame_shapes, counts, unit, unit * type_size), key=lambda t: _worth(t, counts))
        if not best or _worth(here, counts) * _TYPE_COSTS > _worth(best, counts):
            best = here
    return best


def _worth(tiles: list[TileLayout], counts: Sequence[int]) -> float:
    """Tell how good a layout is: the area of its images, less where they show fewer numbers than wanted."""
    wanted = sum(min(count, _WANTED) for count in counts)
    shown = sum(min(len(tile.entries), _WANTED) for tile in tiles)
    area = sum(tile.image.width * tile.image.height for tile in tiles)
    return area * (shown / wanted if wanted else 1.0)


def _tilings(
    room: Box, frame_shapes: Sequence[tuple[int, int]], counts: Sequence[int], page_unit: float, unit: float
) -> Iterator[list[TileLayout]]:
    count = len(frame_shapes)
    for columns in range(1, count + 1):
        rows = -(-count // columns)
        if columns > 1 and -(-count // (columns - 1)) == rows:
            continue  # a column less does as well
        boxes = _boxes(room, rows, columns, GAP * page_unit)[:count]
        for arranged in (_beside, _below):
            yield [arranged(*each, unit) for each in zip(boxes, frame_shapes, counts, strict=True)]


def _boxes(room: Box, rows: int, columns: int, gap: float) -> list[Box]:
    width, height = (room.width - (columns - 1) * gap) / columns, (room.height - (rows - 1) * gap) / rows
    return [
        Box(room.x0 + i * (width + gap), y, room.x0 + i * (width + gap) + width, y + height)
        for row in range(rows)
        for y in [room.y0 + row * (height + gap)]
        for i in range(columns)
    ]


def _beside(box: Box, frame_shape: tuple[int, int], count: int, unit: float) -> TileLayout:
    """Set the numbers to the right of the image, each with its name below it."""
    top, gap = box.y0 + HEADER * unit, _BETWEEN * unit
    image = _fitted(Box(box.x0, top, box.x1 - _LIST_WIDTH * unit - gap, box.y1), frame_shape)
    pitch = _TWO_LINES * unit
    fit = min(count, max(0, int((box.y1 - top) // pitch)))
    x0 = image.x1 + gap
    x1 = min(box.x1, x0 + _LIST_WIDTH_MOST * unit)
    entries = tuple(Box(x0, top + i * pitch, x1, top + (i + 1) * pitch) for i in range(fit))
    return TileLayout(box, image, entries, True, unit)


def _below(box: Box, frame_shape: tuple[int, int], count: int, unit: float) -> TileLayout:
    """Set the numbers below the image, in columns, each with its name beside it."""
    top, pitch, gap = box.y0 + HEADER * unit, _ONE_LINE * unit, _BETWEEN * unit
    columns = min(count, int((box.width + gap) // (_ENTRY_WIDTH * unit + gap)))
    if columns < 1:
        return TileLayout(box, _fitted(Box(box.x0, top, box.x1, box.y1), frame_shape), (), False, unit)
    wanted = -(-min(count, _WANTED) // columns)
    image = _fitted(Box(box.x0, top, box.x1, box.y1 - wanted * pitch - 0.5 * gap), frame_shape)
    y0, width = image.y1 + 0.5 * gap, (box.width - (columns - 1) * gap) / columns
    rows = min(-(-count // columns), int((box.y1 + 1.0 - y0) // pitch))  # what the image leaves is for numbers too
    entries = tuple(
        Box(x0, y0 + row * pitch, x0 + width, y0 + (row + 1) * pitch)
        for row in range(rows)
        for x0 in [box.x0 + column * (width + gap) for column in range(columns)]
    )
    return TileLayout(box, image, entries[:count], False, unit)


def _fitted(room: Box, frame_shape: tuple[int, int]) -> Box:
    """Fit a frame into a room in its own proportions, at its upper left, on whole px."""
    rows, columns = frame_shape
    scale = max(0.0, min(room.width / columns, room.height / rows))
    x0, y0 = round(room.x0), round(room.y0)
    return Box(x0, y0, x0 + max(1, int(columns * scale)), y0 + max(1, int(rows * scale)))
