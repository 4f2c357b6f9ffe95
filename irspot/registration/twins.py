"""Where a second board of the same outline could lie, on the plane of one that was found: wholly or partly in view.

The frame's edges are read over a grid on the board's plane, those that run along x and those along y by themselves.
What an outline moved over the plane would find is then, edge by edge, a sum along rows or columns.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Optics
from irspot.opencv import load_cv2
from irspot.registration.edge_map import WAYS, EdgeMap
from irspot.registration.outline_score import carried_through
from irspot.registration.way_round import alike

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]

_STEP_PX: Final = 3.0
"""Cells of the grid, in px of the search."""
_MOST_CELLS: Final = 260
_ROOM: Final = 1.6
"""How far a second board is sought beside the first, in sizes of the outline's longer side."""
_APART: Final = 0.7
"""Second boards are moved by at least this share of the outline's box, or they would lie upon the first."""
_LEAST_IN_VIEW: Final = 0.4
_LEAST_SCORE: Final = 0.5
_MOST: Final = 4
_ALIKE_CELLS: Final = 4
_SLACK: Final = 0.02
"""Of an outline's size, by which it may differ from itself turned and still look alike."""


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """Strength of edges along x and along y, and what is in view, summed up along the way they run."""

    first_mm: FloatArray
    step_mm: float
    along_x: FloatArray
    along_y: FloatArray
    seen_x: FloatArray
    seen_y: FloatArray
    shifts: int


def twins_of(
    edges: EdgeMap, matrix: FloatArray, vertices_mm: FloatArray, optics: Optics, size_px: tuple[int, int]
) -> FloatArray:
    """List where else on a board's plane edges lie as its outline has them, turned by quarters.

    Parameters
    ----------
    edges : EdgeMap
    matrix : ndarray, shape (3, 3)
        Of the board that was found.
    vertices_mm : ndarray, shape (n, 2)
    optics : Optics
    size_px : tuple of int

    Returns
    -------
    ndarray, shape (k, 3, 3)
        Mappings of the outline to px of the undistorted frame, the likeliest first; a few at most.
    """
    low, high = vertices_mm.min(axis=0), vertices_mm.max(axis=0)
    grid = _grid(edges, matrix, low, high, optics, size_px)
    found: list[tuple[float, FloatArray]] = []
    for turn in _turns(vertices_mm):
        turned = np.column_stack([vertices_mm, np.ones(len(vertices_mm))]) @ turn.T
        score = _scores(grid, turned[:, :2], high - low)
        for _ in range(_MOST):
            row, column = np.unravel_index(int(score.argmax()), score.shape)
            if score[row, column] < _LEAST_SCORE:
                break
            x, y = (np.array([column, row]) - grid.shifts // 2) * grid.step_mm
            moved = np.array([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]]) @ turn
            found.append((float(score[row, column]), matrix @ moved))
            near = slice(max(0, row - _ALIKE_CELLS), row + _ALIKE_CELLS + 1)
            score[near, max(0, column - _ALIKE_CELLS) : column + _ALIKE_CELLS + 1] = 0.0
    found.sort(key=lambda each: -each[0])
    listed = np.array([each / each[2, 2] for _, each in found[:_MOST]])
    return listed.reshape(-1, 3, 3)


def _turns(vertices_mm: FloatArray) -> list[FloatArray]:
    """Turns by quarters about the middle of the outline's box, of those that look the same one."""
    middle = (vertices_mm.min(axis=0) + vertices_mm.max(axis=0)) / 2.0
    slack = _SLACK * float(np.ptp(vertices_mm, axis=0).max())
    turns: list[FloatArray] = []
    for cosine, sine in ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)):
        turn = np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])
        turn[:2, 2] = middle - turn[:2, :2] @ middle
        here = vertices_mm @ turn[:2, :2].T + turn[:2, 2]
        if not any(alike(here, vertices_mm @ other[:2, :2].T + other[:2, 2], slack) for other in turns):
            turns.append(turn)
    return turns


