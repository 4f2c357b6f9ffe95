"""Which four straight lines of an outline are to be found in a frame."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_SAME_DIRECTION_DEG: Final = 12.0
_ACROSS_DEG: Final = 30.0
_MOST_CHOICES: Final = 9
_APART_SHARE: Final = 0.3
"""Two lines hold a placement if they are further apart than this share of the outline's size."""


def four_lines(vertices_mm: FloatArray) -> tuple[tuple[FloatArray, FloatArray], ...]:
    """Choose two pairs of nearly parallel lines that an outline has edges on: each as a normal and an offset, in mm.

    Parameters
    ----------
    vertices_mm : ndarray, shape (n, 2)

    Returns
    -------
    tuple of (normals, offsets)
        Normals of shape (4, 2) and offsets of shape (4,), in the order first pair, second pair; several choices where
        an outline has more than four edges, those with the longest edges first; empty if there is none.
    """
    normals, offsets, lengths, angles = _edges(vertices_mm)
    pairs = [
        pair for members in _directions(angles, lengths) for pair in _pairs(normals, lengths, members, vertices_mm)
    ]
    chosen = []
    for k, (length, first) in enumerate(pairs):
        for other_length, second in pairs[k + 1 :]:
            if abs((angles[first[0]] - angles[second[0]] + 90.0) % 180.0 - 90.0) > _ACROSS_DEG:
                chosen.append((length + other_length, [*first, *second]))
    chosen.sort(key=lambda each: -each[0])
    return tuple((normals[lines], offsets[lines]) for _, lines in chosen[:_MOST_CHOICES])


def _edges(vertices_mm: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    to_next = np.roll(vertices_mm, -1, axis=0) - vertices_mm
    lengths = np.hypot(*to_next.T)
    normals = np.column_stack([to_next[:, 1], -to_next[:, 0]]) / lengths[:, None]
    angles = np.rad2deg(np.arctan2(to_next[:, 1], to_next[:, 0])) % 180.0
    return normals, np.einsum("ij,ij->i", normals, vertices_mm), lengths, angles


def _directions(angles: FloatArray, lengths: FloatArray) -> list[NDArray[np.intp]]:
    """Group edges by direction, the longest first."""
    left, groups = list(np.argsort(-lengths)), []
    while left:
        apart = np.abs((angles[left] - angles[left[0]] + 90.0) % 180.0 - 90.0)
        members = [edge for edge, off in zip(left, apart, strict=True) if off < _SAME_DIRECTION_DEG]
        left = [edge for edge in left if edge not in members]
        groups.append(np.array(members))
    return groups


def _pairs(
    normals: FloatArray, lengths: FloatArray, members: NDArray[np.intp], vertices_mm: FloatArray
) -> list[tuple[float, list[int]]]:
    """List pairs of edges of one direction that are far enough apart, with the length they have together."""
    found = []
    for k, first in enumerate(members):
        height = vertices_mm @ normals[first]
        for other in members[k + 1 :]:
            apart = abs(height[first] - (height[other] + height[(other + 1) % len(height)]) / 2.0)
            if apart > _APART_SHARE * float(np.ptp(height)):
                found.append((float(lengths[first] + lengths[other]), [int(first), int(other)]))
    return found
