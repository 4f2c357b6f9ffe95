"""An outline moved onto a frame's edges to a fraction of a pixel, and how firmly they hold it.

Along the normal at each point of the outline the place of the steepest change is taken; an edge blurred evenly on both
sides has it where the edge is. The mapping follows by least squares, points that stray being given less weight, in a
few rounds of ever shorter reach.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Optics
from irspot.registration.edge_map import read
from irspot.registration.outline_score import OutlinePoints, carried_outline, carried_places
from irspot.registration.rigid import camera_matrix, mapping_of, mapping_slopes, nearest_view

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

_STEP_PX: Final = 0.5
_MARGIN_SIGMAS: Final = 2.0
"""Next to the frame's own edge an outline is out of view: it cannot be told from one that lies beyond."""
_NOISES: Final = 4.0
_FEWEST: Final = 16
"""Edges that are needed at least."""
_AGAIN_BLURS: Final = 2.5
_LEAST_WEIGHT: Final = 0.2
_REWEIGHTED: Final = 4
_WORST_CONDITION: Final = 1e12
_STIFF_STEPS: Final = 3
_EDGE_HELD: Final = 0.4
_TUKEY: Final = 4.685
"""Where Tukey's biweight gives no weight any more, in standard deviations: 95 % efficient for normal errors."""
_ALIKE_SIGMAS: Final = 2.0 * float(np.sqrt(np.pi))
"""Length along an edge that counts as one observation, in standard deviations of the smoothing.

Noise smoothed by a Gaussian of standard deviation s is alike over a distance d by exp(-d² / (4 s²)), whose integral is
2 √π s; so is its derivative across an edge, along that edge.
"""


@dataclass(frozen=True, slots=True, eq=False)
class Refined:
    """An outline on its edges.

    Parameters
    ----------
    matrix : ndarray, shape (3, 3)
        Board mm to px of the undistorted frame.
    covariance : ndarray, shape (8, 8)
        Of the mapping's entries but the last, which is 1; edges that noise moves together count once.
    seen : ndarray of bool, shape (n,)
        Points of the outline in view.
    held : ndarray of bool, shape (n,)
        Points at which the frame has an edge where the outline is.
    present : ndarray of bool, shape (n,)
        Points near which the frame has an edge.
    offset_px : ndarray, shape (n,)
        How far that edge is from the outline, along its normal.
    residual_px : float
        Robust standard deviation of the edges from the outline.
    """

    matrix: FloatArray
    covariance: FloatArray
    seen: Bool
    held: Bool
    present: Bool
    offset_px: FloatArray
    residual_px: float

    @property
    def share_held(self) -> float:
        """Share of the outline in view that lies on edges."""
        return float(self.held.sum() / max(1, self.seen.sum()))


@dataclass(frozen=True, slots=True, eq=False)
class _Target:
    """What an outline is moved onto: the smoothed frame, by how much, an edge's least slope, the margin left out."""

    smooth: F32
    sigma: float
    least: float
    margin: float
    points: OutlinePoints
    scale: float
    optics: Optics
    size_px: tuple[int, int]
    camera: FloatArray | None


@dataclass(frozen=True, slots=True, eq=False)
class _Edges:
    """Edges found along an outline: the outline's points and normals there, how far off, whether there, in view."""

    places: FloatArray
    normals: FloatArray
    offset: FloatArray
    present: Bool
    seen: Bool


