"""Marks that join a placement's least squares.

The outline's fit is summed up by its entries and their covariance; marks are further observations of the same entries,
each with its own uncertainty. Solving for both together is one step of Gauss and Newton from the outline's fit, near
which the mapping is straight enough.

A hole shows what lies behind it, seen aslant through the board's thickness t: the part left free by both rims is off by
half of ``d = t sin(tilt)``, for all holes alike. Nothing says whether a mark is a hole, and often all are or none is: a
standard uncertainty of d / 4 along the tilt that all marks share, and one of d / √48 that each has by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.registration.distortion import distort
from irspot.registration.homography import apply
from irspot.registration.placement import Placement

FloatArray = NDArray[np.float64]

THICKNESS_MM: Final = 1.6
"""Of boards whose file does not say: what most are (common practice)."""
_MOST_SIGMAS: Final = 3.5
_MARK_U_PX: Final = 0.1
"""Standard uncertainty of each mark's middle beyond what its pixels say: holes and dots are no ideal discs."""
_SLACK_PX: Final = 0.25
"""Standard deviation of what outline and marks may differ by for no reason that anybody knows."""
_OUTLINE_SHARE: Final = 4.0
"""What the variance of the outline's fit is taken for, against what noise makes of it: heat does not end at a board's
edge evenly."""


@dataclass(frozen=True, slots=True, eq=False)
class Sighting:
    """A mark that was found.

    Parameters
    ----------
    id : str
    xy_mm, xy_px : ndarray, shape (2,)
        Where it is on the board, and in the stored image.
    u_px : float
    """

    id: str
    xy_mm: FloatArray
    xy_px: FloatArray
    u_px: float


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """What marks make of a placement.

    Parameters
    ----------
    matrix : ndarray, shape (3, 3)
    covariance : ndarray, shape (8, 8)
    used, left_out : tuple of str
    misses_px : ndarray, shape (n,)
        How far the marks that were used are from where the new mapping has them.
    """

    matrix: FloatArray
    covariance: FloatArray
    used: tuple[str, ...]
    left_out: tuple[str, ...]
    misses_px: FloatArray


def join(placement: Placement, covariance: FloatArray, sightings: tuple[Sighting, ...], thickness_mm: float) -> Joined:
    """Let marks take part in a placement.

    Marks that lie further off than their uncertainty, the placement's and that of holes allow are left out, the worst
    first.

    Parameters
    ----------
    placement : Placement
    covariance : ndarray, shape (8, 8)
        Of the placement's entries but the last.
    sightings : tuple of Sighting
    thickness_mm : float
        Of the board.

    Returns
    -------
    Joined
    """
    used, left_out = list(sightings), list[str]()
    while used:
        xy = np.array([each.xy_mm for each in used])
        misses = (np.array([each.xy_px for each in used]) - placement.to_px(xy)).ravel()
        slopes = entry_slopes(placement, xy)
        u_px = np.hypot([each.u_px for each in used], _MARK_U_PX)
        noise = sighting_noise(placement, xy, u_px, thickness_mm)
        spread = _OUTLINE_SHARE * slopes @ covariance @ slopes.T + noise
        gain = _OUTLINE_SHARE * covariance @ slopes.T @ np.linalg.inv(spread)
        step = gain @ misses
        worst = _worst(misses, spread + _SLACK_PX**2 * np.eye(len(spread)))
        if worst is None:
            matrix = placement.matrix + np.append(step, 0.0).reshape(3, 3)
            left = np.hypot(*(misses - slopes @ step).reshape(-1, 2).T)
            ids = tuple(each.id for each in used)
            kept = np.eye(8) - gain @ slopes
            return Joined(matrix, kept @ covariance @ kept.T + gain @ noise @ gain.T, ids, tuple(left_out), left)
        left_out.append(used.pop(worst).id)
    return Joined(placement.matrix, covariance, (), tuple(left_out), np.empty(0))


def _worst(misses: FloatArray, spread: FloatArray) -> int | None:
    """Number of the mark that is most off, if it is more off than its uncertainty allows."""
    off = np.array(
        [
            float(np.sqrt(misses[k : k + 2] @ np.linalg.solve(spread[k : k + 2, k : k + 2], misses[k : k + 2])))
            for k in range(0, len(misses), 2)
        ]
    )
    worst = int(off.argmax())
    return worst if off[worst] > _MOST_SIGMAS else None


def entry_slopes(placement: Placement, xy_mm: FloatArray) -> FloatArray:
    """How places in the stored image change with the mapping's entries but the last, shape (2 n, 8)."""
    flat = apply(placement.matrix, xy_mm)
    x, y = xy_mm.T
    w = placement.matrix[2, 0] * x + placement.matrix[2, 1] * y + placement.matrix[2, 2]
    basis = np.column_stack([x, y, np.ones_like(x)]) / w[:, None]
    slopes = np.zeros((len(x), 2, 8))
    slopes[:, 0, 0:3] = basis
    slopes[:, 1, 3:6] = basis
    slopes[:, :, 6:8] = -flat[:, :, None] * basis[:, None, :2]
    if placement.optics.distorted:
        step = 0.25
        optics, size_px = placement.optics, placement.size_px
        bent = [
            (distort(flat + by, optics, size_px) - distort(flat - by, optics, size_px)) / (2.0 * step)
            for by in step * np.eye(2)
        ]
        slopes = np.stack(bent, axis=2) @ slopes
    return slopes.reshape(-1, 8)


def px_per_mm(placement: Placement, xy_mm: FloatArray) -> FloatArray:
    """Derivative of places in the stored image by places on the board, shape (n, 2, 2)."""
    step = 0.5
    by_axis = [(placement.to_px(xy_mm + by) - placement.to_px(xy_mm - by)) / (2.0 * step) for by in step * np.eye(2)]
    return np.stack(by_axis, axis=2)


def sighting_noise(placement: Placement, xy_mm: FloatArray, u_px: FloatArray, thickness_mm: float) -> FloatArray:
    """Covariance of marks' places: each one's own, and the slant of holes that all share."""
    sizes = np.empty((len(xy_mm), 2))
    for k, slopes in enumerate(px_per_mm(placement, xy_mm)):
        # Of a tilted board lengths shrink by cos(tilt) along the tilt, which is the lesser axis of the derivative.
        axes, lengths, _ = np.linalg.svd(slopes)
        sine = np.sqrt(max(0.0, 1.0 - (lengths[1] / lengths[0]) ** 2))
        sizes[k] = axes[:, 1] * lengths[0] * thickness_mm * sine
    signs = np.where(sizes @ sizes[0] < 0.0, -1.0, 1.0)
    shared = (sizes * signs[:, None]).ravel() / 4.0
    noise = np.diag(np.repeat(u_px**2, 2)) + np.outer(shared, shared)
    for k, size in enumerate(sizes):
        noise[2 * k : 2 * k + 2, 2 * k : 2 * k + 2] += np.outer(size, size) / 48.0
    return noise
