"""Where a frame has edges, and which way they run: the evidence that outlines are sought in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]

WAYS: Final = 12
"""Directions, over half a turn, that edges are told apart by."""
_SEARCH_PX: Final = 400
"""Frames are searched at about this length of their longer side."""
_BESIDE_PX: Final = 5
"""Side of the square around a gap that counts as its neighbours."""
_SMALL_PX: Final = 240
_SIGMA_PX: Final = 1.0
_SIGMA_BLURS: Final = 0.6
"""Edges are sought with a Gaussian of so many standard deviations of the blur, or of `_SIGMA_PX`."""
_AROUND_PX: Final = 21
_AROUND_WIDTHS: Final = 6.0
"""Side of the square whose mean gradient an edge has to stand out of: px, or widths of an edge."""
_NOISES: Final = 4.0
_STANDS_OUT: Final = 1.32
_DIFFERENCE_PX2: Final = 0.3
_INTERPOLATION_PX2: Final = 0.23
"""Variances of Gaussians that smooth noise as the difference's kernel and cubic interpolation do, in search px²."""
_ROW: Final = 1024
_PLENTY: Final = 100_000
"""Pixels from which on every second row and column says enough about noise."""
_LAPLACIAN_NORM: Final = 6.0
"""Root of the sum of squares of the kernel that noise is estimated with (Immerkær, 1996: 1 -2 1, -2 4 -2, 1 -2 1)."""


@dataclass(frozen=True, slots=True, eq=False)
class EdgeMap:
    """Edges of a frame, reduced for the search.

    Parameters
    ----------
    scale : float
        Pixels of the frame a side of one pixel here.
    strength : ndarray of float32, shape (rows, columns)
        From 0 to 1: how far the gradient stands out of noise and of what lies around.
    ways : ndarray of float32, shape (WAYS, rows, columns)
        The same by direction of the gradient, each spread over its neighbours, for reading along an outline.
    points_px : ndarray, shape (n, 2)
        Crests of the gradient, in pixels of the frame.
    normals : ndarray, shape (n, 2)
        Unit vectors along their gradients.
    weights : ndarray, shape (n,)
        Their strengths.
    """

    scale: float
    strength: F32
    ways: F32
    points_px: FloatArray
    normals: FloatArray
    weights: FloatArray


def without_gaps(degc: F32) -> F32:
    """Fill pixels without a number by the mean of their neighbours, or by the median of all where they have none.

    A frame of gaps alone stays empty.
    """
    known = np.isfinite(degc)
    if known.all() or not known.any():
        return degc
    cv2 = load_cv2()
    share = cv2.blur(known.astype(np.float32), (_BESIDE_PX, _BESIDE_PX))
    mean = cv2.blur(np.where(known, degc, np.float32(0.0)), (_BESIDE_PX, _BESIDE_PX)) / np.maximum(share, 1e-6)
    beside = np.where(share > 0.5 / _BESIDE_PX**2, mean, np.float32(np.median(degc[known])))
    return np.where(known, degc, beside.astype(np.float32))


def noise_of(degc: F32) -> float:
    """Estimate the noise of one pixel, K, from what no slope and no curve explains.

    The median rather than the mean of what is left keeps edges out (after J. Immerkær, "Fast noise variance
    estimation", Computer Vision and Image Understanding 64, 1996).
    """
    kernel = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], np.float32)
    left = np.abs(load_cv2().filter2D(degc, -1, kernel)[1:-1, 1:-1])
    left = left[::2, ::2] if left.size > _PLENTY else left
    return float(np.median(left)) * 1.4826 / _LAPLACIAN_NORM if left.size else 0.0


def edge_map(degc: F32, noise_k: float, blur_px: float = 0.0) -> EdgeMap:
    """Find edges.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Without gaps.
    noise_k : float
        Standard deviation of one pixel.
    blur_px : float
        Standard deviation of the point spread, px of the frame: wide edges are sought with a wide filter.

    Returns
    -------
    EdgeMap
    """
    cv2 = load_cv2()
    small, scale = _at_search_size(degc)
    sigma = max(_SIGMA_PX, _SIGMA_BLURS * blur_px / scale)
    smooth = cv2.GaussianBlur(small, (0, 0), sigma)
    gx = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3, scale=0.125)
    gy = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3, scale=0.125)
    size = cv2.magnitude(gx, gy)
    width = float(np.hypot(sigma, blur_px / scale))
    strength = _strength(size, _gradient_noise(noise_k, sigma, scale), width)
    return EdgeMap(scale, strength, _by_way(strength, gx, gy), *_crests(strength, size, gx, gy, scale))


