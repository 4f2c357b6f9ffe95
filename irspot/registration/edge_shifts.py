"""Whether every edge of an outline lies where the others say it does."""

from __future__ import annotations

from typing import Final

import numpy as np

from irspot.camera import Optics
from irspot.registration.edge_profiles import Profiles, edges_along
from irspot.registration.outline_score import OutlinePoints, carried_outline
from irspot.registration.refine import Refined, normal_slopes, points_alike
from irspot.registration.rigid import camera_matrix, mapping_slopes, nearest_view
from irspot.registration.robust_fit import fitted

Shift = tuple[float, float] | None
"""A move along a normal and its standard uncertainty, px; None where nothing says."""
_REACH_SIGMAS: Final = 2.5


def edge_shifts(
    profiles: Profiles, points: OutlinePoints, refined: Refined, optics: Optics, size_px: tuple[int, int]
) -> tuple[Shift, ...]:
    """How far each edge of a stiff outline would lie from where it was found, were it for the other edges alone.

    First order: the others are held against the outline once more, and what would move it carries the edge along.

    Parameters
    ----------
    profiles, points, optics, size_px
        As of `refine`.
    refined : Refined
        Of all edges.

    Returns
    -------
    tuple of (float, float), or None
        For each edge the largest move along its normal, and its standard uncertainty, px; None where the others do
        not hold the outline, or no focal length makes it stiff.
    """
    camera = camera_matrix(optics, size_px)
    edges = np.unique(points.edge)
    if camera is None:
        return (None,) * len(edges)
    places, normals = carried_outline(points, refined.matrix[None], optics, size_px)
    found = edges_along(profiles, places, normals, _REACH_SIGMAS * profiles.sigma)
    scale = float(np.abs(points.xy_mm).max())
    unit = refined.matrix @ np.diag([scale, scale, 1.0])
    change = mapping_slopes(nearest_view(unit, camera), camera)
    slopes = normal_slopes(points.xy_mm / scale, unit[None], normals)[0] @ change
    others = found.present & (points.edge != edges[:, None])
    shape = (len(edges), *slopes.shape)
    fit = fitted(np.broadcast_to(slopes, shape), np.broadcast_to(found.offset[0], shape[:2]), others)
    alike = float(points_alike(points, places, found.seen, profiles.sigma)[0])
    shifts: list[Shift] = []
    for k, edge in enumerate(edges):
        mine = slopes[points.edge == edge]
        move = np.abs(mine @ fit.step[k])
        spread = np.einsum("ni,ij,nj->n", mine, fit.spread[k], mine) * alike
        worst = int(move.argmax())
        shifts.append((float(move[worst]), float(np.sqrt(max(spread[worst], 0.0)))) if fit.sound[k] else None)
    return tuple(shifts)
