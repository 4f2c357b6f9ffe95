"""A placement carried along with the board's motion, and how the uncertainties of both compose."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.registration import homography
from irspot.registration.motions import Motion
from irspot.registration.placement import Placement
from irspot.registration.spread import largest_u, mapping_covariance

FloatArray = NDArray[np.float64]

_STEP_PX: Final = 1e-3


def carried_placement(placement: Placement, motion: Motion, by: FloatArray, covariance: FloatArray) -> Placement:
    """Carry a placement along.

    Parameters
    ----------
    placement : Placement
    motion : Motion
    by : ndarray, shape (count,)
    covariance : ndarray, shape (count, count)
        Of the motion's parameters.

    Returns
    -------
    Placement
        Of the same quality otherwise; its covariance is that of the placement carried along, and the motion's.
    """
    warp = motion.matrix(by)
    matrix = _scaled(warp @ placement.matrix)
    matrix.flags.writeable = False
    before = placement.covariance if placement.method == "auto" else mapping_covariance(placement)
    composed = None
    if before is not None:
        along, own = _entry_slopes(placement.matrix, warp), _motion_slopes(placement.matrix, motion, by)
        composed = along @ before @ along.T + own @ covariance @ own.T
    return replace(placement, matrix=matrix, covariance=composed)


def motion_u_px(
    placement: Placement, motion: Motion, by: FloatArray, covariance: FloatArray, at_mm: FloatArray
) -> FloatArray:
    """Standard uncertainty, from the motion alone, of where places of the board appear after it, shape (n,)."""
    slopes = []
    for k in range(motion.count):
        step = np.eye(motion.count)[k] * _STEP_PX
        sides = [homography.apply(motion.matrix(by + way * step) @ placement.matrix, at_mm) for way in (1.0, -1.0)]
        slopes.append((sides[0] - sides[1]) / (2.0 * _STEP_PX))
    moves = np.stack(slopes, axis=2)
    return largest_u(np.einsum("nik,kl,njl->nij", moves, covariance, moves))


def _scaled(matrix: FloatArray) -> FloatArray:
    return np.asarray(matrix / matrix[2, 2])


def _entry_slopes(matrix: FloatArray, warp: FloatArray) -> FloatArray:
    """How the carried mapping's first eight entries change with those of the mapping, shape (8, 8)."""
    carried = warp @ matrix
    slopes = np.empty((8, 8))
    for k in range(8):
        change = warp @ np.eye(1, 9, k).reshape(3, 3)
        slopes[:, k] = (change / carried[2, 2] - carried * change[2, 2] / carried[2, 2] ** 2).ravel()[:8]
    return slopes


def _motion_slopes(matrix: FloatArray, motion: Motion, by: FloatArray) -> FloatArray:
    """How the carried mapping's first eight entries change with a motion's parameters, shape (8, count)."""
    slopes = np.empty((8, motion.count))
    for k in range(motion.count):
        step = np.eye(motion.count)[k] * _STEP_PX
        sides = [_scaled(motion.matrix(by + way * step) @ matrix) for way in (1.0, -1.0)]
        slopes[:, k] = (sides[0] - sides[1]).ravel()[:8] / (2.0 * _STEP_PX)
    return slopes