def _grid(
    edges: EdgeMap, matrix: FloatArray, low: FloatArray, high: FloatArray, optics: Optics, size_px: tuple[int, int]
) -> _Grid:
    longer = float((high - low).max())
    middle = (low + high) / 2.0
    around = carried_through(middle + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]), matrix[None], optics, size_px)[0]
    px_per_mm = float(np.sqrt(abs(np.linalg.det(around[1:] - around[0]))))
    reach = _ROOM * longer
    step = max(_STEP_PX * edges.scale / max(px_per_mm, 1e-9), 2.0 * (reach + longer) / _MOST_CELLS)
    shifts = 2 * int(reach / step) + 1
    cells = shifts + int(np.ceil(longer / step)) + 1
    first = middle - longer / 2.0 - (shifts // 2) * step
    x, y = (first[axis] + step * np.arange(cells) for axis in range(2))
    places = carried_through(np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2), matrix[None], optics, size_px)[0]
    rows, columns = edges.strength.shape
    with np.errstate(invalid="ignore"):
        at = np.rint((places + 0.5) / edges.scale - 0.5)
        seen = np.all((at >= 1) & (at < [columns - 1, rows - 1]), axis=1)
    column, row = np.where(seen[:, None], at, 0.0).astype(np.intp).T
    shape = (cells, cells)
    kernel = np.ones((3, 3), np.uint8)
    strengths = []
    for along in (around[1] - around[0], around[2] - around[0]):
        # The gradient of an edge stands across it; perspective turns it by a way or so over the plane.
        way = round(float(np.arctan2(along[0], -along[1])) * WAYS / np.pi)
        planes = edges.ways[[(way + beside) % WAYS for beside in (-1, 0, 1)]].max(axis=0)
        read = np.where(seen, planes[row, column], np.float32(0.0)).reshape(shape)
        strengths.append(load_cv2().dilate(read, kernel).astype(np.float64) * seen.reshape(shape))
    view = seen.reshape(shape).astype(np.float64)
    return _Grid(
        first, step, _summed(strengths[0], 1), _summed(strengths[1], 0), _summed(view, 1), _summed(view, 0), shifts
    )


def _summed(plane: FloatArray, axis: int) -> FloatArray:
    return np.cumsum(np.insert(plane, 0, 0.0, axis=axis), axis=axis)


def _scores(grid: _Grid, vertices_mm: FloatArray, box_mm: FloatArray) -> FloatArray:
    """Mean strength along the outline's edges that run along x or y, for every shift; 0 where too little is in view."""
    shape = (grid.shifts, grid.shifts)
    found, seen, length = np.zeros(shape), np.zeros(shape), 0
    start = np.rint((vertices_mm - grid.first_mm) / grid.step_mm).astype(int) - grid.shifts // 2
    for (x0, y0), (x1, y1) in zip(start, np.roll(start, -1, axis=0), strict=True):
        if x0 != x1 and y0 != y1:
            continue
        level = y0 == y1
        strength, view = (grid.along_x, grid.seen_x) if level else (grid.along_y, grid.seen_y)
        ends = (sorted((x0, x1)), [y0, y0]) if level else ([x0, x0], sorted((y0, y1)))
        for total, summed in ((found, strength), (seen, view)):
            begin, end = (summed[y : y + grid.shifts, x : x + grid.shifts] for x, y in zip(*ends, strict=True))
            total += end - begin
        length += abs(int(x1 - x0)) + abs(int(y1 - y0))
    score = np.where(seen >= _LEAST_IN_VIEW * max(1, length), found / np.maximum(seen, 1.0), 0.0)
    moved = np.abs(np.arange(grid.shifts) - grid.shifts // 2) * grid.step_mm
    score[np.ix_(moved < _APART * box_mm[1], moved < _APART * box_mm[0])] = 0.0
    return score
