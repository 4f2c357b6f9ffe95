"""The camera over the board: a pose in space, places carried into the image, and the rays of its pixels.

This is the truth that placements are judged by, so it is a pose in space with nothing of the planar mapping in it.
View axes: x right, y down, z away from the camera. A face lies at height 0, bodies rise towards the camera.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from irspot.board import Side
from irspot.camera import Optics

FloatArray = NDArray[np.float64]

_STEEPEST: float = 20.0
"""Slope of a ray that no camera sees any more."""


@dataclass(frozen=True, slots=True)
class Pose:
    """Where the camera stands relative to the face it sees.

    Parameters
    ----------
    distance_mm : float
        From the camera to the place aimed at, along the optical axis.
    aim_mm : tuple of float
        Board place (front-view mm) on the optical axis.
    tilt_deg, turn_deg : float
        Rotation of the board about the image's horizontal and vertical axis.
    roll_deg : float
        Rotation in the image, clockwise: at 90 the board's top faces right.
    """

    distance_mm: float
    aim_mm: tuple[float, float]
    tilt_deg: float = 0.0
    turn_deg: float = 0.0
    roll_deg: float = 0.0


def rotation(pose: Pose, side: Side) -> FloatArray:
    """Rotation from board axes (x right, y up, height towards the camera) to view axes.

    A rear view looks at the board turned over about its vertical axis, so x runs to the left.

    Returns
    -------
    ndarray, shape (3, 3)
        A reflection is part of it for the rear, because heights count towards the camera on both sides.
    """
    tilt, turn, roll = np.deg2rad([pose.tilt_deg, pose.turn_deg, pose.roll_deg])
    about_x = np.array([[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]])
    about_y = np.array([[np.cos(turn), 0, np.sin(turn)], [0, 1, 0], [-np.sin(turn), 0, np.cos(turn)]])
    about_z = np.array([[np.cos(roll), -np.sin(roll), 0], [np.sin(roll), np.cos(roll), 0], [0, 0, 1]])
    seen = np.diag([1.0 if side == "front" else -1.0, -1.0, -1.0])
    return np.asarray(about_x @ about_y @ about_z @ seen, np.float64)


def project(points_mm: FloatArray, pose: Pose, side: Side, optics: Optics, size_px: tuple[int, int]) -> FloatArray:
    """Carry points in space into the stored image.

    Parameters
    ----------
    points_mm : ndarray, shape (n, 3)
        Board x, y and height above the face seen.
    pose : Pose
    side : {"front", "rear"}
    optics : Optics
        Needs `focal_px`.
    size_px : tuple of int
        ``(columns, rows)``.

    Returns
    -------
    ndarray, shape (n, 2)
        x right, y down, pixel centres at integers.
    """
    seen = (points_mm - np.array([*pose.aim_mm, 0.0])) @ rotation(pose, side).T + np.array([0, 0, pose.distance_mm])
    ideal = seen[:, :2] / seen[:, 2:]
    places: FloatArray = focal_of(optics) * bend(ideal, optics.distortion) + np.array(principal_of(optics, size_px))
    return places


def focal_of(optics: Optics) -> float:
    """Focal length in px.

    Raises
    ------
    ValueError
        If the optics do not state it.
    """
    if optics.focal_px is None:
        raise ValueError("a synthetic camera needs focal_px")
    return optics.focal_px


def principal_of(optics: Optics, size_px: tuple[int, int]) -> tuple[float, float]:
    """Where the optical axis meets the image: as stated, or its middle."""
    return optics.principal_px or ((size_px[0] - 1) / 2.0, (size_px[1] - 1) / 2.0)


def bend(ideal: FloatArray, distortion: tuple[float, float, float, float, float]) -> FloatArray:
    """Bend ideal directions as the lens does (Brown's model with k1 k2 p1 p2 k3 in OpenCV's order).

    Parameters
    ----------
    ideal : ndarray, shape (..., 2)
        Slopes x/z and y/z.
    distortion : tuple of float

    Returns
    -------
    ndarray, shape (..., 2)
    """
    k1, k2, p1, p2, k3 = distortion
    x, y = ideal[..., 0], ideal[..., 1]
    r2 = x * x + y * y
    radial = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3))
    bent_x = x * radial + 2.0 * p1 * x * y + p2 * (r2 + 2.0 * x * x)
    bent_y = y * radial + p1 * (r2 + 2.0 * y * y) + 2.0 * p2 * x * y
    return np.stack([bent_x, bent_y], axis=-1)


def straighten(bent: FloatArray, distortion: tuple[float, float, float, float, float]) -> FloatArray:
    """Undo `bend` by fixed-point steps, to 1e-9 for the mild lenses of the scenes here."""
    ideal = bent.copy()
    if not any(distortion):
        return ideal
    for _ in range(50):
        step = bent - bend(ideal, distortion)
        ideal += step
        # Rays far beyond the frame, where a lens that folds has no answer, stay where they do no harm.
        np.clip(ideal, -_STEEPEST, _STEEPEST, out=ideal)
        if float(np.max(np.abs(step))) < 1e-9:
            break
    return ideal


@dataclass(frozen=True, slots=True, eq=False)
class Rays:
    """Where the line of sight of each sample meets the face seen, and how it slants.

    At height h a ray passes ``(x + h * lean_x, y + h * lean_y)``.

    Parameters
    ----------
    x_mm, y_mm : ndarray, shape (rows, columns)
        Front-view board mm at height 0.
    lean_x, lean_y : ndarray, shape (rows, columns)
        Change per mm of height.
    """

    x_mm: FloatArray
    y_mm: FloatArray
    lean_x: FloatArray
    lean_y: FloatArray


def sample_directions(optics: Optics, size_px: tuple[int, int], supersample: int) -> FloatArray:
    """Directions of all samples of an image, `supersample`² evenly in each pixel.

    Returns
    -------
    ndarray, shape (rows * supersample, columns * supersample, 2)
        Slopes x/z and y/z, lens straightened.
    """
    columns, rows = size_px
    xs = (np.arange(columns * supersample) + 0.5) / supersample - 0.5
    ys = (np.arange(rows * supersample) + 0.5) / supersample - 0.5
    bent = np.stack(np.meshgrid(xs, ys), axis=-1) - np.array(principal_of(optics, size_px))
    return straighten(bent / focal_of(optics), optics.distortion)


def rays(directions: FloatArray, pose: Pose, side: Side) -> Rays:
    """Meet the face with the lines of sight.

    Parameters
    ----------
    directions : ndarray, shape (rows, columns, 2)
        From `sample_directions`.
    pose : Pose
    side : {"front", "rear"}

    Returns
    -------
    Rays
    """
    to_board = rotation(pose, side).T
    eye = -to_board @ np.array([0.0, 0.0, pose.distance_mm])
    along = [row[0] * directions[..., 0] + row[1] * directions[..., 1] + row[2] for row in to_board]
    lean_x, lean_y = along[0] / along[2], along[1] / along[2]
    return Rays(
        eye[0] - eye[2] * lean_x + pose.aim_mm[0],
        eye[1] - eye[2] * lean_y + pose.aim_mm[1],
        lean_x,
        lean_y,
    )
