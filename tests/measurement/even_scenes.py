"""A board of mask with metal on it: frames of it evenly warm and under load, seen by cameras of known errors."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from irspot.board import Board, Zone
from irspot.camera import Accuracy, Band, Camera, Optics, Signal
from irspot.conditions import Conditions
from irspot.even_frame import EvenConditions
from irspot.frame import Frame
from irspot.placing import CornersPx
from irspot.radiometry import band_table
from irspot.registration import place
from irspot.registration.placement import Placement
from irspot.shapes import rectangle

COLUMNS, ROWS = 331, 253
"""Awkward on purpose."""
SCALE = 2.0
BLUR_PX = 0.7
FINE = 3
"""Samples a pixel, each way."""
MASK, METAL, GREY = 0.92, 0.2, 0.4
BAND = Band()
CONDITIONS = Conditions(22.0, 0.3, 24.0, 0.3)
TAKEN = EvenConditions(50.0, 0.2, 23.0, 0.3)
BOARD = Board(
    "Metal and mask",
    rectangle(0, 0, 150, 110),
    zones=(
        Zone("metal", rectangle(24, 64, 32, 24), emissivity=0.05, u_emissivity=0.02, material="polished aluminium"),
        Zone("grey", rectangle(94, 24, 32, 24), emissivity=0.05, u_emissivity=0.02),
        Zone("mask", rectangle(94, 64, 32, 24), emissivity=0.93, u_emissivity=0.02),
        Zone("both", rectangle(12, 56, 56, 44), emissivity=0.93, u_emissivity=0.02),
    ),
)


def camera_of(limit_k: float = 0.3, noise_k: float = 0.04, optics: Optics | None = None) -> Camera:
    accuracy = Accuracy(limit_k, 0.0, 0.02, noise_k, assumed=False)
    return Camera(
        "scene", signal=Signal("degC"), optics=optics or Optics(blur_px=BLUR_PX), band=BAND, accuracy=accuracy
    )


CAMERA = camera_of()


@dataclass(frozen=True, slots=True)
class Seen:
    """A camera's view of the board: its corner, lower left, at a place of the frame."""

    x_px: float = 15.0
    y_px: float = 236.0
    camera: Camera = CAMERA

    def mm(self) -> tuple[np.ndarray, np.ndarray]:
        """Board places of all samples."""
        x = (np.arange(COLUMNS * FINE) + 0.5) / FINE - 0.5
        y = (np.arange(ROWS * FINE) + 0.5) / FINE - 0.5
        return (x[None, :] - self.x_px) / SCALE, (self.y_px - y[:, None]) / SCALE

    def placement(self, board: Board = BOARD) -> Placement:
        """Where the board really is, as corners given by hand say it."""
        corners = board.outline.array_mm * SCALE * (1.0, -1.0) + (self.x_px, self.y_px)
        how = CornersPx(tuple((float(x), float(y)) for x, y in corners))
        return place(board, (COLUMNS, ROWS), self.camera.optics, how, top="up")


def emissivities(x_mm: np.ndarray, y_mm: np.ndarray) -> np.ndarray:
    """Metal and grey plates, 4 mm wider than their zones on all sides."""
    e = np.full(np.broadcast(x_mm, y_mm).shape, MASK)
    e[(x_mm >= 20) & (x_mm <= 60) & (y_mm >= 60) & (y_mm <= 92)] = METAL
    e[(x_mm >= 90) & (x_mm <= 130) & (y_mm >= 20) & (y_mm <= 52)] = GREY
    return e


def loaded_degc(x_mm: np.ndarray, y_mm: np.ndarray) -> np.ndarray:
    """Heat that spreads: 90 °C in the middle of the metal, 80 °C in the grey plate's, 70 °C in the mask zone's."""

    def hill(x0: float, y0: float, height: float) -> np.ndarray:
        return height * np.exp(-((x_mm - x0) ** 2 + (y_mm - y0) ** 2) / 2.0 / 9.0**2)

    return 45.0 + hill(40, 76, 45.0) + hill(110, 36, 35.0) + hill(110, 76, 25.0)


def frame_of(
    view: Seen, degc: np.ndarray | float, reflected_degc: float, *, off_k: float = 0.0, seed: int = 0
) -> Frame:
    """Take a frame; the bench is at 22 °C."""
    x, y = view.mm()
    on = (x >= 0) & (x <= 150) & (y >= 0) & (y <= 110)
    table, e = band_table(BAND), emissivities(x, y)
    own = table.radiance(np.broadcast_to(degc, e.shape))
    radiance = np.where(on, e * own + (1.0 - e) * table.radiance(reflected_degc), table.radiance(22.0))
    blurred = cv2.GaussianBlur(radiance, (0, 0), BLUR_PX * FINE)
    sensed = blurred.reshape(ROWS, FINE, COLUMNS, FINE).mean(axis=(1, 3))
    random = np.random.default_rng(seed)
    noise = view.camera.accuracy.noise_k * random.standard_normal(sensed.shape)
    return Frame((table.temperature_degc(sensed) + off_k + noise).astype(np.float32), view.camera, f"frame-{seed}")


def loaded(view: Seen, **options: float) -> Frame:
    return frame_of(view, loaded_degc(*view.mm()), CONDITIONS.reflected_degc or 0.0, **options)  # type: ignore[arg-type]


def even(view: Seen, **options: float) -> Frame:
    return frame_of(view, TAKEN.temperature_degc, TAKEN.reflected_degc, **options)  # type: ignore[arg-type]
