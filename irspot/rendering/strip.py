"""The strip below the frame that lists the zones for which there was no room beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from irspot.rendering import theme
from irspot.rendering.callouts import Box
from irspot.rendering.labels import Label
from irspot.rendering.text import text_width
from irspot.rendering.value import value_parts

_COLUMN_GAP = 30.0
_LEAST_NAME = 60.0


@dataclass(frozen=True, slots=True)
class Strip:
    """A small table.

    Parameters
    ----------
    box : Box
    labels : tuple of Label
        All that are not beside the frame.
    cells : tuple of (Label, Box)
        Those listed, column by column.
    unlisted : int
        How many even the strip had no room for; it says so in its last cell.
    note : Box or None
        That last cell.
    """

    box: Box
    labels: tuple[Label, ...]
    cells: tuple[tuple[Label, Box], ...]
    unlisted: int
    note: Box | None


def plan_strip(labels: Sequence[Label], box: Box, rows: int, unit: float) -> Strip:
    """Set labels in columns.

    Parameters
    ----------
    labels : sequence of Label
    box : Box
    rows : int
    unit : float
        px per design px.
    """
    size = theme.STRIP * unit
    widest = max((strip_value_width(label.value, size) for label in labels), default=0.0)
    gap = _COLUMN_GAP * unit
    columns = max(1, int((box.width + gap) // (widest + (_LEAST_NAME + 90.0) * unit + gap)))
    columns = max(1, min(columns, 5, -(-len(labels) // rows)))
    boxes = _cell_boxes(box, rows, columns, gap)
    if len(labels) <= len(boxes):
        return Strip(box, tuple(labels), tuple(zip(labels, boxes, strict=False)), 0, None)
    listed = len(boxes) - 1
    cells = tuple(zip(labels[:listed], boxes, strict=False))
    return Strip(box, tuple(labels), cells, len(labels) - listed, boxes[-1])


def strip_value_width(value: str, size_px: float) -> float:
    """Width of a value in the strip, px."""
    head, tail = value_parts(value)
    return text_width(head, "bold", size_px) + text_width(tail, "regular", size_px)


def _cell_boxes(box: Box, rows: int, columns: int, gap: float) -> list[Box]:
    width = (box.width - (columns - 1) * gap) / columns
    height = box.height / rows
    return [
        Box(x, box.y0 + row * height, x + width, box.y0 + (row + 1) * height)
        for column in range(columns)
        for x in [box.x0 + column * (width + gap)]
        for row in range(rows)
    ]
