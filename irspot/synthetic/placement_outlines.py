"""Outlines that placements are tried on: five shapes in the range of sizes that real boards have.

Standard sizes are among them. Every outline's box starts at (0, 0).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, Literal

import numpy as np

from irspot.shapes import Polygon, rectangle
from irspot.standard_boards import standard_board

OutlineShape = Literal["rectangle", "square", "notched", "l-shape", "chamfered"]
SHAPES: Final[tuple[OutlineShape, ...]] = ("rectangle", "square", "notched", "l-shape", "chamfered")


def random_outline(random: np.random.Generator, shape: OutlineShape) -> Polygon:
    """Draw an outline of one shape.

    Parameters
    ----------
    random : Generator
    shape : {"rectangle", "square", "notched", "l-shape", "chamfered"}

    Returns
    -------
    Polygon
        Corners counter-clockwise in front-view mm, starting anywhere.
    """
    corners = _MAKERS[shape](random)
    first = int(random.integers(len(corners)))
    return Polygon(tuple((round(x, 2), round(y, 2)) for x, y in corners[first:] + corners[:first]))


_Corners = list[tuple[float, float]]


def _box(random: np.random.Generator) -> tuple[float, float]:
    """Draw a width and a height that are clearly not the same."""
    if random.random() < 0.4:
        atx = standard_board("ATX")
        long, short = atx.long_mm, atx.short_mm
    else:
        long = float(random.uniform(100.0, 330.0))
        short = long / float(random.uniform(1.2, 2.0))
    return (long, short) if random.random() < 0.5 else (short, long)


def _rectangle(random: np.random.Generator) -> _Corners:
    return list(rectangle(0.0, 0.0, *_box(random)).vertices_mm)


def _square(random: np.random.Generator) -> _Corners:
    side = float(random.choice([standard_board("Mini-ITX").long_mm, standard_board("microATX").long_mm]))
    return list(rectangle(0.0, 0.0, side, side).vertices_mm)


def _notched(random: np.random.Generator) -> _Corners:
    """A rectangle with a rectangular bay in its right or upper edge."""
    width, height = _box(random)
    depth = float(random.uniform(0.10, 0.25)) * min(width, height)
    if random.random() < 0.5:
        low = float(random.uniform(0.15, 0.40)) * height
        high = low + float(random.uniform(0.15, 0.40)) * height
        bay = [(width, low), (width - depth, low), (width - depth, high), (width, high)]
        return [(0.0, 0.0), (width, 0.0), *bay, (width, height), (0.0, height)]
    left = float(random.uniform(0.15, 0.40)) * width
    right = left + float(random.uniform(0.15, 0.40)) * width
    bay = [(right, height), (right, height - depth), (left, height - depth), (left, height)]
    return [(0.0, 0.0), (width, 0.0), (width, height), *bay, (0.0, height)]


def _l_shape(random: np.random.Generator) -> _Corners:
    """A rectangle without one of its corners, turned by quarters."""
    width, height = _box(random)
    x, y = width * float(random.uniform(0.4, 0.7)), height * float(random.uniform(0.4, 0.7))
    return _without_corner(random, width, height, [(width, y), (x, y), (x, height)])


def _chamfered(random: np.random.Generator) -> _Corners:
    """A rectangle with one corner cut off aslant."""
    width, height = _box(random)
    x, y = width * float(random.uniform(0.12, 0.35)), height * float(random.uniform(0.12, 0.35))
    return _without_corner(random, width, height, [(width, height - y), (width - x, height)])


def _without_corner(random: np.random.Generator, width: float, height: float, instead: _Corners) -> _Corners:
    corners = [(0.0, 0.0), (width, 0.0), *instead, (0.0, height)]
    if random.random() < 0.5:
        corners = [(width - x, y) for x, y in reversed(corners)]
    if random.random() < 0.5:
        corners = [(x, height - y) for x, y in reversed(corners)]
    return corners


_MAKERS: Final[dict[OutlineShape, Callable[[np.random.Generator], _Corners]]] = {
    "rectangle": _rectangle,
    "square": _square,
    "notched": _notched,
    "l-shape": _l_shape,
    "chamfered": _chamfered,
}
