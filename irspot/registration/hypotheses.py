"""Where a board could be: every way in which four lines of a frame could be four lines of its outline."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Optics
from irspot.registration.lines import Lines
from irspot.registration.rigid import FOCAL_SHARES, misfit

FloatArray = NDArray[np.float64]

_FAR_OUT: Final = 0.45
"""Corners lie within the frame or at most this share of its size beyond it."""
LEAST_AREA: Final = 0.09
"""Share of the frame that quadrangles cover at least: half of what is placed, so that rivals are seen as well."""
_LEAST_APART: Final = 0.83
"""Distance of two opposite lines, of the root of that area: 0.25 of the frame's shorter side for nearly all boards."""
_LEAST_COVER: Final = 0.1
_LEAST_MEAN: Final = 0.3
"""Share of a quadrangle's sides at which there are edges: of the least, and of all on average."""
_SKEW: Final = 0.06
_STRETCH: Final = 0.06
"""How far a view may be from one of a stiff plate, as cosine of its right angle and as ratio of its lengths."""
_MOST: Final = 800
"""Quadrangles that are gone into."""


def hypotheses(
    lines: Lines,
    choices: tuple[tuple[FloatArray, FloatArray], ...],
    size_px: tuple[int, int],
    optics: Optics,
    *,
    mirrored: bool,
    least_area: float = LEAST_AREA,
) -> FloatArray:
    """Combine lines to views of an outline.

    Parameters
    ----------
    lines : Lines
    choices : tuple of (normals, offsets)
        From `four_lines`.
    size_px : tuple of int
    optics : Optics
        A focal length stated there makes fewer views possible.
    mirrored : bool
        Whether the view is of the rear.
    least_area : float
        Share of the frame that quadrangles cover at least.

    Returns
    -------
    ndarray, shape (n, 3, 3)
        Mappings from board mm to px of the undistorted frame.
    """
    quads = _quads(lines, _LEAST_APART * float(np.sqrt(least_area)) * min(size_px))
    corners = _crossings(lines.normals, lines.offsets, quads)
    sound = _sound(corners, size_px, least_area)
    quads, corners = quads[sound], corners[sound]
    cover = _cover(lines, quads, corners, size_px)
    good = np.flatnonzero((cover.min(axis=1) > _LEAST_COVER) & (cover.mean(axis=1) > _LEAST_MEAN))
    good = good[np.argsort(-cover[good].mean(axis=1), kind="stable")[:_MOST]]
    found = []
    for choice in choices:
        targets = _crossings(*choice, np.array([[0, 1, 2, 3]]))[0]
        matrices = _matrices(targets, corners[good], mirrored)
        found.append(matrices[is_stiff(matrices, size_px, optics)])
    return np.concatenate(found) if found else np.empty((0, 3, 3))


def _quads(lines: Lines, least_px: float) -> NDArray[np.intp]:
    """List pairs of pairs of lines: two that run one way and do not meet in view, two that run another."""
    count = len(lines.normals)
    i, j = np.triu_indices(count, 1)
    cosine = np.abs(np.einsum("ij,ij->i", lines.normals[i], lines.normals[j]))
    sign = np.sign(np.einsum("ij,ij->i", lines.normals[i], lines.normals[j]))
    apart = np.abs(
        (lines.offsets[i] - lines.normals[i] @ lines.centre)
        - sign * (lines.offsets[j] - lines.normals[j] @ lines.centre)
    )
    good = (cosine > 0.77) & (apart > least_px)
    i, j = i[good], j[good]
    middle = (
        lines.normals[i]
        + np.sign(np.einsum("ij,ij->i", lines.normals[i], lines.normals[j]))[:, None] * lines.normals[j]
    )
    middle /= np.linalg.norm(middle, axis=1)[:, None]
    a, b = np.triu_indices(len(i), 1)
    across = np.abs(np.einsum("ij,ij->i", middle[a], middle[b])) < 0.75
    a, b = a[across], b[across]
    return np.column_stack([i[a], j[a], i[b], j[b]])


def _crossings(normals: FloatArray, offsets: FloatArray, quads: NDArray[np.intp]) -> FloatArray:
    """Corners of quadrangles in order around: lines 0-2, 2-1, 1-3, 3-0 meet; shape (n, 4, 2)."""
    corners = np.empty((len(quads), 4, 2))
    for corner, (one, other) in enumerate(((0, 2), (2, 1), (1, 3), (3, 0))):
        n, m = normals[quads[:, one]], normals[quads[:, other]]
        d, e = offsets[quads[:, one]], offsets[quads[:, other]]
        cross = n[:, 0] * m[:, 1] - n[:, 1] * m[:, 0]
        cross = np.where(np.abs(cross) < 1e-9, 1e-9, cross)
        corners[:, corner, 0] = (d * m[:, 1] - e * n[:, 1]) / cross
        corners[:, corner, 1] = (n[:, 0] * e - m[:, 0] * d) / cross
    return corners


