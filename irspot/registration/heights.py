"""Surfaces above the board: where they appear in the frame, or how far from there they may be looked for.

A surface at height h, seen at an angle a from the board's normal, appears where the board itself has a place
``h tan a`` further from the camera.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.constants import PLAUSIBLE_HFOV_DEG
from irspot.errors import PlacementRefused
from irspot.registration.placement import Placement
from irspot.registration.pose import CameraPose, camera_matrix, pose_at_focal, pose_of
from irspot.shapes import Circle, Shape

FloatArray = NDArray[np.float64]

_NEAREST_DEPTH: Final = 0.05
"""Least depth of a raised plane, as a share of the board's: nothing is seen so near the lens."""
_FOCAL_STEPS: Final = 13
_ALIKE_PX: Final = 3.0
_ALIKE: Final = 3.0
"""A focal length is plausible if its residual is below both: so many pixels, so many times the least."""
_MISFIT_PX: Final = 3.0
"""Points set by hand are off by less; a pose that misses them by more belongs to another lens."""
_RIVALRY: Final = 2.0


@lru_cache(maxsize=8)
def camera_pose(placement: Placement) -> CameraPose:
    """Find the pose behind a placement.

    Parameters
    ----------
    placement : Placement
        Kept by identity.

    Returns
    -------
    CameraPose

    Raises
    ------
    PlacementRefused
        With cause ``optics`` where the camera file gives no focal length.
    """
    return pose_of(placement.matrix, placement.optics, placement.size_px, placement.side, placement.held_mm)


def raised(placement: Placement, height_mm: float) -> Placement:
    """Give the placement of the plane at a height above the board.

    The pose carries the raised plane as far from the board's as a camera of that focal length has it; at height 0 the
    placement stays exactly what it was fitted to.

    Parameters
    ----------
    placement : Placement
    height_mm : float
        Towards the camera, on either side.

    Returns
    -------
    Placement
        Of the same `side`, `optics` and quality, its mm those of places on the raised plane.

    Raises
    ------
    PlacementRefused
        With cause ``optics`` where the camera file gives no focal length, ``height`` where the plane would lie behind
        the camera or at its lens.
    """
    return raised_by(placement, camera_pose(placement), height_mm)


def raised_by(placement: Placement, pose: CameraPose, height_mm: float) -> Placement:
    """Raise a placement as `raised` does, by a pose of the camera that is known."""
    assert placement.optics.focal_px is not None
    camera = camera_matrix(placement.optics.focal_px, placement.optics, placement.size_px)
    shift = camera @ pose.plane(height_mm) @ np.linalg.inv(camera @ pose.plane(0.0))
    matrix = shift @ placement.matrix
    if not pose.eye_mm[2] - height_mm > _NEAREST_DEPTH * pose.eye_mm[2] or not matrix[2, 2] > 0.0:
        raise PlacementRefused(
            "a surface so high above the board would reach the camera",
            cause="height",
            key="height_mm",
            found=f"{height_mm:g} mm, the camera {pose.eye_mm[2]:.0f} mm above the board",
            hint="check height_mm in the board file and focal_px or hfov_deg in the camera file",
        )
    matrix = np.asarray(matrix / matrix[2, 2])
    matrix.flags.writeable = False
    return replace(placement, matrix=matrix)


@lru_cache(maxsize=256)
def at_height(placement: Placement, height_mm: float) -> Placement:
    """Give the placement for a zone at a height: raised where the focal length is known, else the board's own.

    Parameters
    ----------
    placement : Placement
        Kept by identity: all that asks for one height gets the same object.
    height_mm : float
    """
    if height_mm == 0.0 or placement.optics.focal_px is None:
        return placement
    return raised(placement, height_mm)


def pose_doubtful(placement: Placement) -> bool:
    """Say whether the pose leaves open where raised surfaces appear.

    So it does where no camera of this focal length could see the board as it was placed, or where the board could as
    well be tilted the other way; never where there is no focal length to find a pose with.
    """
    if placement.optics.focal_px is None:
        return False
    pose = camera_pose(placement)
    misfit = max(pose.residual_px, placement.u_point_px)
    return pose.residual_px > _MISFIT_PX or pose.rival_residual_px < _RIVALRY * misfit


def shift_bound_mm(placement: Placement, height_mm: float, shape: Shape) -> float:
    """Say how far from its true place a raised surface is looked for when its height is not corrected.

    The board's image allows several focal lengths; of those that common lenses have and that fit it, the camera that
    looks at the surface most obliquely counts: ``|height| tan a`` with its angle a to the board's normal.

    Parameters
    ----------
    placement : Placement
    height_mm : float
    shape : Polygon or Circle

    Returns
    -------
    float
        mm; infinite where the surface might reach the camera.
    """
    if height_mm == 0.0:
        return 0.0
    places = _extremes(shape)
    return max(_shift_mm(eye, height_mm, places) for eye in _plausible_eyes(placement))


def _extremes(shape: Shape) -> FloatArray:
    """Give the places of a shape that are furthest out, in whatever direction."""
    return shape.border_points(shape.radius_mm / 8.0) if isinstance(shape, Circle) else shape.array_mm


def _shift_mm(eye_mm: FloatArray, height_mm: float, places: FloatArray) -> float:
    above = float(eye_mm[2]) - height_mm
    if above <= 0.0:
        return float("inf")
    return abs(height_mm) / above * float(np.hypot(*(places - eye_mm[:2]).T).max())


@lru_cache(maxsize=8)
def _plausible_eyes(placement: Placement) -> tuple[FloatArray, ...]:
    """Where the camera may stand: for each focal length that fits the placement as well as any, or nearly."""
    focal = placement.optics.focal_px
    if focal is not None:
        return (camera_pose(placement).eye_mm,)
    half = np.tan(np.radians(PLAUSIBLE_HFOV_DEG) / 2.0)
    focals = placement.size_px[0] / 2.0 / np.geomspace(half[0], half[1], _FOCAL_STEPS)
    poses = [_pose_at(placement, float(focal_px)) for focal_px in focals]
    least = min(pose.residual_px for pose in poses)
    allowed = max(least, min(_ALIKE_PX, max(_ALIKE * least, placement.u_point_px)))
    fits = [pose.residual_px <= allowed for pose in poses]
    # With their neighbours: the true focal length may lie between two that were tried.
    near = [any(fits[max(number - 1, 0) : number + 2]) for number in range(len(fits))]
    return tuple(pose.eye_mm for pose, taken in zip(poses, near, strict=True) if taken)


def _pose_at(placement: Placement, focal_px: float) -> CameraPose:
    camera = camera_matrix(focal_px, placement.optics, placement.size_px)
    return pose_at_focal(placement.matrix, camera, placement.size_px, placement.side, placement.held_mm)
