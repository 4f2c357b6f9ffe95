"""A board placed by marks alone: the mapping that marks hold, by weighted least squares, and how firmly.

Where the focal length is known the board is a stiff plate and the mapping has six degrees of freedom (a pose), else
eight. Each mark counts by its uncertainty; what holes seen aslant have in common is part of the observations'
covariance, so that it does not pass for knowledge.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.registration.mark_refine import entry_slopes, sighting_noise
from irspot.registration.placement import Placement
from irspot.registration.pose import camera_matrix

FloatArray = NDArray[np.float64]

_STEPS: Final = 15
_SMALL_PX: Final = 1e-3
_STEP: Final = 1e-6
_DEGENERATE: Final = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class MarkFit:
    """A placement by marks.

    Parameters
    ----------
    placement : Placement
        With its covariance.
    misses_px : ndarray, shape (n,)
        How far each mark is from where the mapping has it.
    excess : float
        Weighted sum of the squared misses over their degrees of freedom; 1 is expected, 0 where there are none.
    """

    placement: Placement
    misses_px: FloatArray
    excess: float


def fit_marks(
    start: Placement, marks_mm: FloatArray, xy_px: FloatArray, u_px: FloatArray, thickness_mm: float
) -> MarkFit | None:
    """Fit a mapping to marks.

    Parameters
    ----------
    start : Placement
        Near the solution.
    marks_mm, xy_px : ndarray, shape (n, 2)
        Places on the board and in the stored image, four or more.
    u_px : ndarray, shape (n,)
    thickness_mm : float
        Of the board.

    Returns
    -------
    MarkFit or None
        None where the marks do not hold a mapping.
    """
    placement = _nearest_stiff(start)
    for _ in range(_STEPS):
        misses = (xy_px - placement.to_px(marks_mm)).ravel()
        if not np.all(np.isfinite(misses)):
            return None
        change = _freedom(placement)
        slopes = entry_slopes(placement, marks_mm) @ change
        weight = np.linalg.inv(sighting_noise(placement, marks_mm, u_px, thickness_mm))
        spread = _inverse(slopes.T @ weight @ slopes)
        if spread is None:
            return None
        step = spread @ (slopes.T @ weight @ misses)
        placement = _moved(placement, change, step)
        if float(np.abs(slopes @ step).max()) < _SMALL_PX:
            break
    else:
        return None
    misses = (xy_px - placement.to_px(marks_mm)).ravel()
    free = len(misses) - slopes.shape[1]
    excess = float(misses @ weight @ misses) / free if free > 0 else 0.0
    covariance = change @ spread @ change.T * max(1.0, excess)
    return MarkFit(
        replace(placement, covariance=covariance, held_mm=marks_mm), np.hypot(*misses.reshape(-1, 2).T), excess
    )


def _freedom(placement: Placement) -> FloatArray:
    """How the mapping's entries but the last change with what is free: six numbers of a pose, or the entries."""
    if placement.optics.focal_px is None:
        return np.eye(8)
    return np.column_stack(
        [(_turned(placement, k, _STEP) - _turned(placement, k, -_STEP)).ravel()[:8] / (2.0 * _STEP) for k in range(6)]
    )


def _turned(placement: Placement, number: int, by: float) -> FloatArray:
    """Turn a stiff view about one axis of the camera, or shift it by a share of its distance."""
    assert placement.optics.focal_px is not None
    camera = camera_matrix(placement.optics.focal_px, placement.optics, placement.size_px)
    seen = np.linalg.inv(camera) @ placement.matrix
    if number < 3:
        axis = np.eye(3)[number]
        cross = np.array([[0.0, -axis[2], axis[1]], [axis[2], 0.0, -axis[0]], [-axis[1], axis[0], 0.0]])
        # About the middle of what the board's own axes span, so that turns and shifts do not move the image alike.
        middle = seen @ _middle(placement)
        turn = np.eye(3) + np.sin(by) * cross + (1.0 - np.cos(by)) * cross @ cross
        shift = (np.eye(3) - turn) @ middle
        moved = turn @ seen + np.outer(shift, [0.0, 0.0, 1.0])
    else:
        moved = seen.copy()
        moved[number - 3, 2] += by * float(np.linalg.norm(seen @ _middle(placement)))
    product = camera @ moved
    return np.asarray(product / product[2, 2])


def _middle(placement: Placement) -> FloatArray:
    held = placement.held_mm
    return np.array([*(np.zeros(2) if held is None else held.mean(axis=0)), 1.0])


def _moved(placement: Placement, change: FloatArray, step: FloatArray) -> Placement:
    if placement.optics.focal_px is None:
        return replace(placement, matrix=placement.matrix + np.append(change @ step, 0.0).reshape(3, 3))
    for number in range(6):
        placement = replace(placement, matrix=_turned(placement, number, float(step[number])))
    return placement


def _nearest_stiff(placement: Placement) -> Placement:
    """Take the nearest view of a stiff plate, where the focal length is known (Z. Zhang, 2000, appendix C)."""
    if placement.optics.focal_px is None:
        return placement
    camera = camera_matrix(placement.optics.focal_px, placement.optics, placement.size_px)
    seen = np.linalg.inv(camera) @ placement.matrix
    middle = _middle(placement)
    u, sizes, vt = np.linalg.svd(seen[:, :2], full_matrices=False)
    pair = u @ vt * sizes.mean()
    # The middle stays where it is seen.
    last = seen @ middle - pair @ middle[:2]
    product = camera @ np.column_stack([pair, last])
    return replace(placement, matrix=np.asarray(product / product[2, 2]))


def _inverse(normal: FloatArray) -> FloatArray | None:
    size = np.sqrt(np.diag(normal))
    if not np.all(size > 0.0):
        return None
    values, vectors = np.linalg.eigh(normal / np.outer(size, size))
    if values[0] < _DEGENERATE:
        return None
    return np.asarray((vectors / values) @ vectors.T / np.outer(size, size))