def _at_search_size(degc: F32) -> tuple[F32, float]:
    """Average large frames, and interpolate small ones, to about the size they are searched at."""
    cv2 = load_cv2()
    if max(degc.shape) < _SMALL_PX:
        size = (2 * degc.shape[1], 2 * degc.shape[0])
        return np.asarray(cv2.resize(degc, size, interpolation=cv2.INTER_CUBIC)), 0.5
    scale = max(1, round(max(degc.shape) / _SEARCH_PX))
    rows, columns = degc.shape[0] // scale, degc.shape[1] // scale
    whole = degc[: rows * scale, : columns * scale]
    return np.asarray(cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA)), float(scale)


def _gradient_noise(noise_k: float, sigma: float, scale: float) -> float:
    """Noise of the gradient's components after smoothing by a Gaussian of standard deviation s: noise / (√(8 π) s²).

    Noise is the frame's, averaged over scale² pixels, or spread by interpolation; the difference taken, and the
    interpolation, smooth it a little more.
    """
    more = _DIFFERENCE_PX2 + (_INTERPOLATION_PX2 if scale < 1.0 else 0.0)
    return float(noise_k / scale / (np.sqrt(8.0 * np.pi) * (sigma**2 + more)))


def _strength(size: F32, noise: float, width: float) -> F32:
    cv2 = load_cv2()
    side = max(_AROUND_PX, 2 * round(_AROUND_WIDTHS * width / 2.0) + 1)
    # The square of the mean root: a hot part nearby, whose gradients are large and few, hides no edge.
    around = cv2.blur(cv2.sqrt(size), (side, side)) ** 2
    floor = np.float32(_STANDS_OUT) * around + np.float32(_NOISES * noise)
    ratio = size / np.maximum(floor, np.float32(1e-9))
    return np.asarray(np.clip(ratio - np.float32(0.6), 0.0, 1.4) / np.float32(1.4), np.float32)


def _by_way(strength: F32, gx: F32, gy: F32) -> F32:
    """Spread strength over the nearest directions and over neighbouring pixels."""
    cv2 = load_cv2()
    some = np.flatnonzero(strength > 0.0)
    turn = np.arctan2(gy.ravel()[some], gx.ravel()[some]) * np.float32(WAYS / np.pi)
    nearest, own = np.rint(turn), strength.ravel()[some]
    ways = np.zeros((WAYS, strength.size), np.float32)
    for beside in (-2, -1, 0, 1, 2):
        share = np.clip(np.float32(1.6) - np.abs(turn - nearest - np.float32(beside)), 0.0, 1.0)
        ways[(nearest.astype(np.intp) + beside) % WAYS, some] = own * share
    kernel = np.ones((3, 3), np.uint8)
    return np.stack([cv2.dilate(way.reshape(strength.shape), kernel) for way in ways])


def _crests(strength: F32, size: F32, gx: F32, gy: F32, scale: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Pixels whose gradient is largest along itself, placed to a part of a pixel."""
    rows, columns = np.nonzero(strength[1:-1, 1:-1] > 0.15)
    rows, columns = rows + 1, columns + 1
    length = np.maximum(size[rows, columns], np.float32(1e-12))
    nx, ny = gx[rows, columns] / length, gy[rows, columns] / length
    before, here, after = (read(size, columns + k * nx, rows + k * ny) for k in (-1.0, 0.0, 1.0))
    crest = (here >= before) & (here > after)
    bend = before - 2.0 * here + after
    shift = np.where(bend < 0.0, 0.5 * (before - after) / np.minimum(bend, -1e-12), 0.0)[crest]
    normals = np.column_stack([nx, ny]).astype(np.float64)[crest]
    places = np.column_stack([columns, rows]).astype(np.float64)[crest] + np.clip(shift, -0.5, 0.5)[:, None] * normals
    return (places + 0.5) * scale - 0.5, normals, strength[rows, columns][crest].astype(np.float64)


def read(plane: F32, x: NDArray[np.floating[Any]], y: NDArray[np.floating[Any]]) -> FloatArray:
    """Read a plane between its pixels, linearly; beyond its edge, that edge.

    Parameters
    ----------
    plane : ndarray of float32, shape (rows, columns)
    x, y : ndarray, shape (n,)
        In pixels of the plane.
    """
    cv2 = load_cv2()
    # OpenCV takes no more than 32,767 places in a row.
    room = -len(x) % _ROW
    maps = [np.pad(places, (0, room)).astype(np.float32).reshape(-1, _ROW) for places in (x, y)]
    if not maps[0].size:
        return np.empty(0)
    found = cv2.remap(plane, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(found.ravel()[: len(x)], np.float64)
