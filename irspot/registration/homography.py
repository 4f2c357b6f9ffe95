"""Plane-to-plane perspective mappings: fitted to points, applied to points, and how firmly points hold them.

``x' = (h11 x + h12 y + h13) / w``, ``y' = (h21 x + h22 y + h23) / w``, ``w = h31 x + h32 y + h33``.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.errors import PlacementRefused

FloatArray = NDArray[np.float64]

_DEGENERATE: Final = 1e-9
"""Relative size below which a singular value or a determinant of normalised points is rounding."""
_REFINING_STEPS: Final = 10


def fit(xy_mm: FloatArray, xy_px: FloatArray) -> FloatArray:
    """Fit the homography that carries points of one plane to those of another.

    Four points are met exactly. More are met in the least squares sense of distances in the second plane: the
    normalised direct linear transform (R. Hartley, "In defense of the eight-point algorithm", IEEE PAMI 19, 1997)
    gives the start, Gauss-Newton steps the minimum.

    Parameters
    ----------
    xy_mm, xy_px : ndarray, shape (n, 2)
        At least four.

    Returns
    -------
    ndarray, shape (3, 3)
        With ``[2, 2] == 1``.

    Raises
    ------
    PlacementRefused
        If the points do not determine a mapping (three of four on a line; cause ``collinear``), or the origin of the
        first plane lies on its horizon (cause ``horizon``).

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    >>> wanted = np.array([[2.0, 0.0, 5.0], [0.0, 2.0, 5.0], [0.0, 0.0, 1.0]])
    >>> bool(np.allclose(fit(square, 2.0 * square + 5.0), wanted))
    True
    """
    source, to_source = _normalised(xy_mm)
    target, to_target = _normalised(xy_px)
    core = _direct_linear_transform(source, target)
    if len(source) > 4:
        core = _refined(core, source, target)
    matrix = np.linalg.inv(to_target) @ core @ to_source
    if abs(matrix[2, 2]) < _DEGENERATE * np.abs(matrix[2]).max():
        raise PlacementRefused("the points put the corner the millimetres count from on the horizon", cause="horizon")
    return np.asarray(matrix / matrix[2, 2])


def apply(matrix: NDArray[np.floating[Any]], xy: FloatArray) -> FloatArray:
    """Carry points through a homography.

    Parameters
    ----------
    matrix : ndarray, shape (3, 3)
        Scaled so that ``w > 0`` in front of the camera; so are `fit` and its inverse.
    xy : ndarray, shape (n, 2)

    Returns
    -------
    ndarray, shape (n, 2)
        NaN where ``w <= 0``: such points lie behind the camera.
    """
    x, y = np.asarray(xy, dtype=np.float64).T
    w = matrix[2, 0] * x + matrix[2, 1] * y + matrix[2, 2]
    scale = np.full_like(w, np.nan)
    np.divide(1.0, w, out=scale, where=w > 0.0)
    carried = np.empty((len(x), 2))
    carried[:, 0] = (matrix[0, 0] * x + matrix[0, 1] * y + matrix[0, 2]) * scale
    carried[:, 1] = (matrix[1, 0] * x + matrix[1, 1] * y + matrix[1, 2]) * scale
    return carried


def leverage(matrix: FloatArray, xy_mm: FloatArray, at_mm: FloatArray) -> FloatArray:
    """Say how far a place moves when the fitted points are each wrong by one unit (first order, root mean square).

    Parameters
    ----------
    matrix : ndarray, shape (3, 3)
        As fitted.
    xy_mm : ndarray, shape (n, 2)
        The points it was fitted to.
    at_mm : ndarray, shape (m, 2)
        The places asked about.

    Returns
    -------
    ndarray, shape (m,)
        1 at a point of an exact fit; infinite where the points do not hold the mapping at all.
    """
    source, to_source = _normalised(xy_mm)
    core: FloatArray = matrix @ np.linalg.inv(to_source)
    core = core / core[2, 2]
    slope = slopes(core, source)
    if np.linalg.matrix_rank(slope) < 8:
        return np.full(len(at_mm), np.inf)
    spread = np.linalg.inv(slope.T @ slope)
    at = slopes(core, apply(to_source, at_mm)).reshape(-1, 2, 8)
    return np.asarray(np.sqrt(np.einsum("mij,jk,mik->m", at, spread, at) / 2.0))


def covariance(matrix: FloatArray, xy_mm: FloatArray) -> FloatArray:
    """Covariance of a fitted mapping's entries when each fitted point is wrong by one unit along each axis.

    Parameters
    ----------
    matrix : ndarray, shape (3, 3)
        As fitted, with ``[2, 2] == 1``.
    xy_mm : ndarray, shape (n, 2)
        The points it was fitted to.

    Returns
    -------
    ndarray, shape (8, 8)
        Of the entries but the last, row by row; infinite where the points do not hold the mapping.
    """
    source, to_source = _normalised(xy_mm)
    core: FloatArray = matrix @ np.linalg.inv(to_source)
    core = core / core[2, 2]
    slope = slopes(core, source)
    if not np.isfinite(slope).all() or np.linalg.matrix_rank(slope) < 8:
        return np.full((8, 8), np.inf)
    # How the matrix changes with the core's entries, its last entry being kept at 1.
    scale = float((core @ to_source)[2, 2])
    change = np.empty((8, 8))
    for k in range(8):
        off = np.eye(1, 9, k).reshape(3, 3) @ to_source
        change[:, k] = ((off - matrix * off[2, 2]) / scale).ravel()[:8]
    return np.asarray(change @ np.linalg.inv(slope.T @ slope) @ change.T)


def _normalised(xy: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Shift the centroid to the origin, scale the mean distance to √2; give the points and the matrix."""
    xy = np.asarray(xy, dtype=np.float64)
    middle = xy.mean(axis=0)
    distance = float(np.hypot(*(xy - middle).T).mean())
    if distance == 0.0:
        raise PlacementRefused("all points are one and the same", cause="close")
    scale = np.sqrt(2.0) / distance
    matrix = np.array([[scale, 0.0, -scale * middle[0]], [0.0, scale, -scale * middle[1]], [0.0, 0.0, 1.0]])
    return (xy - middle) * scale, matrix