def refine(
    degc: F32,
    points: OutlinePoints,
    matrix: FloatArray,
    optics: Optics,
    size_px: tuple[int, int],
    *,
    noise_k: float,
    blur_px: float,
    reaches_px: tuple[float, ...],
) -> Refined | None:
    """Move an outline onto the edges near it.

    Where the focal length is known the board is taken for a stiff plate; a last round without that follows where
    every edge of the outline is held by itself, so that a focal length that is a little wrong does no harm.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Without gaps.
    points : OutlinePoints
    matrix : ndarray, shape (3, 3)
        Where to begin.
    optics : Optics
    size_px : tuple of int
    noise_k : float
        Standard deviation of one pixel.
    blur_px : float
        Standard deviation of the point spread.
    reaches_px : tuple of float
        How far from the outline edges are sought, round by round.

    Returns
    -------
    Refined or None
        None where too few edges are there to hold the outline.
    """
    target = _target(degc, points, optics, size_px, noise_k, blur_px)
    found: Refined | None = None
    for round_, reach in enumerate(reaches_px):
        last = round_ == len(reaches_px) - 1
        stiff = target.camera is not None and not (last and found is not None and _well_held(found, points))
        found = _one_round(target, matrix, reach, stiff=stiff)
        if found is None:
            return None
        matrix = found.matrix
    return found


def _target(
    degc: F32, points: OutlinePoints, optics: Optics, size_px: tuple[int, int], noise_k: float, blur_px: float
) -> _Target:
    sigma = max(1.0, blur_px)
    # Noise of a derivative of Gaussian; the smoothing's width stands for the spread across the profile as well.
    least = _NOISES * noise_k / (np.sqrt(8.0 * np.pi) * sigma**2)
    scale = float(np.abs(points.xy_mm).max())
    camera = camera_matrix(optics, size_px)
    margin = 1.0 + _MARGIN_SIGMAS * sigma
    return _Target(_smoothed(degc, sigma), sigma, least, margin, points, scale, optics, size_px, camera)


def edge_shifts(
    degc: F32,
    points: OutlinePoints,
    refined: Refined,
    optics: Optics,
    size_px: tuple[int, int],
    *,
    noise_k: float,
    blur_px: float,
) -> tuple[tuple[float, float] | None, ...]:
    """How far each edge of a stiff outline would lie from where it was found, were it for the other edges alone.

    First order: the others are held against the outline once more, and what would move it carries the edge along.

    Parameters
    ----------
    degc, points, optics, size_px, noise_k, blur_px
        As of `refine`.
    refined : Refined
        Of all edges.

    Returns
    -------
    tuple of (float, float), or None
        For each edge the largest move along its normal, and its standard uncertainty, px; None where the others do
        not hold the outline, or no focal length makes it stiff.
    """
    target = _target(degc, points, optics, size_px, noise_k, blur_px)
    edges = np.unique(points.edge)
    if target.camera is None:
        return (None,) * len(edges)
    places, normals = (a[0] for a in carried_outline(points, refined.matrix[None], optics, size_px))
    reach = _AGAIN_BLURS * max(1.0, blur_px)
    offset, present, _ = _edge_offsets(target.smooth, places, normals, reach, target.least, target.margin)
    unit = refined.matrix @ np.diag([target.scale, target.scale, 1.0])
    change = mapping_slopes(nearest_view(unit, target.camera), target.camera)
    slopes = _normal_slopes(points.xy_mm / target.scale, unit, normals) @ change
    found: list[tuple[float, float] | None] = []
    for edge in edges:
        mine = points.edge == edge
        solved = _solved(slopes, offset, present & ~mine)
        if solved is None:
            found.append(None)
            continue
        move = np.abs(slopes[mine] @ solved.step)
        spread = np.einsum("ni,ij,nj->n", slopes[mine], solved.spread, slopes[mine])
        worst = int(move.argmax())
        found.append((float(move[worst]), float(np.sqrt(max(spread[worst], 0.0)))))
    return tuple(found)


