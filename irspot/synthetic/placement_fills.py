"""How boards of trial scenes fill the frame: well, from far away, mostly outside of it, two side by side."""

from __future__ import annotations

from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from irspot.board import Side
from irspot.shapes import Polygon
from irspot.synthetic.placement_views import (
    DIAGONAL_DEG,
    BoardView,
    at_distance,
    distance_for_fill,
    distance_for_overhang,
    random_optics,
    random_pose,
    top_of,
)

FloatArray = NDArray[np.float64]
Kind = Literal["solvable", "no-contrast", "cut-off", "two-boards", "too-small", "no-board"]

LEAST_FILL: Final = 0.30
"""Share of the frame that the outline's box covers at least, parts outside of it included."""
MOST_OVERHANG: Final = 0.06
"""Share of the frame's columns or rows by which a board reaches beyond it at most."""


def random_view(random: np.random.Generator, outline: Polygon, size_px: tuple[int, int], kind: Kind) -> BoardView:
    """Draw a camera and a pose that fill the frame as a kind of scene wants, no top edge facing a diagonal."""
    side: Side = "front" if random.random() < 0.6 else "rear"
    while True:
        start = BoardView(random_pose(random, outline.array_mm), side, random_optics(random, size_px), size_px)
        view = _VIEWS[kind](random, start, outline) if kind in _VIEWS else _filling(random, start, outline)
        if view is not None and top_of(view, outline.array_mm)[1] >= DIAGONAL_DEG:
            return view


def _filling(random: np.random.Generator, view: BoardView, outline: Polygon) -> BoardView | None:
    """Fill 30 % of the frame to a little more than all of it."""
    corners, size = outline.array_mm, np.array(view.size_px, np.float64)
    centre = (size - 1.0) / 2.0
    most = MOST_OVERHANG - 0.01 if random.random() < 0.25 else -0.01
    near = distance_for_overhang(view, corners, centre, most)
    far = distance_for_fill(view, corners, centre, LEAST_FILL)
    if far < near:
        return None
    chosen = near if most > 0.0 and random.random() < 0.5 else float(near * (far / near) ** random.uniform(0.0, 1.0))
    placed = at_distance(view, corners, centre, chosen)
    seen = placed.to_px(corners)
    room = np.maximum(0.0, np.minimum(seen.min(axis=0), size - 1.0 - seen.max(axis=0)))
    moved = placed.centred(corners, centre + random.uniform(-0.9, 0.9, 2) * room)
    # Away from the middle a tilted board is seen from another angle, and a little larger or smaller.
    return moved if moved.fill(corners) >= LEAST_FILL and moved.overhang(corners) <= MOST_OVERHANG else None


def _far_away(random: np.random.Generator, view: BoardView, outline: Polygon) -> BoardView:
    """Fill 3 to 12 % of the frame."""
    corners, size = outline.array_mm, np.array(view.size_px, np.float64)
    centre = size * random.uniform(0.35, 0.65, 2)
    distance = distance_for_fill(view, corners, centre, float(random.uniform(0.03, 0.12)))
    return at_distance(view, corners, centre, distance)


def _mostly_outside(random: np.random.Generator, view: BoardView, outline: Polygon) -> BoardView | None:
    """Fill as others do, but slide out of the frame until a third of the outline or less is inside."""
    filled = _filling(random, view, outline)
    if filled is None:
        return None
    corners, size = outline.array_mm, np.array(view.size_px, np.float64)
    direction = random.uniform(0.0, 2.0 * np.pi)
    towards = np.array([np.cos(direction), np.sin(direction)])
    most = float(random.uniform(0.08, 0.33))
    for step in np.arange(0.1, 1.2, 0.05):
        slid = filled.centred(corners, (size - 1.0) / 2.0 + towards * size * step)
        if float(slid.in_frame(slid.to_px(outline.border_points(4.0))).mean()) < most:
            return slid
    return None


def _with_room_for_two(random: np.random.Generator, view: BoardView, outline: Polygon) -> BoardView | None:
    """Let two boards side by side fill the frame."""
    x0, y0, x1, y1 = outline.box_mm
    pair = np.array([[0.0, 0.0], [2.0, 1.0]]) if x1 - x0 < y1 - y0 else np.array([[0.0, 0.0], [1.0, 2.0]])
    x2, y2 = pair[1] * [x1 - x0, y1 - y0] + (pair[1] - 1.0) * 50.0
    both = np.array([[x0, y0], [x2, y0], [x2, y2], [x0, y2]])
    size = np.array(view.size_px, np.float64)
    near = distance_for_overhang(view, both, (size - 1.0) / 2.0, -0.02)
    placed = at_distance(view, both, (size - 1.0) / 2.0, near)
    return placed if placed.fill(outline.array_mm) >= 0.16 else None


_VIEWS: Final = {"cut-off": _mostly_outside, "two-boards": _with_room_for_two, "too-small": _far_away}
