"""Every way in which round things of a frame could be the marks of a board: four of the ones as four of the others."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Optics
from irspot.opencv import load_cv2
from irspot.registration.hypotheses import handedness, is_stiff, through_four

FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

LEAST_AREA: Final = 0.125
MOST_AREA: Final = 1.8
"""Share of the frame that the outline's bounding box covers, parts out of view included."""
_LEAST_IN_VIEW: Final = 0.3
_MOST_QUADS: Final = 12
_MOST_MARKS: Final = 12
_NEAREST_DEPTH: Final = 0.4
"""Least ratio of nearest to farthest depth over the outline."""
_REACH_PX: Final = 2.5
_REACH_SHARE: Final = 0.006
"""How far a fifth mark may be from where four have it: the larger of this and of this share of the frame's length."""
_KEPT: Final = 40


@dataclass(frozen=True, slots=True, eq=False)
class Patterns:
    """Views of a board that lay marks on round things, those that lay most first.

    Parameters
    ----------
    matrices : ndarray, shape (k, 3, 3)
        Board mm to px of the undistorted image.
    choices : int
        Fours of marks that were tried.
    plausible : float
        Share of all views tried that a camera could have of a plate of this size.
    """

    matrices: FloatArray
    choices: int
    plausible: float


def patterns(
    marks_mm: FloatArray,
    straight_px: FloatArray,
    vertices_mm: FloatArray,
    size_px: tuple[int, int],
    optics: Optics,
    *,
    mirrored: bool,
) -> Patterns:
    """Lay fours of marks on fours of round things.

    Parameters
    ----------
    marks_mm : ndarray, shape (m, 2)
    straight_px : ndarray, shape (n, 2)
        Round things, in the undistorted image.
    vertices_mm : ndarray, shape (k, 2)
        Of the outline.
    size_px : tuple of int
    optics : Optics
    mirrored : bool
        Whether the view is of the rear.

    Returns
    -------
    Patterns
    """
    targets = _largest_quads(marks_mm)
    quads = _convex_quads(straight_px)
    tried, kept = 0, []
    for target in targets:
        wanted = handedness(target[None])[0] * (1.0 if mirrored else -1.0)
        ordered = np.where((handedness(quads) == wanted)[:, None, None], quads, quads[:, ::-1])
        for shift in range(4):
            matrices = through_four(target, np.roll(ordered, shift, axis=1))
            tried += len(matrices)
            kept.append(matrices[_is_plausible(matrices, vertices_mm, size_px, optics)])
    every = np.concatenate(kept) if kept else np.empty((0, 3, 3))
    plausible = max(1, len(every)) / max(1, tried)
    return Patterns(_that_lay_most(every, marks_mm, straight_px, size_px), len(targets), plausible)


def _largest_quads(marks_mm: FloatArray) -> list[FloatArray]:
    """Choose fours of marks in convex position, those of the largest area, in order around."""
    spread = np.argsort(-np.linalg.norm(marks_mm - marks_mm.mean(axis=0), axis=1), kind="stable")[:_MOST_MARKS]
    quads = _convex_quads(marks_mm[np.sort(spread)])
    return list(quads[np.argsort(-_areas(quads), kind="stable")[:_MOST_QUADS]])


def _convex_quads(places: FloatArray) -> FloatArray:
    """List all fours of places in convex position, each in order around; shape (k, 4, 2)."""
    which = np.array(list(combinations(range(len(places)), 4)), np.intp).reshape(-1, 4)
    quads = places[which]
    away = quads - quads.mean(axis=1, keepdims=True)
    order = np.argsort(np.arctan2(away[..., 1], away[..., 0]), axis=1)
    quads = np.take_along_axis(quads, order[..., None], axis=1)
    to_next = np.roll(quads, -1, axis=1) - quads
    after = np.roll(to_next, -1, axis=1)
    turn = to_next[..., 0] * after[..., 1] - to_next[..., 1] * after[..., 0]
    # Three nearly in line do not hold a view.
    size = np.linalg.norm(to_next, axis=2) * np.linalg.norm(after, axis=2)
    return np.asarray(quads[np.all(turn > 0.1 * size, axis=1)])


def _areas(quads: FloatArray) -> FloatArray:
    x, y = quads[..., 0], quads[..., 1]
    return np.asarray(0.5 * np.abs(np.sum(x * np.roll(y, -1, axis=1) - y * np.roll(x, -1, axis=1), axis=1)))


def _is_plausible(matrices: FloatArray, vertices_mm: FloatArray, size_px: tuple[int, int], optics: Optics) -> Bool:
    """Keep views of a stiff plate before the camera, of the right size, well in view."""
    good = np.all(np.isfinite(matrices), axis=(1, 2))
    good[good] = is_stiff(matrices[good], size_px, optics)
    (x0, y0), (x1, y1) = vertices_mm.min(axis=0), vertices_mm.max(axis=0)
    box = np.array([[x0, y0, 1.0], [x1, y0, 1.0], [x1, y1, 1.0], [x0, y1, 1.0]])
    with np.errstate(all="ignore"):
        carried = np.einsum("kij,nj->kni", matrices, box)
        depth = carried[..., 2]
        good &= depth.min(axis=1) > _NEAREST_DEPTH * depth.max(axis=1)
        corners = carried[..., :2] / depth[..., None]
        share = _areas(corners) / (size_px[0] * size_px[1])
        good &= (share > LEAST_AREA) & (share < MOST_AREA)
    numbers = np.flatnonzero(good)
    in_view = np.array([share_in_view(corners[k], size_px) for k in numbers.tolist()])
    good[numbers] = in_view > _LEAST_IN_VIEW if len(numbers) else False
    return np.asarray(good)


def share_in_view(corners_px: FloatArray, size_px: tuple[int, int]) -> float:
    """Share of an outline's hull that lies in the frame."""
    cv2 = load_cv2()
    right, lower = size_px[0] - 0.5, size_px[1] - 0.5
    frame = np.array([[-0.5, -0.5], [right, -0.5], [right, lower], [-0.5, lower]], np.float32)
    hull = cv2.convexHull(corners_px.astype(np.float32))
    own = float(cv2.contourArea(hull))
    return float(cv2.intersectConvexConvex(hull, frame)[0]) / max(own, 1e-9)


def _that_lay_most(
    matrices: FloatArray, marks_mm: FloatArray, straight_px: FloatArray, size_px: tuple[int, int]
) -> FloatArray:
    """Keep the views that lay most marks on round things, and among those the nearest."""
    if not len(matrices):
        return matrices
    reach = max(_REACH_PX, _REACH_SHARE * max(size_px))
    ones = np.column_stack([marks_mm, np.ones(len(marks_mm))])
    carried = np.einsum("kij,nj->kni", matrices, ones)
    with np.errstate(all="ignore"):
        places = carried[..., :2] / carried[..., 2:]
    away = np.linalg.norm(places[:, :, None] - straight_px[None, None], axis=3).min(axis=2)
    credit = np.sum(np.clip(1.0 - (away / reach) ** 2, 0.0, None) + (away < reach), axis=1)
    return matrices[np.argsort(-credit, kind="stable")[:_KEPT]]
