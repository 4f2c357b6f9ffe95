"""A placement carried along with the board's motion, and how the uncertainties of both compose."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.constants import NUDGE_MM, NUDGE_SIGMAS
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


@dataclass(frozen=True, slots=True)
class Moved:
    """Largest distance that a corner of the outline moved, in the image and on the board, with standard uncertainties.

    Parameters
    ----------
    px, mm : float
    u_px, u_mm : float
    """

    px: float
    mm: float
    u_px: float
    u_mm: float

    @property
    def is_nudge(self) -> bool:
        """Whether it is too much for an uncertainty of placing: `NUDGE_MM` and `NUDGE_SIGMAS` times that."""
        return self.mm > NUDGE_MM and self.px > NUDGE_SIGMAS * self.u_px


def moved_between(before: Placement, after: Placement, corners_mm: FloatArray, u_px: FloatArray) -> Moved:
    """Say how far a board moved between two placements.

    Parameters
    ----------
    before, after : Placement
        Of frames of one size.
    corners_mm : ndarray, shape (n, 2)
    u_px : ndarray, shape (n,)
        Standard uncertainty of how far each corner moved.

    Returns
    -------
    Moved
        Infinite where a corner lies behind the camera.
    """
    seen = after.to_px(corners_mm)
    off_px = np.nan_to_num(np.hypot(*(seen - before.to_px(corners_mm)).T), nan=np.inf)
    off_mm = np.nan_to_num(np.hypot(*(before.to_mm(seen) - corners_mm).T), nan=np.inf)
    furthest = int(np.argmax(off_px))
    mm_per_px = float(off_mm[furthest] / off_px[furthest]) if 0.0 < off_px[furthest] < np.inf else 0.0
    u = float(u_px[furthest])
    return Moved(float(off_px[furthest]), float(off_mm.max()), u, u * mm_per_px)


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
