"""Frames of an even board before an even background, the place of its outline known: what edges are sought in."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from irspot.board import Side
from irspot.camera import Optics
from irspot.shapes import Polygon
from irspot.synthetic.placement_render import outline_coverage, sensed
from irspot.synthetic.placement_views import BoardView
from irspot.synthetic.view import Pose

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]

SIZE = (323, 251)
BLUR_PX = 1.3
LENS = Optics(SIZE, 395.0, (158.3, 127.9), blur_px=BLUR_PX)
BENT = Optics(SIZE, 395.0, (158.3, 127.9), (-0.21, 0.03, 0.001, -0.002, 0.0), BLUR_PX)
BOARD = Polygon(((0.0, 0.0), (213.0, 0.0), (213.0, 131.0), (0.0, 131.0)))
NOTCHED = Polygon(((0.0, 0.0), (190.0, 0.0), (190.0, 60.0), (140.0, 60.0), (140.0, 131.0), (0.0, 131.0)))
TILTED = Pose(395.0, (104.0, 68.0), 17.0, -12.0, 23.0)
SLANTED = Pose(420.0, (97.0, 66.0), -31.0, 9.0, -151.0)


def view(pose: Pose = TILTED, optics: Optics = LENS, side: Side = "front") -> BoardView:
    return BoardView(pose, side, optics, SIZE)


def frame_of(seen: BoardView, outline: Polygon = BOARD, *, board_degc: float = 41.0, around_degc: float = 24.0) -> F32:
    """Draw a frame without noise."""
    heat = around_degc + (board_degc - around_degc) * outline_coverage(seen, outline)
    return sensed(heat.astype(np.float32), seen.optics.blur_px or 0.0, 0.0, np.random.default_rng(0))


def noisy(degc: F32, noise_k: float, seed: int) -> F32:
    return (degc + np.random.default_rng(seed).normal(0.0, noise_k, degc.shape)).astype(np.float32)


def corner_slopes(matrix: FloatArray, xy_mm: FloatArray) -> FloatArray:
    """How places move in px when the first eight entries of their mapping change, shape (2 n, 8), by differences."""
    slopes = []
    for k in range(8):
        step = 1e-6 * max(abs(matrix.ravel()[k]), 1e-6)
        changed = [carried(matrix + np.eye(1, 9, k).reshape(3, 3) * sign * step, xy_mm) for sign in (1.0, -1.0)]
        slopes.append((changed[0] - changed[1]).ravel() / (2.0 * step))
    return np.column_stack(slopes)


def carried(matrix: FloatArray, xy_mm: FloatArray) -> FloatArray:
    x, y, w = matrix @ np.column_stack([xy_mm, np.ones(len(xy_mm))]).T
    return np.column_stack([x / w, y / w])