def _one_round(target: _Target, matrix: FloatArray, reach: float, *, stiff: bool) -> Refined | None:
    """Seek edges near an outline and move it onto them once."""
    points, to_unit = target.points, np.diag([target.scale, target.scale, 1.0])
    places, normals = (a[0] for a in carried_outline(points, matrix[None], target.optics, target.size_px))
    edges = _Edges(places, normals, *_edge_offsets(target.smooth, places, normals, reach, target.least, target.margin))
    unit = matrix @ to_unit
    solved = _solved(_normal_slopes(points.xy_mm / target.scale, unit, normals), edges.offset, edges.present)
    if solved is None:
        return None
    unit, spread = unit + np.append(solved.step, 0.0).reshape(3, 3), solved.spread
    if stiff and target.camera is not None:
        moved = _stiffly(target, target.camera, nearest_view(unit, target.camera), edges)
        if moved is None:
            return None
        unit, spread, solved = moved
    spread = spread * _points_alike(points, places, edges.seen, target.sigma)
    matrix = unit @ np.linalg.inv(to_unit)
    matrix = matrix / matrix[2, 2]
    change = carried_places(points.xy_mm, matrix, target.optics, target.size_px) - places
    left = edges.offset - np.einsum("ij,ij->i", _finite(change), _finite(normals))
    held = edges.present & (solved.weight > _LEAST_WEIGHT)
    return Refined(matrix, _unscaled(spread, target.scale), edges.seen, held, edges.present, left, solved.deviation)


def _points_alike(points: OutlinePoints, places: FloatArray, seen: Bool, sigma: float) -> float:
    """Count the points of an outline whose edges noise moves together."""
    together = seen[1:] & seen[:-1] & (points.edge[1:] == points.edge[:-1])
    if not together.any():
        return 1.0
    spacing = float(np.mean(np.hypot(*(places[1:] - places[:-1])[together].T)))
    return max(1.0, _ALIKE_SIGMAS * sigma / max(spacing, 1e-9))


def _finite(vectors: FloatArray) -> FloatArray:
    return np.where(np.isfinite(vectors), vectors, 0.0)


def _stiffly(
    target: _Target, camera: FloatArray, view: FloatArray, edges: _Edges
) -> tuple[FloatArray, FloatArray, _Solved] | None:
    """Move a stiff view onto edges by Gauss-Newton steps; give its mapping, the mapping's covariance, and the rest."""
    edges_px = edges.places + edges.offset[:, None] * edges.normals
    xy, normals = target.points.xy_mm / target.scale, _finite(edges.normals)
    moved = None
    for _ in range(_STIFF_STEPS):
        unit = mapping_of(view, camera)
        off = np.einsum(
            "ij,ij->i", _finite(edges_px - carried_places(xy, unit, target.optics, target.size_px)), normals
        )
        change = mapping_slopes(view, camera)
        solved = _solved(_normal_slopes(xy, unit, normals) @ change, off, edges.present)
        if solved is None:
            return None
        view = view + solved.step
        moved = mapping_of(view, camera), change @ solved.spread @ change.T, solved
    return moved


def _well_held(refined: Refined, points: OutlinePoints) -> bool:
    """Say whether every edge of the outline in view is held along a good part of its length, by itself."""
    for edge in np.unique(points.edge):
        mine = (points.edge == edge) & refined.seen
        if mine.sum() < 4 or refined.held[mine].mean() < _EDGE_HELD:
            return False
    return True


def _smoothed(degc: F32, sigma: float) -> F32:
    from irspot.opencv import load_cv2

    return np.asarray(load_cv2().GaussianBlur(degc, (0, 0), sigma))