def _sound(corners: FloatArray, size_px: tuple[int, int], least_area: float) -> NDArray[np.bool_]:
    """Convex, not too small, not too far out of view."""
    size = np.array(size_px, np.float64)
    inside = np.all((corners > -_FAR_OUT * size) & (corners < (1.0 + _FAR_OUT) * size), axis=(1, 2))
    to_next = np.roll(corners, -1, axis=1) - corners
    after = np.roll(to_next, -1, axis=1)
    turn = to_next[..., 0] * after[..., 1] - to_next[..., 1] * after[..., 0]
    convex = np.all(turn > 0.0, axis=1) | np.all(turn < 0.0, axis=1)
    x, y = corners[..., 0], corners[..., 1]
    area = 0.5 * np.abs(np.sum(x * np.roll(y, -1, axis=1) - y * np.roll(x, -1, axis=1), axis=1))
    return np.asarray(inside & convex & (area > least_area * size.prod()))


def _cover(lines: Lines, quads: NDArray[np.intp], corners: FloatArray, size_px: tuple[int, int]) -> FloatArray:
    """Share of each side, as far as it is in view, at which its line has an edge; shape (n, 4)."""
    cover = np.empty((len(quads), 4))
    size = np.array(size_px, np.float64) - 1.0
    for side, (line, begin, end) in enumerate(((0, 3, 0), (1, 1, 2), (2, 0, 1), (3, 2, 3))):
        which = quads[:, line]
        along = lines.along[which]
        a, b = (np.clip(corners[:, c], 0.0, size) for c in (begin, end))
        p, q = (np.einsum("ij,ij->i", point - lines.centre, along) for point in (a, b))
        p, q = np.minimum(p, q), np.maximum(p, q)
        top = lines.present.shape[1] - 1
        first = np.clip((p - lines.first_px) / lines.step_px, 0, top)
        last = np.clip((q - lines.first_px) / lines.step_px, 0, top)
        there = lines.present[which, last.astype(np.intp)] - lines.present[which, first.astype(np.intp)]
        cover[:, side] = there / np.maximum(last - first, 4.0)
    return np.minimum(cover, 1.0)


def _matrices(targets: FloatArray, corners: FloatArray, mirrored: bool) -> FloatArray:
    """Map four crossings of outline lines onto the corners of quadrangles, in every way that keeps the order around."""
    turned = handedness(corners)
    # px has y down and mm has y up, so a front view turns the order around over, a rear view does not.
    wanted = handedness(targets[None])[0] * (1.0 if mirrored else -1.0)
    forward = turned == wanted
    ordered = np.where(forward[:, None, None], corners, corners[:, ::-1])
    return np.concatenate([through_four(targets, np.roll(ordered, shift, axis=1)) for shift in range(4)])


def handedness(corners: FloatArray) -> FloatArray:
    """Which way round corners run: 1 or -1 for each polygon of shape (n, k, 2)."""
    x, y = corners[..., 0], corners[..., 1]
    return np.asarray(np.sign(np.sum(x * np.roll(y, -1, axis=1) - y * np.roll(x, -1, axis=1), axis=1)))


def through_four(source: FloatArray, targets: FloatArray) -> FloatArray:
    """Homographies through four points each, shape (n, 3, 3): by way of the unit square (Heckbert, 1989)."""
    return _of_unit_square(targets) @ np.linalg.inv(_of_unit_square(source[None]))


def _of_unit_square(corners: FloatArray) -> FloatArray:
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = (corners[:, k].T for k in range(4))
    sx, sy = x0 - x1 + x2 - x3, y0 - y1 + y2 - y3
    dx1, dx2, dy1, dy2 = x1 - x2, x3 - x2, y1 - y2, y3 - y2
    area = dx1 * dy2 - dx2 * dy1
    area = np.where(np.abs(area) < 1e-12, 1e-12, area)
    g, h = (sx * dy2 - dx2 * sy) / area, (dx1 * sy - sx * dy1) / area
    rows = [x1 - x0 + g * x1, x3 - x0 + h * x3, x0, y1 - y0 + g * y1, y3 - y0 + h * y3, y0, g, h, np.ones_like(g)]
    return np.stack(rows, axis=1).reshape(-1, 3, 3)


def is_stiff(matrices: FloatArray, size_px: tuple[int, int], optics: Optics) -> NDArray[np.bool_]:
    """Keep mappings that a camera could have of a stiff plate: columns at right angles, of one length."""
    principal = np.array(optics.principal_px or ((size_px[0] - 1) / 2.0, (size_px[1] - 1) / 2.0))
    focals = (optics.focal_px,) if optics.focal_px else tuple(share * max(size_px) for share in FOCAL_SHARES)
    stiff = np.zeros(len(matrices), bool)
    for focal in focals:
        cosine, log_ratio = misfit(matrices, focal, principal)
        slack = 1.0 if optics.focal_px else 1.5
        stiff |= (np.abs(cosine) < slack * _SKEW) & (np.abs(log_ratio) < slack * _STRETCH)
    return stiff
