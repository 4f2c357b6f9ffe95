"""Frames of lens targets of known truth: rendered through a camera in space, sampled finely, blurred, with noise."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter

from irspot.camera import Optics
from irspot.registration.lens_target import Target
from irspot.synthetic.view import Pose, project, rays, sample_directions

FINE = 4


def pattern(target: Target, x: np.ndarray, y: np.ndarray, share: float) -> np.ndarray:
    """1 on a dot or a light square, 0 beside; share is a dot's diameter over the pitch."""
    u, v = x / target.pitch_mm, y / target.pitch_mm
    if target.kind == "dots":
        column = np.clip(np.rint(u), 0, target.columns - 1)
        row = np.clip(np.rint(v), 0, target.rows - 1)
        return (np.hypot(u - column, v - row) <= share / 2.0).astype(float)
    inside = (u > -1) & (u < target.columns) & (v > -1) & (v < target.rows)
    return (inside & ((np.floor(u) + np.floor(v)) % 2 == 0)).astype(float)


def poses_of(target: Target, focal_px: float, size: tuple[int, int], count: int = 8, tilt_deg: float = 28.0):
    """Views from all round, the target about half of the frame's width, somewhere off its middle."""
    middle = ((target.columns - 1) * target.pitch_mm / 2.0, (target.rows - 1) * target.pitch_mm / 2.0)
    wide = (target.columns + 1) * target.pitch_mm
    distance = focal_px * wide / (0.62 * size[0])
    views = []
    for number in range(count):
        angle = 2.0 * np.pi * number / count
        aim = (middle[0] + 0.28 * wide * np.cos(2.4 * number), middle[1] + 0.16 * wide * np.sin(2.4 * number))
        views.append(
            Pose(
                distance * (1.0 + 0.08 * np.sin(number)),
                (float(aim[0]), float(aim[1])),
                tilt_deg=float(tilt_deg * np.cos(angle)),
                turn_deg=float(tilt_deg * np.sin(angle)),
                roll_deg=float(7.0 * np.sin(1.7 * number)),
            )
        )
    return views


def target_frame(
    target: Target,
    view: Pose,
    optics: Optics,
    size: tuple[int, int],
    *,
    contrast_k: float = 8.0,
    noise_k: float = 0.05,
    blur_px: float = 0.8,
    share: float = 0.5,
    seed: int = 0,
) -> np.ndarray:
    """°C of a target on a slightly uneven ground."""
    seen = rays(sample_directions(optics, size, FINE), view, "front")
    fine = 30.0 + 0.004 * seen.x_mm + contrast_k * pattern(target, seen.x_mm, seen.y_mm, share)
    fine = gaussian_filter(fine, blur_px * FINE, mode="nearest")
    columns, rows = size
    degc = fine.reshape(rows, FINE, columns, FINE).mean(axis=(1, 3))
    return degc + np.random.default_rng(seed).normal(0.0, noise_k, degc.shape)


def true_places(target: Target, view: Pose, optics: Optics, size: tuple[int, int]) -> np.ndarray:
    """Where each point of the target is."""
    places = target.places_mm
    return project(np.column_stack([places, np.zeros(len(places))]), view, "front", optics, size)
