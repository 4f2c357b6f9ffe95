"""Views of a stiff plate by a camera of known focal length: a mapping has six degrees of freedom, not eight.

All take one mapping or view, or any number of them along leading axes.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Optics
from irspot.opencv import load_cv2

FloatArray = NDArray[np.float64]

FOCAL_SHARES: Final = (0.6, 0.85, 1.2, 1.7, 2.4, 3.5, 5.0, 9.0)
"""Focal lengths that are tried where the camera file states none, against the frame's longer side."""
_STEP: Final = 1e-6


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
    matrix : ndarray, shape (..., 3, 3)
        Plane to undistorted px, points in front of the camera having w > 0.
    camera : ndarray, shape (3, 3)

    Returns
    -------
    ndarray, shape (..., 6)
    """
    seen = np.linalg.inv(camera) @ matrix
    u, sizes, vt = np.linalg.svd(seen[..., :2], full_matrices=False)
    pair = u @ vt
    rotation = np.concatenate([pair, np.cross(pair[..., 0], pair[..., 1])[..., None]], axis=-1)
    return np.concatenate([_vector(rotation), seen[..., 2] / sizes.mean(axis=-1, keepdims=True)], axis=-1)


def mapping_of(view: FloatArray, camera: FloatArray) -> FloatArray:
    """Give the mapping of a stiff view, with ``[2, 2] == 1``.

    Parameters
    ----------
    view : ndarray, shape (..., 6)
    camera : ndarray, shape (3, 3)

    Returns
    -------
    ndarray, shape (..., 3, 3)
    """
    columns = turn_about(view[..., :3])
    columns[..., 2] = view[..., 3:]
    matrix = camera @ columns
    return np.asarray(matrix / matrix[..., 2:, 2:])


def misfit(matrices: FloatArray, focal_px: float, principal_px: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How far mappings are from views of a stiff plate, whose columns stand at right angles and are of one length.

    Parameters
    ----------
    matrices : ndarray, shape (k, 3, 3)
    focal_px : float
    principal_px : ndarray, shape (2,)

    Returns
    -------
    cosine, log_ratio : ndarray, shape (k,)
        Of the angle between the columns of ``K^-1 H``, and of their lengths; both 0 for a stiff plate.
    """
    first, second = (matrices[:, :2, k] - principal_px * matrices[:, 2, None, k] for k in range(2))
    g, h = matrices[:, 2, 0], matrices[:, 2, 1]
    one = np.sqrt(np.sum(first**2, axis=1) / focal_px**2 + g * g)
    two = np.sqrt(np.sum(second**2, axis=1) / focal_px**2 + h * h)
    cosine = (np.sum(first * second, axis=1) / focal_px**2 + g * h) / np.maximum(one * two, 1e-300)
    return cosine, np.log(one / np.maximum(two, 1e-300))


def tilt_deg(matrix: FloatArray, optics: Optics, size_px: tuple[int, int]) -> float:
    """Angle between the camera's axis and the normal of the plane, as the likeliest focal length has it.

    Parameters
    ----------
    matrix : ndarray, shape (3, 3)
    optics : Optics
        Where it states no focal length, that of `FOCAL_SHARES` is taken which makes the plane stiffest.
    size_px : tuple of int
    """
    camera = camera_matrix(optics, size_px)
    if camera is None:
        middle = (np.array(size_px, np.float64) - 1.0) / 2.0
        focals = [share * max(size_px) for share in FOCAL_SHARES]
        off = [float(np.hypot(*misfit(matrix[None], focal, middle))[0]) for focal in focals]
        camera = camera_matrix(Optics(focal_px=focals[int(np.argmin(off))]), size_px)
        assert camera is not None
    towards = turn_about(nearest_view(matrix, camera)[:3])[2, 2]
    return float(np.rad2deg(np.arccos(min(1.0, abs(float(towards))))))


def mapping_slopes(view: FloatArray, camera: FloatArray) -> FloatArray:
    """How the eight entries of a mapping change with the six numbers of its view.

    Parameters
    ----------
    view : ndarray, shape (..., 6)
    camera : ndarray, shape (3, 3)

    Returns
    -------
    ndarray, shape (..., 8, 6)
    """
    size = np.ones(view.shape)
    size[..., 3:] = np.linalg.norm(view[..., 3:], axis=-1, keepdims=True)
    steps = _STEP * size[..., None, :] * np.eye(6)
    here = view[..., None, :]
    change = mapping_of(here + steps, camera) - mapping_of(here - steps, camera)
    entries = change.reshape(*change.shape[:-2], 9)[..., :8]
    return np.asarray(np.swapaxes(entries / (2.0 * _STEP * size[..., None]), -1, -2))


def turn_about(vector: FloatArray) -> FloatArray:
    """Turn about a vector by its length, rad (Rodrigues)."""
    angle = np.linalg.norm(vector, axis=-1)[..., None, None]
    cross = np.zeros((*vector.shape[:-1], 3, 3))
    cross[..., 2, 1], cross[..., 0, 2], cross[..., 1, 0] = (vector[..., k] for k in range(3))
    cross = cross - np.swapaxes(cross, -1, -2)
    # sinc has no trouble at angle 0; 1 - cos a = 2 sin² (a / 2).
    once, twice = np.sinc(angle / np.pi), 0.5 * np.sinc(angle / (2.0 * np.pi)) ** 2
    return np.asarray(np.eye(3) + once * cross + twice * (cross @ cross))


def _vector(rotation: FloatArray) -> FloatArray:
    """Invert `turn_about`."""
    cv2 = load_cv2()
    each = [cv2.Rodrigues(one)[0].ravel() for one in rotation.reshape(-1, 3, 3)]
    return np.array(each, np.float64).reshape(*rotation.shape[:-2], 3)
