"""Parts of an invented board of 100 x 70 mm whose upper right corner is cut off, front and rear."""

from __future__ import annotations

from irspot.layout.part import Part, Size
from irspot.shapes import Polygon

OUTLINE = Polygon(((0.0, 0.0), (100.0, 0.0), (100.0, 30.0), (60.0, 70.0), (0.0, 70.0)))
"""Without symmetry: what is turned over falls off."""
CORNERS_MM = [list(corner) for corner in OUTLINE.vertices_mm]

BOARD = f"""\
# An invented board; no such board exists.
schema = 1
name = "Dunlin D1"  # as printed

[outline]
polygon_mm = {CORNERS_MM}

[[zone]]
id = "patch"  # drawn by hand
rect_mm = [1.0, 1.0, 3.0, 3.0]
emissivity = 0.95
u_emissivity = 0.01

[[mark]]
id = "hole"  # upper left
x_mm = 4.0
y_mm = 66.0
"""


def _part(ref: str, x: float, y: float, turn: float, side: str, length: float, width: float) -> Part:
    size = Size(length, width, 0.9)
    return Part(ref, x, y, turn, side, f"P_{length:g}x{width:g}x0.9mm", "", size)  # type: ignore[arg-type]


FRONT = (
    _part("Q1", 10.0, 60.123457, 0.0, "front", 6.0, 5.0),
    _part("Q2", 18.0, 60.0, 90.0, "front", 6.0, 5.0),
    _part("L1", 30.5, 55.25, 45.0, "front", 7.0, 7.5),
    _part("U7", 80.0, 20.0, 180.0, "front", 9.0, 9.0),
    _part("R12", 96.0, 12.7, 270.0, "front", 1.6, 0.8),
    _part("C3", 3.175, 8.0, 12.5, "front", 1.0, 0.5),
)
REAR = (
    _part("C101", 8.0, 63.0, 0.0, "rear", 3.2, 1.6),
    _part("U102", 40.0, 50.0, 30.0, "rear", 5.0, 4.0),
    _part("D103", 20.0, 65.0, 90.0, "rear", 2.0, 1.25),
)
PARTS = (*FRONT, *REAR)
