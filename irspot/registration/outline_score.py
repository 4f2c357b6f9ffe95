"""How well an outline, carried into a frame, lies on the frame's edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Optics
from irspot.registration.distortion import distort
from irspot.registration.edge_map import WAYS, EdgeMap

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class OutlinePoints:
    """Points along an outline.

    Parameters
    ----------
    xy_mm : ndarray, shape (n, 2)
    along : ndarray, shape (n, 2)
        Unit vectors along the edge at each.
    edge : ndarray of int, shape (n,)
        Which edge of the outline each is of.
    """

    xy_mm: FloatArray
    along: FloatArray
    edge: NDArray[np.intp]


def outline_points(vertices_mm: FloatArray, count: int) -> OutlinePoints:
    """Spread about `count` points evenly along an outline, none of them at a corner.

    Parameters
    ----------
    vertices_mm : ndarray, shape (n, 2)
    count : int
    """
    to_next = np.roll(vertices_mm, -1, axis=0) - vertices_mm
    lengths = np.hypot(*to_next.T)
    numbers = np.maximum(2, np.rint(count * lengths / lengths.sum()).astype(int))
    xy, along, edge = [], [], []
    for k, number in enumerate(numbers):
        share = (np.arange(number) + 0.5) / number
        xy.append(vertices_mm[k] + share[:, None] * to_next[k])
        along.append(np.tile(to_next[k] / lengths[k], (number, 1)))
        edge.append(np.full(number, k))
    return OutlinePoints(np.concatenate(xy), np.concatenate(along), np.concatenate(edge))


def carried_outline(
    points: OutlinePoints, matrices: FloatArray, optics: Optics, size_px: tuple[int, int]
) -> tuple[FloatArray, FloatArray]:
    """Carry points of an outline into the stored image, with the normals it has there.

    Parameters
    ----------
    points : OutlinePoints
    matrices : ndarray, shape (k, 3, 3)
    optics : Optics
    size_px : tuple of int

    Returns
    -------
    places, normals : ndarray, shape (k, n, 2)
        Not finite where a point lies behind the camera.
    """
    step = 0.5
    both = np.concatenate([points.xy_mm, points.xy_mm + step * points.along])
    places = carried_through(both, matrices, optics, size_px)
    here, there = places[:, : len(points.xy_mm)], places[:, len(points.xy_mm) :]
    along = there - here
    along /= np.maximum(np.hypot(along[..., 0], along[..., 1]), 1e-12)[..., None]
    return here, np.stack([-along[..., 1], along[..., 0]], axis=-1)


def carried_through(xy_mm: FloatArray, matrices: FloatArray, optics: Optics, size_px: tuple[int, int]) -> FloatArray:
    """Carry places into the stored image by each of several mappings.

    Parameters
    ----------
    xy_mm : ndarray, shape (n, 2)
    matrices : ndarray, shape (k, 3, 3)
    optics : Optics
    size_px : tuple of int

    Returns
    -------
    ndarray, shape (k, n, 2)
        Not finite behind the camera.
    """
    ones = np.column_stack([xy_mm, np.ones(len(xy_mm))])
    carried = ones @ np.swapaxes(matrices, 1, 2)
    w = carried[..., 2]
    flat = carried[..., :2] / np.where(w > 0.0, w, np.nan)[..., None]
    return distort(flat.reshape(-1, 2), optics, size_px).reshape(flat.shape) if optics.distorted else flat


def outline_scores(
    edges: EdgeMap, points: OutlinePoints, matrices: FloatArray, optics: Optics, size_px: tuple[int, int]
) -> tuple[FloatArray, FloatArray]:
    """Mean strength of edges along outlines, and the share of them that is in view.

    Parameters
    ----------
    edges : EdgeMap
    points : OutlinePoints
    matrices : ndarray, shape (k, 3, 3)
    optics : Optics
    size_px : tuple of int

    Returns
    -------
    score, in_view : ndarray, shape (k,)
        Edges count by direction, 0 to 1; points out of view count in neither.
    """
    strength = strengths_at(edges, points, matrices, optics, size_px)
    seen = np.isfinite(strength)
    count = seen.sum(axis=1)
    return np.nansum(strength, axis=1) / np.maximum(count, 1), count / seen.shape[1]


def strengths_at(
    edges: EdgeMap, points: OutlinePoints, matrices: FloatArray, optics: Optics, size_px: tuple[int, int]
) -> NDArray[np.float32]:
    """Strength of the edges that run along outlines at their points, shape (k, n); NaN out of view."""
    places, normals = carried_outline(points, matrices, optics, size_px)
    rows, columns = edges.strength.shape
    with np.errstate(invalid="ignore"):
        x = np.rint((places[..., 0] + 0.5) / edges.scale - 0.5)
        y = np.rint((places[..., 1] + 0.5) / edges.scale - 0.5)
        seen = (x >= 1) & (x < columns - 1) & (y >= 1) & (y < rows - 1)
        turn = np.arctan2(normals[..., 1], normals[..., 0]) * (WAYS / np.pi)
        way = np.where(np.isfinite(turn), np.rint(turn), 0.0).astype(np.intp) % WAYS
    xi, yi = (np.where(seen, axis, 0.0).astype(np.intp) for axis in (x, y))
    return np.where(seen, edges.ways[way, yi, xi], np.float32(np.nan))
