"""Boards and frames of known truth for the tests of this folder."""

from __future__ import annotations

import numpy as np

from irspot.board import Board, Zone
from irspot.camera import Accuracy, Camera, Optics
from irspot.conditions import Conditions
from irspot.frame import Frame, degc_frame
from irspot.placing import CornersPx
from irspot.radiometry import apparent_temperature
from irspot.registration import homography, place
from irspot.registration.placement import Placement
from irspot.shapes import Circle, Polygon, rectangle

COLUMNS, ROWS = 173, 131
"""Awkward on purpose."""
SIZE = (COLUMNS, ROWS)
CONDITIONS = Conditions(ambient_degc=21.0, reflected_degc=22.0)
QUIET = Accuracy(limit_k=1.0, limit_relative=0.01, noise_k=0.05, assumed=False)
CAMERA = Camera(name="bench", accuracy=QUIET, optics=Optics(blur_px=0.5))

L_SHAPE = Polygon(((60.0, 12.0), (95.0, 12.0), (95.0, 24.0), (74.0, 24.0), (74.0, 52.0), (60.0, 52.0)))
BOARD = Board(
    "Kestrel K7",
    rectangle(0, 0, 110, 90),
    zones=(
        Zone("ps-left", rectangle(8, 50, 30, 32), role="power-stage", emissivity=0.95, u_emissivity=0.02),
        Zone("coil", Circle(75, 70, 11), role="inductor", emissivity=0.8, u_emissivity=0.03),
        Zone("ell", L_SHAPE, exclude=(Circle(66, 30, 2.5), rectangle(85, 14, 4, 4))),
        Zone("back", rectangle(10, 10, 30, 20), side="rear"),
    ),
)


def straight_placement(
    scale: float = 1.4, x0: float = 9.25, y0: float = 128.0, size: tuple[int, int] = SIZE
) -> Placement:
    """A view straight on: px = (x0 + scale x, y0 - scale y)."""
    matrix = np.array([[scale, 0.0, x0], [0.0, -scale, y0], [0.0, 0.0, 1.0]])
    return Placement(matrix, "front", Optics(), size, "corners", 0.0, 0.0, 4)


def tilted_placement(board: Board = BOARD, optics: Optics | None = None, size: tuple[int, int] = SIZE) -> Placement:
    corners = ((10.3, 124.0), (163.2, 120.1), (158.0, 8.4), (18.7, 4.9))
    scale = np.array(size) / np.array(SIZE)
    points = tuple((float(x), float(y)) for x, y in np.array(corners) * scale)
    return place(board, size, optics or Optics(), CornersPx(points))


def ramp(seed: int = 0, noise_k: float = 0.0, size: tuple[int, int] = SIZE) -> np.ndarray:
    """Numbers that encode row and column, hottest to the lower right, with noise if wanted."""
    y, x = np.mgrid[0 : size[1], 0 : size[0]]
    noise = np.random.default_rng(seed).normal(0.0, noise_k, x.shape) if noise_k else 0.0
    return (40.0 + 0.1 * x + 0.13 * y + noise).astype(np.float32)


def frame_of(degc: np.ndarray, camera: Camera = CAMERA) -> Frame:
    return degc_frame(np.asarray(degc, dtype=np.float32), camera=camera)


def mask_by_definition(zone: Zone, placement: Placement, others: tuple[Zone, ...] = ()) -> np.ndarray:
    """The inclusion rule spelled out, pixel by pixel, from the placement's matrix alone (no distortion)."""
    columns, rows = placement.size_px
    y, x = np.mgrid[0:rows, 0:columns]
    mm = homography.apply(np.linalg.inv(placement.matrix), np.column_stack([x.ravel(), y.ravel()]).astype(float))
    inside = zone.shape.contains(*mm.T)
    for part in (*zone.exclude, *(other.shape for other in others)):
        inside &= ~part.contains(*mm.T)
    return inside.reshape(rows, columns)


def apparent_of(surface_degc: np.ndarray, zone: Zone, conditions: Conditions = CONDITIONS) -> np.ndarray:
    """How a surface of a zone's emissivity appears."""
    return apparent_temperature(
        np.asarray(surface_degc, dtype=np.float64),
        emissivity=zone.emissivity,
        reflected_degc=conditions.reflected_degc,
        transmission=conditions.transmission,
        window_degc=21.0 if conditions.window_degc is None else conditions.window_degc,
        band=CAMERA.band,
    )
