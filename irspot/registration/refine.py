"""Outlines moved onto a frame's edges to a fraction of a pixel, and how firmly they hold them.

Edges are sought along the normal at each point of an outline. The mapping follows by least squares, points that stray
being given less weight, in a few rounds of ever shorter reach. Many outlines are moved at once.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Optics
from irspot.registration.edge_profiles import Found, Profiles, edges_along
from irspot.registration.outline_score import OutlinePoints, carried_outline, carried_through
from irspot.registration.rigid import camera_matrix, mapping_of, mapping_slopes, nearest_view
from irspot.registration.robust_fit import Fit, fitted

FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

_LEAST_WEIGHT: Final = 0.2
_STIFF_STEPS: Final = 3
_EDGE_HELD: Final = 0.4
_EDGE_SEEN: Final = 0.6
_FEWEST_OF_EDGE: Final = 4
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
class _Setting:
    """What outlines are moved on; lengths are counted in units of the outline's size."""

    profiles: Profiles
    points: OutlinePoints
    scale: float
    optics: Optics
    size_px: tuple[int, int]
    camera: FloatArray | None

    @property
    def xy(self) -> FloatArray:
        return self.points.xy_mm / self.scale


@dataclass(frozen=True, slots=True, eq=False)
class _Sought:
    """Points of k outlines in the frame, their normals there, and the edges found along them."""

    places: FloatArray
    normals: FloatArray
    found: Found


@dataclass(frozen=True, slots=True, eq=False)
class _Moved:
    """Mappings of the outline in its units, their covariances, and the fits they come of."""

    units: FloatArray
    spreads: FloatArray
    fit: Fit


def refine(
    profiles: Profiles,
    points: OutlinePoints,
    matrices: FloatArray,
    optics: Optics,
    size_px: tuple[int, int],
    reaches_px: tuple[float, ...],
) -> tuple[Refined | None, ...]:
    """Move outlines onto the edges near them.

    Where the focal length is known the board is taken for a stiff plate; a last round without that follows where
    every edge of the outline is held by itself, so that a focal length that is a little wrong does no harm.

    Parameters
    ----------
    profiles : Profiles
        Of the frame.
    points : OutlinePoints
    matrices : ndarray, shape (k, 3, 3)
        Where to begin.
    optics : Optics
    size_px : tuple of int
    reaches_px : tuple of float
        How far from the outline edges are sought, round by round.

    Returns
    -------
    tuple of Refined or None
        None where too few edges are there to hold the outline.
    """
    camera = camera_matrix(optics, size_px)
    setting = _Setting(profiles, points, float(np.abs(points.xy_mm).max()), optics, size_px, camera)
    stiff = camera is not None
    starts, found = dict(enumerate(matrices)), dict[int, Refined]()
    for reach in reaches_px[:-1]:
        found = _one_round(setting, starts, reach, stiff=stiff)
        starts = {k: each.matrix for k, each in found.items()}
    firm = {k for k, each in found.items() if stiff and _well_held(each, points)}
    ended = _one_round(setting, {k: starts[k] for k in starts if k in firm}, reaches_px[-1], stiff=False)
    ended |= _one_round(setting, {k: starts[k] for k in starts if k not in firm}, reaches_px[-1], stiff=stiff)
    return tuple(ended.get(k) for k in range(len(matrices)))


def normal_slopes(xy: FloatArray, matrices: FloatArray, normals: FloatArray) -> FloatArray:
    """How far points move along normals when an entry of their mapping changes.

    Parameters
    ----------
    xy : ndarray, shape (n, 2)
    matrices : ndarray, shape (k, 3, 3)
    normals : ndarray, shape (k, n, 2)
        Where not finite, taken for 0.

    Returns
    -------
    ndarray, shape (k, n, 8)
    """
    ones = np.column_stack([xy, np.ones(len(xy))])
    u, v, w = np.moveaxis(ones @ np.swapaxes(matrices, 1, 2), 2, 0)
    nx, ny = (_finite(normals[..., axis]) / w for axis in range(2))
    along = -(nx * u + ny * v) / w
    return np.concatenate([nx[..., None] * ones, ny[..., None] * ones, along[..., None] * xy], axis=2)


