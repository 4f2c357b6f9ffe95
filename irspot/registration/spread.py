"""How uncertain a placement leaves where the board's places appear, as covariances in px.

To first order (JCGM 100:2008, 5.1) the covariance C of a mapping's first eight entries becomes ``J C Jᵀ`` of a place,
J being how the place moves when an entry changes. `steps_px` gives the columns of J S with ``S Sᵀ = C``: how the place
moves along each independent part of the error, one standard uncertainty each.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.constants import EDGE_U_PX
from irspot.registration import homography
from irspot.registration.heights import at_height, camera_pose, raised_by
from irspot.registration.placement import Placement
from irspot.registration.pose import CameraPose, camera_matrix, nudged, places_shown

FloatArray = NDArray[np.float64]

_STEP: Final = 0.1
"""Share of a standard uncertainty over which derivatives are taken."""


@lru_cache(maxsize=8)
def mapping_covariance(placement: Placement) -> FloatArray | None:
    """Give the covariance of a mapping's entries but the last, row by row.

    What a search in the frame says of itself knows noise only: `EDGE_U_PX` at every corner comes on top. Points given
    by hand are taken to be off by `u_point_px` each, or by more if their misfit says so.

    Parameters
    ----------
    placement : Placement
        Kept by identity.

    Returns
    -------
    ndarray, shape (8, 8), or None
        None where nothing says what the mapping was fitted to.
    """
    held = placement.held_mm
    of_points = None if held is None or len(held) < 4 else homography.covariance(placement.matrix, held)
    if of_points is not None and not np.isfinite(of_points).all():
        of_points = None
    if placement.covariance is None:
        return None if of_points is None else of_points * point_u_px(placement) ** 2
    if placement.method != "auto" or of_points is None:
        return placement.covariance
    return placement.covariance + of_points * EDGE_U_PX**2


def point_u_px(placement: Placement) -> float:
    """Standard uncertainty, along each axis, of the points a board was placed by: stated, or larger by their misfit.

    The squared misfits of n points leave ``2 n - 8`` degrees of freedom: ``s² = n residual² / (2 n - 8)``.
    """
    free = 2 * placement.points - 8
    if free <= 0:
        return placement.u_point_px
    return max(placement.u_point_px, placement.residual_px * float(np.sqrt(placement.points / free)))


def steps_px(placement: Placement, xy_mm: FloatArray, height_mm: float = 0.0) -> FloatArray | None:
    """Say how places move in the stored image along each independent part of a placement's error.

    Parameters
    ----------
    placement : Placement
        The board's own, not a raised one.
    xy_mm : ndarray, shape (n, 2)
    height_mm : float
        Of the places above the board; the camera's pose carries them, and so does its error, where there is one.

    Returns
    -------
    ndarray, shape (8, n, 2), or None
        px for one standard uncertainty each; NaN for places behind the camera. None where the placement's uncertainty
        is not known.
    """
    off = _slightly_off(placement, height_mm)
    if off is None:
        return None
    here = at_height(placement, height_mm).to_px(xy_mm)
    return np.stack([each.to_px(xy_mm) - here for each in off]) / _STEP


def place_covariances_px(placement: Placement, xy_mm: FloatArray, height_mm: float = 0.0) -> FloatArray:
    """Give the covariance of where places appear in the stored image.

    Parameters
    ----------
    placement : Placement
    xy_mm : ndarray, shape (n, 2)
    height_mm : float

    Returns
    -------
    ndarray, shape (n, 2, 2)
        px²; NaN where nothing says.
    """
    steps = steps_px(placement, xy_mm, height_mm)
    if steps is None:
        return np.full((len(xy_mm), 2, 2), np.nan)
    return np.asarray(np.einsum("kni,knj->nij", steps, steps))


def largest_u(covariances: FloatArray) -> FloatArray:
    """Standard uncertainty in whichever direction it is largest: root of the larger eigenvalue.

    Parameters
    ----------
    covariances : ndarray, shape (n, 2, 2)

    Returns
    -------
    ndarray, shape (n,)
    """
    a, b, c = covariances[:, 0, 0], covariances[:, 1, 1], covariances[:, 0, 1]
    return np.asarray(np.sqrt(0.5 * (a + b) + np.hypot(0.5 * (a - b), c)))


@lru_cache(maxsize=64)
def _slightly_off(placement: Placement, height_mm: float) -> tuple[Placement, ...] | None:
    """Give the placement, at a height, moved along each independent part of its error by a share of a standard one."""
    covariance = mapping_covariance(placement)
    if covariance is None:
        return None
    parts = (_STEP * np.append(part, 0.0).reshape(3, 3) for part in _root(covariance).T)
    off = tuple(replace(placement, matrix=placement.matrix + part) for part in parts)
    if height_mm == 0.0 or placement.optics.focal_px is None:
        return off
    poses = _poses_off(placement, off)
    return tuple(raised_by(each, pose, height_mm) for each, pose in zip(off, poses, strict=True))


def _poses_off(placement: Placement, off: tuple[Placement, ...]) -> tuple[CameraPose, ...]:
    """Give the camera's poses behind placements that are slightly off one."""
    assert placement.optics.focal_px is not None
    held_mm = placement.held_mm
    if held_mm is None:
        held_mm = places_shown(placement.matrix, placement.size_px)
    here = homography.apply(placement.matrix, held_mm)
    moves = np.stack([homography.apply(each.matrix, held_mm) - here for each in off])
    camera = camera_matrix(placement.optics.focal_px, placement.optics, placement.size_px)
    return nudged(camera_pose(placement), camera, held_mm, moves)


def _root(covariance: FloatArray) -> FloatArray:
    """Give S with ``S Sᵀ`` the covariance; entries of very different size are brought to one scale first."""
    size = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
    values, vectors = np.linalg.eigh(covariance / np.outer(size, size))
    return np.asarray(size[:, None] * vectors * np.sqrt(np.maximum(values, 0.0)))
