"""From a pixel's colour to its place on the bar's path: a search of the nearest sample, then projection."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.path import COARSE, SAMPLES, ColorPath
from irspot.opencv import load_cv2

F32 = NDArray[np.float32]
U8 = NDArray[np.uint8]

WEIGHTS: Final = (1.0, 0.4, 0.16, 0.064, 0.0256, 0.01, 0.004)
"""Weights of chroma against luma that occur, by level."""

_INNER_BITS: Final = 6
_INNER: Final = (1 << _INNER_BITS) - 1
_AT_ONCE: Final = 256
_TRUST: Final = 24.0
"""Samples that projection may move from where the search began, or from where the last projection ended."""


def places_of(colors: U8, level: U8, path: ColorPath) -> F32:
    """Search the place on the path nearest to each colour.

    Only colours that differ are searched: a picture of many pixels has few, and each can be held against the whole
    path. A rougher search ends on the wrong side of corners, where the path comes back near itself.

    Parameters
    ----------
    colors : ndarray of uint8, shape (n, 3)
    level : ndarray of uint8, shape (n,)
        Which of `WEIGHTS` the second and third channel have.
    path : ColorPath

    Returns
    -------
    ndarray of float32, shape (n,)
        Positions in samples, within 0 to SAMPLES - 1.
    """
    different, which = _different(colors, level)
    planes = tuple(np.ascontiguousarray(different[:, channel], np.float32) for channel in range(3))
    weight = np.array(WEIGHTS, np.float32)[different[:, 3]]
    start = nearest_sample(different[:, :3].astype(np.float32), weight, path)
    return np.asarray(np.take(projected((planes[0], planes[1], planes[2]), weight, start, path), which))


def _different(colors: U8, level: U8) -> tuple[U8, NDArray[np.intp]]:
    """List the colours (with their level) that occur, shape (k, 4), and which of them each pixel has."""
    cv2 = load_cv2()
    shape = (len(colors), 1)
    key = np.empty((*shape, 4), np.uint8)
    # In memory the lowest byte of a number comes first.
    sources = [np.ascontiguousarray(colors).reshape(*shape, 3), np.ascontiguousarray(level).reshape(shape)]
    cv2.mixChannels(sources, [key], [2, 0, 1, 1, 0, 2, 3, 3])
    number = key.view("<u4").ravel()
    # Two tables one after the other stay small where one for all 2^27 possible keys would not.
    blocks, block = _occurring((number >> np.uint32(_INNER_BITS)).astype(np.intp))
    inner, which = _occurring((block << _INNER_BITS) | (number & np.uint32(_INNER)).astype(np.intp))
    found = (blocks[inner >> _INNER_BITS] << _INNER_BITS) | (inner & _INNER)
    return np.stack([found >> 16 & 255, found >> 8 & 255, found & 255, found >> 24], axis=1).astype(np.uint8), which


def _occurring(number: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """List the numbers that occur, rising, and which of them each element is."""
    seen = np.zeros(int(number.max(initial=0)) + 1, bool)
    seen[number] = True
    found = np.flatnonzero(seen)
    order = np.empty(len(seen), np.int32)
    order[found] = np.arange(len(found), dtype=np.int32)
    return found, np.take(order, number).astype(np.intp)


def nearest_sample(colors: F32, weight: F32, path: ColorPath) -> NDArray[np.intp]:
    """Find the nearest of the path's coarse samples by trying all.

    Parameters
    ----------
    colors : ndarray of float32, shape (n, 3)
    weight : ndarray of float32, shape (n,)
        Of the second and third channel.
    path : ColorPath

    Returns
    -------
    ndarray of intp, shape (n,)
        In samples.
    """
    coarse = path.colors[::COARSE]
    # |x - c|^2 in weighted channels is linear in these five terms of c; |x|^2 is common to all samples.
    terms = np.stack([coarse[:, 0], coarse[:, 1], coarse[:, 2], coarse[:, 0] ** 2, np.sum(coarse[:, 1:] ** 2, axis=1)])
    factors = np.empty((len(colors), 5), np.float32)
    factors[:, 0] = -2.0 * colors[:, 0]
    factors[:, 1:3] = -2.0 * weight[:, None] * colors[:, 1:]
    factors[:, 3] = 1.0
    factors[:, 4] = weight
    found = np.empty(len(colors), np.intp)
    # In parts so small that the product stays on one thread: handing it to several costs more than it saves.
    for begin in range(0, len(colors), _AT_ONCE):
        part = slice(begin, begin + _AT_ONCE)
        found[part] = (factors[part] @ terms).argmin(axis=1)
    return found * COARSE


def projected(planes: tuple[F32, F32, F32], weight: F32 | float, start: NDArray[np.intp], path: ColorPath) -> F32:
    """Project colours onto the path near where the search ended, twice, so that the tangent is taken where it counts.

    Parameters
    ----------
    planes : tuple of ndarray of float32, shape (n,)
    weight : ndarray of float32, shape (n,), or float
        Of the second and third plane.
    start : ndarray of intp, shape (n,)
    path : ColorPath

    Returns
    -------
    ndarray of float32, shape (n,)
        Positions in samples, within 0 to SAMPLES - 1.
    """
    columns = np.ascontiguousarray(np.concatenate([path.colors, path.slopes], axis=1).T)
    at, nearest = start.astype(np.float32), start
    base = at
    for _ in range(2):
        move = _foot(planes, weight, nearest, columns)
        move += base
        move -= at
        np.clip(move, -_TRUST, _TRUST, out=move)
        at = np.clip(at + move, np.float32(0.0), np.float32(SAMPLES - 1.0))
        base = np.rint(at)
        nearest = base.astype(np.intp)
    return at


def _foot(planes: tuple[F32, F32, F32], weight: F32 | float, nearest: NDArray[np.intp], columns: F32) -> F32:
    """How far the foot of the perpendicular onto the tangent lies from the nearest samples."""
    slope = np.take(columns[3], nearest)
    along = slope * (planes[0] - np.take(columns[0], nearest))
    length = slope * slope
    for channel in (1, 2):
        slope = np.take(columns[3 + channel], nearest)
        weighted = slope * np.float32(weight) if isinstance(weight, float) else slope * weight
        along += weighted * (planes[channel] - np.take(columns[channel], nearest))
        length += weighted * slope
    length += np.float32(1e-6)
    along /= length
    return along


def distance(planes: tuple[F32, F32, F32], at: F32, path: ColorPath) -> tuple[F32, F32]:
    """How far colours lie from their places on the path.

    Parameters
    ----------
    planes : tuple of ndarray of float32, shape (n,)
    at : ndarray of float32, shape (n,)
        In samples.
    path : ColorPath

    Returns
    -------
    first : ndarray of float32, shape (n,)
        Difference in the first channel (luma, where the path is of luma and chroma).
    others : ndarray of float32, shape (n,)
        Distance in the second and third channel.
    """
    nearest = np.rint(at).astype(np.intp)
    off = [planes[channel] - np.take(np.ascontiguousarray(path.colors[:, channel]), nearest) for channel in range(3)]
    return off[0], np.sqrt(off[1] ** 2 + off[2] ** 2)
