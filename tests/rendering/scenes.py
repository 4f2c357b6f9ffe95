"""Frames, boards and readings to draw: awkward sizes, values made up and known."""

from __future__ import annotations

import math

import numpy as np

from irspot.board import ELSEWHERE, Board, Zone
from irspot.camera import Optics
from irspot.registration.homography import fit
from irspot.registration.placement import Placement
from irspot.rendering import Caption
from irspot.results import Reading
from irspot.shapes import Circle, rectangle

WIDTH_MM, HEIGHT_MM = 244.0, 183.0
SHAPE = (241, 323)
CAPTION = Caption(
    title="Kestrel K7 (invented)",
    load="all-core render, power limits as shipped",
    side="front",
    ambient="21.3 ± 1.0 °C",
    date="2026-03-01 14:22:08 UTC",
    camera="bench camera",
    lines=("made for a test",),
    footer="irspot",
)


def placed(shape: tuple[int, int] = SHAPE, optics: Optics | None = None) -> Placement:
    """The board somewhat askew, all of it in the frame."""
    rows, columns = shape
    corners_mm = np.array([[0.0, 0.0], [WIDTH_MM, 0.0], [WIDTH_MM, HEIGHT_MM], [0.0, HEIGHT_MM]])
    corners_px = np.array([[0.07, 0.93], [0.95, 0.9], [0.92, 0.08], [0.06, 0.05]]) * [columns, rows]
    matrix = fit(corners_mm, corners_px)
    return Placement(matrix, "front", optics or Optics(), (columns, rows), "corners", 0.0, 0.0, 4)


def board_of(count: int) -> Board:
    """A board with zones on a grid, every fifth one round."""
    per_row = max(1, math.ceil(math.sqrt(count)))
    pitch_x, pitch_y = WIDTH_MM / per_row, HEIGHT_MM / per_row
    zones = []
    for i in range(count):
        x, y = (i % per_row + 0.2) * pitch_x, (i // per_row + 0.2) * pitch_y
        width, height = 0.55 * pitch_x, 0.6 * pitch_y
        shape = rectangle(x, y, width, height)
        if i % 5 == 4:
            zones.append(Zone(f"z{i}", Circle(x + 0.5 * width, y + 0.5 * height, 0.4 * min(width, height))))
        else:
            zones.append(Zone(f"z{i}", shape, name=f"Zone of parts {i}", exclude=(Circle(x + 3, y + 3, 1.5),)))
    return Board("Kestrel K7", rectangle(0, 0, WIDTH_MM, HEIGHT_MM), tuple(zones))


def reading(zone: str, degc: float, x_px: float, y_px: float, verdict: str = "usable", **more: object) -> Reading:
    """A reading as measurement would give it."""
    values = {"max_degc": degc, "U_max_k": 2.137, "hot_x_px": x_px, "hot_y_px": y_px, **more}
    name = str(values.pop("zone_name", f"Zone {zone}"))
    return Reading("frame", "", zone, "", name, verdict, **values)  # type: ignore[arg-type]


def readings_of(board: Board, placement: Placement, seed: int = 3) -> tuple[Reading, ...]:
    """One reading a zone, its hot spot somewhere in it; every fourth a lower bound, every seventh a retake."""
    rng = np.random.default_rng(seed)
    made = []
    for i, zone in enumerate(board.zones):
        x0, y0, x1, y1 = zone.shape.box_mm
        spot = np.array([[rng.uniform(x0, x1), rng.uniform(y0, y1)]])
        x, y = placement.to_px(spot)[0]
        degc = 40.0 + 1.7 * i
        if i % 7 == 6:
            made.append(reading(zone.id, math.nan, math.nan, math.nan, "retake", flags=("impossible-radiance",)))
        else:
            made.append(reading(zone.id, degc, float(x), float(y), "lower bound" if i % 4 == 3 else "usable"))
    made.append(reading(ELSEWHERE, 33.3, 5.0, 5.0, zone_name="elsewhere"))
    return tuple(made)


def warm_frame(shape: tuple[int, int] = SHAPE) -> np.ndarray:
    """A ramp from 25 °C at the upper left to 85 °C at the lower right."""
    rows, columns = shape
    y, x = np.mgrid[0:rows, 0:columns]
    return (25.0 + 60.0 * (x / columns + y / rows) / 2.0).astype(np.float32)
