"""Frames of discs of known place, rendered by sampling each pixel finely: nothing of the fit's own model is in them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

FINE = 5


def disc_frame(
    size_px: tuple[int, int],
    discs: list[tuple[float, float, float, float]],
    *,
    blur_px: float = 1.0,
    noise_k: float = 0.0,
    level_degc: float = 30.0,
    squeeze: float = 1.0,
    box_px: tuple[float, float, float, float] | None = None,
    around_degc: float = 22.0,
    seed: int = 0,
) -> NDArray[np.float32]:
    """Render discs ``(x, y, radius, contrast)`` in px, on all of the frame or on a box ``(x0, y0, x1, y1)`` of it.

    `squeeze` shortens discs along y, as a tilt does.
    """
    columns, rows = size_px
    x = (np.arange(columns * FINE) + 0.5) / FINE - 0.5
    y = (np.arange(rows * FINE) + 0.5) / FINE - 0.5
    fine = np.full((rows * FINE, columns * FINE), level_degc)
    for cx, cy, radius, contrast in discs:
        fine[np.hypot(x[None] - cx, (y[:, None] - cy) / squeeze) < radius] += contrast
    if box_px is not None:
        x0, y0, x1, y1 = box_px
        fine[((y < y0) | (y > y1))[:, None] | ((x < x0) | (x > x1))] = around_degc
    blurred = gaussian_filter(fine, blur_px * FINE)
    frame = blurred.reshape(rows, FINE, columns, FINE).mean(axis=(1, 3))
    return (frame + np.random.default_rng(seed).normal(0.0, noise_k, frame.shape)).astype(np.float32)