def _edge_offsets(
    smooth: F32, places: FloatArray, normals: FloatArray, reach: float, least: float, margin: float
) -> tuple[FloatArray, Bool, Bool]:
    """Find the steepest change along normals: how far from the outline, whether there is one, whether in view."""
    rows, columns = smooth.shape
    seen = np.all(np.isfinite(places), axis=1)
    seen &= np.all((places >= margin) & (places <= np.array([columns - 1, rows - 1]) - margin), axis=1)
    at = np.arange(-reach - 1.0, reach + 1.0 + 1e-9, _STEP_PX)
    where = np.where(seen[:, None], places, 0.0)
    along = where[:, None] + at[None, :, None] * np.where(np.isfinite(normals), normals, 0.0)[:, None]
    profile = read(smooth, along[..., 0].ravel(), along[..., 1].ravel()).reshape(len(places), len(at))
    inside = (along[..., 0] >= 0) & (along[..., 0] <= columns - 1) & (along[..., 1] >= 0) & (along[..., 1] <= rows - 1)
    slope = np.abs(profile[:, 2:] - profile[:, :-2]) / (2.0 * _STEP_PX)
    slope[~(inside[:, 2:] & inside[:, :-2])] = 0.0
    middle = at[1:-1]
    # Of two edges within reach the nearer one is likelier: what is found fades with distance.
    fade = 1.0 - 0.5 * (middle / (reach + 1.0)) ** 2
    best = np.argmax(slope * fade, axis=1)
    inner = np.clip(best, 1, len(middle) - 2)
    row = np.arange(len(best))
    a, b, c = slope[row, inner - 1], slope[row, inner], slope[row, inner + 1]
    bend = a - 2.0 * b + c
    shift = np.where(bend < 0.0, 0.5 * (a - c) / np.minimum(bend, -1e-12), 0.0)
    offset = middle[inner] + np.clip(shift, -1.0, 1.0) * _STEP_PX
    present = seen & (best == inner) & (b >= a) & (b >= c) & (b > least)
    return offset, present, seen


def _normal_slopes(xy: FloatArray, matrix: FloatArray, normals: FloatArray) -> FloatArray:
    """How far points move along normals when an entry of their mapping changes, shape (n, 8)."""
    x, y = xy.T
    w = matrix[2, 0] * x + matrix[2, 1] * y + matrix[2, 2]
    u = (matrix[0, 0] * x + matrix[0, 1] * y + matrix[0, 2]) / w
    v = (matrix[1, 0] * x + matrix[1, 1] * y + matrix[1, 2]) / w
    nx, ny = np.where(np.isfinite(normals), normals, 0.0).T
    basis = np.column_stack([x, y, np.ones_like(x)]) / w[:, None]
    along = -(nx * u + ny * v)
    return np.column_stack([nx[:, None] * basis, ny[:, None] * basis, along[:, None] * basis[:, :2]])


@dataclass(frozen=True, slots=True, eq=False)
class _Solved:
    """A change of parameters, points' weights, the edges' deviation from the outline, the parameters' covariance."""

    step: FloatArray
    weight: FloatArray
    deviation: float
    spread: FloatArray


def _solved(slopes: FloatArray, offset: FloatArray, present: Bool) -> _Solved | None:
    """Solve for a change of parameters, weighing points down that stray (Tukey's biweight)."""
    weight = present.astype(np.float64)
    size = np.sqrt(np.einsum("ij,ij->j", slopes[present], slopes[present]))
    if not np.all(size > 1e-12):
        return None
    unit = slopes / size
    solved = None
    for _ in range(_REWEIGHTED):
        if np.count_nonzero(weight) < _FEWEST:
            return None
        weighted = unit * weight[:, None]
        normal = weighted.T @ unit
        if np.linalg.cond(normal) > _WORST_CONDITION:
            return None
        inverse = np.linalg.inv(normal)
        step = inverse @ (weighted.T @ offset)
        miss = offset - unit @ step
        deviation = max(0.05, 1.4826 * float(np.median(np.abs(miss[present]))))
        weight = np.where(present, np.square(1.0 - np.minimum((miss / (_TUKEY * deviation)) ** 2, 1.0)), 0.0)
        solved = _Solved(step / size, weight, deviation, inverse / np.outer(size, size) * deviation**2)
    return solved


def _unscaled(spread: FloatArray, scale: float) -> FloatArray:
    per = np.array([scale, scale, 1.0, scale, scale, 1.0, scale, scale])
    return np.asarray(spread / np.outer(per, per))