def _direct_linear_transform(source: FloatArray, target: FloatArray) -> FloatArray:
    """Solve ``target × (H source) = 0`` for H up to scale, by its smallest singular vector."""
    x, y = source.T
    u, v = target.T
    one, zero = np.ones_like(x), np.zeros_like(x)
    rows_u = np.column_stack([x, y, one, zero, zero, zero, -u * x, -u * y, -u])
    rows_v = np.column_stack([zero, zero, zero, x, y, one, -v * x, -v * y, -v])
    _, sizes, vectors = np.linalg.svd(np.concatenate([rows_u, rows_v]))
    core = np.asarray(vectors[-1].reshape(3, 3))
    if sizes[7] < _DEGENERATE * sizes[0] or abs(np.linalg.det(core)) < _DEGENERATE:
        raise PlacementRefused("the points do not fix the board: too many of them lie on one line", cause="collinear")
    return core


def _refined(core: FloatArray, source: FloatArray, target: FloatArray) -> FloatArray:
    """Minimise the squared distances in the target plane by Gauss-Newton steps; never make them larger."""
    if abs(core[2, 2]) < _DEGENERATE:
        return core
    best = core / core[2, 2]
    error = _misfit(best, source, target)
    if not np.all(np.isfinite(error)):
        return core
    for _ in range(_REFINING_STEPS):
        step = np.linalg.lstsq(slopes(best, source), error, rcond=None)[0]
        tried = best + np.append(step, 0.0).reshape(3, 3)
        tried_error = _misfit(tried, source, target)
        if not tried_error @ tried_error < error @ error:
            break
        best, error = tried, tried_error
    return np.asarray(best, dtype=np.float64)


def _misfit(core: FloatArray, source: FloatArray, target: FloatArray) -> FloatArray:
    misfit: FloatArray = (target - apply(core, source)).ravel()
    return misfit


def slopes(core: FloatArray, source: FloatArray) -> FloatArray:
    """Derivatives of the carried points by the first eight entries (the ninth is 1), shape (2 n, 8): x, y, x, y, ..."""
    x, y = source.T
    w = core[2, 0] * x + core[2, 1] * y + core[2, 2]
    u, v = apply(core, source).T
    found = np.zeros((len(x), 2, 8))
    basis = np.column_stack([x, y, np.ones_like(x)]) / w[:, None]
    found[:, 0, 0:3] = basis
    found[:, 1, 3:6] = basis
    found[:, 0, 6:8] = -u[:, None] * basis[:, :2]
    found[:, 1, 6:8] = -v[:, None] * basis[:, :2]
    return found.reshape(-1, 8)
