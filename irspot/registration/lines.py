"""Straight lines in a frame, from the crests of its gradient, with what of their length is really there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2
from irspot.registration.edge_map import EdgeMap

FloatArray = NDArray[np.float64]

_ANGLES: Final = 180
_SPREAD: Final = 3
"""Bins of angle, of a degree each, on either side of a crest's own that it votes for."""
_MOST: Final = 36
_NEAR_PX: Final = 1.5
_NEAR_COSINE: Final = 0.94
"""Distance and angle within which a crest belongs to a line; distances count in pixels of the search."""
BIN_PX: Final = 2.0
"""Length of the pieces in which presence along a line is noted, in pixels of the search."""


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Lines ``normal . p = offset`` in px of the undistorted frame.

    Parameters
    ----------
    normals : ndarray, shape (n, 2)
    offsets : ndarray, shape (n,)
    centre : ndarray, shape (2,)
        Places along a line count from the foot of this point.
    step_px : float
        Length of one piece of a line.
    first_px : float
        Where along a line its first piece begins.
    present : ndarray, shape (n, pieces + 1)
        Number of pieces with an edge, from the first on: what lies between two places is a difference.
    """

    normals: FloatArray
    offsets: FloatArray
    centre: FloatArray
    step_px: float
    first_px: float
    present: FloatArray

    @property
    def along(self) -> FloatArray:
        """Unit vectors along the lines, shape (n, 2)."""
        return np.column_stack([-self.normals[:, 1], self.normals[:, 0]])


def lines_of(edges: EdgeMap, points_px: FloatArray, size_px: tuple[int, int]) -> Lines:
    """Find lines.

    Parameters
    ----------
    edges : EdgeMap
    points_px : ndarray, shape (n, 2)
        Its crests, in px of the undistorted frame.
    size_px : tuple of int
        ``(columns, rows)`` of the frame.

    Returns
    -------
    Lines
        The strongest first.
    """
    centre = (np.array(size_px, np.float64) - 1.0) / 2.0
    xy = (points_px - centre) / edges.scale
    reach = float(np.hypot(*size_px)) / 2.0 / edges.scale * 1.3
    normals, offsets = _peaks(xy, edges.normals, edges.weights, reach)
    normals, offsets = _fitted(xy, edges.normals, edges.weights, normals, offsets)
    present = _presence(xy, edges.normals, edges.weights, normals, offsets, reach)
    offsets_px = offsets * edges.scale + normals @ centre
    return Lines(normals, offsets_px, centre, BIN_PX * edges.scale, -reach * edges.scale, present)


def _peaks(xy: FloatArray, own: FloatArray, weights: FloatArray, reach: float) -> tuple[FloatArray, FloatArray]:
    """Vote for lines (Duda and Hart, 1972), each crest for those that run as it does, and take the peaks."""
    cv2 = load_cv2()
    votes = np.zeros((_ANGLES, int(2 * reach) + 3), np.float32)
    turn = np.rint(np.rad2deg(np.arctan2(own[:, 1], own[:, 0]))).astype(np.intp)
    for apart in range(-_SPREAD, _SPREAD + 1):
        angle = (turn + apart) % _ANGLES
        radians = np.deg2rad(angle)
        offset = xy[:, 0] * np.cos(radians) + xy[:, 1] * np.sin(radians)
        place = np.rint(offset + reach).astype(np.intp)
        inside = (place >= 0) & (place < votes.shape[1])
        flat = angle[inside] * votes.shape[1] + place[inside]
        votes += np.bincount(flat, weights[inside], votes.size).reshape(votes.shape).astype(np.float32)
    votes = np.asarray(cv2.GaussianBlur(_wrapped(votes), (3, 7), 0, borderType=cv2.BORDER_CONSTANT))
    crest = votes >= cv2.dilate(votes, np.ones((9, 7), np.uint8))
    crest[:_WRAP] = crest[-_WRAP:] = False
    angle, place = np.nonzero(crest & (votes > 0.0))
    order = np.argsort(-votes[angle, place], kind="stable")[:_MOST]
    radians = np.deg2rad((angle[order] - _WRAP).astype(np.float64))
    return np.column_stack([np.cos(radians), np.sin(radians)]), place[order].astype(np.float64) - reach


_WRAP: Final = 8


def _wrapped(votes: NDArray[np.float32]) -> NDArray[np.float32]:
    """Continue a table of votes beyond half a turn, where offsets change their sign."""
    mirrored = votes[:, ::-1]
    return np.concatenate([mirrored[-_WRAP:], votes, mirrored[:_WRAP]])


def _belonging(
    xy: FloatArray, own: FloatArray, normals: FloatArray, offsets: FloatArray
) -> tuple[NDArray[np.bool_], FloatArray]:
    """Which crests (rows) belong to which lines (columns), and how far they are off."""
    off = xy @ normals.T - offsets
    return (np.abs(off) < _NEAR_PX) & (np.abs(own @ normals.T) > _NEAR_COSINE), off


def _fitted(
    xy: FloatArray, own: FloatArray, weights: FloatArray, normals: FloatArray, offsets: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Fit every line to its crests by total least squares, twice."""
    for _ in range(2):
        belongs, _ = _belonging(xy, own, normals, offsets)
        new_normals, new_offsets = normals.copy(), offsets.copy()
        for k in range(len(normals)):
            some = belongs[:, k]
            if some.sum() < 8:
                continue
            share = weights[some] / weights[some].sum()
            middle = share @ xy[some]
            apart = (xy[some] - middle) * np.sqrt(share)[:, None]
            normal = np.linalg.svd(apart, full_matrices=False)[2][1]
            if normal @ normals[k] < 0.0:
                normal = -normal
            new_normals[k], new_offsets[k] = normal, normal @ middle
        normals, offsets = new_normals, new_offsets
    return normals, offsets


def _presence(
    xy: FloatArray, own: FloatArray, weights: FloatArray, normals: FloatArray, offsets: FloatArray, reach: float
) -> FloatArray:
    """Count pieces of lines with an edge."""
    belongs, _ = _belonging(xy, own, normals, offsets)
    pieces = int(np.ceil(2.0 * reach / BIN_PX))
    along = np.column_stack([-normals[:, 1], normals[:, 0]])
    point, line = np.nonzero(belongs)
    place = ((np.einsum("ij,ij->i", xy[point], along[line]) + reach) / BIN_PX).astype(np.intp)
    inside = (place >= 0) & (place < pieces)
    table = np.zeros((len(normals), pieces))
    np.maximum.at(table, (line[inside], place[inside]), np.minimum(2.0 * weights[point[inside]], 1.0))
    return np.concatenate([np.zeros((len(normals), 1)), np.cumsum(table, axis=1)], axis=1)
