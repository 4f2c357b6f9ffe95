"""From which direction, and how large, a frame shows the board: for comparing two views of it."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.registration.heights import camera_pose
from irspot.registration.placement import Placement

FloatArray = NDArray[np.float64]

_STEP: Final = 0.02
"""Of the outline's size, over which derivatives are taken."""


def scale_px_per_mm(placement: Placement, board: Board) -> float:
    """Size at which a frame shows the middle of a board."""
    return float(np.sqrt(abs(np.linalg.det(_slopes(placement, board)))))


def difference_deg(one: Placement, other: Placement, board: Board) -> float:
    """Angle between the directions from which two frames show the middle of a board.

    By the camera's pose where the focal length is known. Else by how the board is foreshortened, which leaves open to
    which of two sides it leans: the smaller of the possible angles is given.

    Parameters
    ----------
    one, other : Placement
    board : Board

    Returns
    -------
    float
        Degrees.
    """
    if one.optics.focal_px is not None and other.optics.focal_px is not None:
        first, second = (_towards_eye(each, board) for each in (one, other))
        return _angle_deg(first, second)
    first, second = (_foreshortened(_slopes(each, board)) for each in (one, other))
    return min(_angle_deg(first, second), _angle_deg(first, second * (-1.0, -1.0, 1.0)))


def _towards_eye(placement: Placement, board: Board) -> FloatArray:
    eye = camera_pose(placement).eye_mm - np.append(_middle(board), 0.0)
    return np.asarray(eye / np.linalg.norm(eye))


def _foreshortened(slopes: FloatArray) -> FloatArray:
    """Direction towards a far camera that sees a plane by these slopes: ``Jᵀ J = s² (1 - d dᵀ)`` in the plane."""
    squares, ways = np.linalg.eigh(slopes.T @ slopes)
    upright = float(np.sqrt(np.clip(squares[0] / squares[1], 0.0, 1.0)))
    aside = ways[:, 0] * np.sqrt(1.0 - upright**2)
    return np.array([aside[0], aside[1], upright])


def _angle_deg(first: FloatArray, second: FloatArray) -> float:
    return float(np.degrees(np.arccos(np.clip(first @ second, -1.0, 1.0))))


def _slopes(placement: Placement, board: Board) -> FloatArray:
    """Derivatives of px by mm in the middle of the board, shape (2, 2)."""
    x0, y0, x1, y1 = board.outline.box_mm
    step = _STEP * max(x1 - x0, y1 - y0)
    middle = _middle(board)
    around = placement.to_px(middle + step * np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]]))
    return np.column_stack([around[0] - around[1], around[2] - around[3]]) / (2.0 * step)


def _middle(board: Board) -> FloatArray:
    x0, y0, x1, y1 = board.outline.box_mm
    return np.array([(x0 + x1) / 2.0, (y0 + y1) / 2.0])
