"""Views of a stiff plate by a camera of known focal length: a mapping has six degrees of freedom, not eight."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Optics

FloatArray = NDArray[np.float64]

_STEP: float = 1e-6


def camera_matrix(optics: Optics, size_px: tuple[int, int]) -> FloatArray | None:
    """Give the matrix of a pinhole camera, or None where the focal length is not known.

    Parameters
    ----------
    optics : Optics
    size_px : tuple of int
    """
    if optics.focal_px is None:
        return None
    x, y = optics.principal_px or ((size_px[0] - 1) / 2.0, (size_px[1] - 1) / 2.0)
    return np.array([[optics.focal_px, 0.0, x], [0.0, optics.focal_px, y], [0.0, 0.0, 1.0]])


def nearest_view(matrix: FloatArray, camera: FloatArray) -> FloatArray:
    """Give the six numbers of the stiff view nearest to a mapping: a rotation vector and a translation.

    Of ``K^-1 H = s [r1 r2 t]`` the first two columns are made orthonormal by their singular values (Z. Zhang, IEEE
    PAMI 22, 2000, appendix C).

    Parameters
    ----------
    matrix : ndarray, shape (3, 3)
        Plane to undistorted px, points in front of the camera having w > 0.
    camera : ndarray, shape (3, 3)
    """
    seen = np.linalg.inv(camera) @ matrix
    u, sizes, vt = np.linalg.svd(seen[:, :2], full_matrices=False)
    pair = u @ vt
    rotation = np.column_stack([pair, np.cross(pair[:, 0], pair[:, 1])])
    return np.concatenate([_vector(rotation), seen[:, 2] / sizes.mean()])


def mapping_of(view: FloatArray, camera: FloatArray) -> FloatArray:
    """Give the mapping of a stiff view, with ``[2, 2] == 1``.

    Parameters
    ----------
    view : ndarray, shape (6,)
    camera : ndarray, shape (3, 3)
    """
    rotation = turn_about(view[:3])
    matrix = camera @ np.column_stack([rotation[:, :2], view[3:]])
    return np.asarray(matrix / matrix[2, 2])


def mapping_slopes(view: FloatArray, camera: FloatArray) -> FloatArray:
    """How the eight entries of a mapping change with the six numbers of its view, shape (8, 6)."""
    slopes = np.empty((8, 6))
    for k in range(6):
        step = np.zeros(6)
        step[k] = _STEP * (1.0 if k < 3 else float(np.linalg.norm(view[3:])))
        change = mapping_of(view + step, camera) - mapping_of(view - step, camera)
        slopes[:, k] = change.ravel()[:8] / (2.0 * step[k])
    return slopes


def turn_about(vector: FloatArray) -> FloatArray:
    """Turn about a vector by its length, rad (Rodrigues)."""
    angle = float(np.linalg.norm(vector))
    x, y, z = vector
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    if angle < 1e-12:
        return np.asarray(np.eye(3) + cross)
    return np.asarray(np.eye(3) + np.sin(angle) / angle * cross + (1.0 - np.cos(angle)) / angle**2 * cross @ cross)


def _vector(rotation: FloatArray) -> FloatArray:
    """Invert `turn_about`."""
    from irspot.opencv import load_cv2

    return np.asarray(load_cv2().Rodrigues(rotation)[0].ravel(), np.float64)