def _one_round(setting: _Setting, starts: dict[int, FloatArray], reach: float, *, stiff: bool) -> dict[int, Refined]:
    """Seek edges near outlines and move these onto them once; what is not held is left out."""
    if not starts:
        return {}
    matrices = np.stack(list(starts.values()))
    places, normals = carried_outline(setting.points, matrices, setting.optics, setting.size_px)
    sought = _Sought(places, normals, edges_along(setting.profiles, places, normals, reach))
    to_unit = np.diag([setting.scale, setting.scale, 1.0])
    moved = (_stiffly if stiff else _freely)(setting, matrices @ to_unit, sought)
    after = moved.units @ np.linalg.inv(to_unit)
    after = after / after[:, 2:, 2:]
    change = carried_through(setting.points.xy_mm, after, setting.optics, setting.size_px) - places
    offset = sought.found.offset - np.einsum("kni,kni->kn", _finite(change), _finite(normals))
    held = sought.found.present & (moved.fit.weight > _LEAST_WEIGHT)
    per = np.array([setting.scale, setting.scale, 1.0, setting.scale, setting.scale, 1.0, setting.scale, setting.scale])
    alike = points_alike(setting.points, places, sought.found.seen, setting.profiles.sigma)
    covariances = moved.spreads * alike[:, None, None] / np.outer(per, per)
    return {
        number: Refined(
            after[k], covariances[k], sought.found.seen[k], held[k], sought.found.present[k], offset[k],
            float(moved.fit.deviation[k]),
        )
        for k, number in enumerate(starts) if moved.fit.sound[k]
    }  # fmt: skip


def _freely(setting: _Setting, units: FloatArray, sought: _Sought) -> _Moved:
    """Move mappings onto edges, all eight entries by themselves."""
    fit = fitted(normal_slopes(setting.xy, units, sought.normals), sought.found.offset, sought.found.present)
    step = np.concatenate([fit.step, np.zeros((len(units), 1))], axis=1)
    return _Moved(units + step.reshape(-1, 3, 3), fit.spread, fit)


def _stiffly(setting: _Setting, units: FloatArray, sought: _Sought) -> _Moved:
    """Move stiff views onto edges, by Gauss-Newton steps."""
    assert setting.camera is not None
    edges_px = sought.places + sought.found.offset[..., None] * sought.normals
    normals = _finite(sought.normals)
    views = nearest_view(units, setting.camera)
    sound = np.ones(len(units), bool)
    for _ in range(_STIFF_STEPS):
        units = mapping_of(views, setting.camera)
        here = carried_through(setting.xy, units, setting.optics, setting.size_px)
        off = np.einsum("kni,kni->kn", _finite(edges_px - here), normals)
        change = mapping_slopes(views, setting.camera)
        fit = fitted(normal_slopes(setting.xy, units, normals) @ change, off, sought.found.present)
        sound = sound & fit.sound
        views = np.where(sound[:, None], views + fit.step, views)
    spreads = change @ fit.spread @ np.swapaxes(change, 1, 2)
    return _Moved(mapping_of(views, setting.camera), spreads, replace(fit, sound=sound))


def points_alike(points: OutlinePoints, places: FloatArray, seen: Bool, sigma: float) -> FloatArray:
    """Count, for each of k outlines, the points whose edges noise moves together.

    Parameters
    ----------
    points : OutlinePoints
    places : ndarray, shape (k, n, 2)
    seen : ndarray of bool, shape (k, n)
    sigma : float
        Standard deviation of the smoothing, px.
    """
    together = seen[:, 1:] & seen[:, :-1] & (points.edge[1:] == points.edge[:-1])
    step = _finite(places[:, 1:] - places[:, :-1])
    total = np.where(together, np.hypot(step[..., 0], step[..., 1]), 0.0).sum(axis=1)
    spacing = total / np.maximum(together.sum(axis=1), 1)
    return np.where(total > 0.0, np.maximum(1.0, _ALIKE_SIGMAS * sigma / np.maximum(spacing, 1e-9)), 1.0)


def _finite(vectors: FloatArray) -> FloatArray:
    return np.where(np.isfinite(vectors), vectors, 0.0)


def _well_held(refined: Refined, points: OutlinePoints) -> bool:
    """Say whether every edge of the outline is in view, and held, along a good part of its length by itself."""
    for edge in np.unique(points.edge):
        mine = points.edge == edge
        seen = refined.seen[mine]
        if seen.sum() < _FEWEST_OF_EDGE or seen.mean() < _EDGE_SEEN or refined.held[mine][seen].mean() < _EDGE_HELD:
            return False
    return True
