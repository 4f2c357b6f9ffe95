"""From a pixel's colour to its place on the bar's path: a search of the nearest sample, then projection."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.path import COARSE, SAMPLES, ColorPath
from irspot.decoding.place_memory import PlaceMemory
from irspot.decoding.strips import in_strips
from irspot.opencv import load_cv2

F32 = NDArray[np.float32]
U8 = NDArray[np.uint8]

WEIGHTS: Final = (1.0, 0.4, 0.16, 0.064, 0.0256, 0.01, 0.004)
"""Weights of chroma against luma that occur, by level."""

_AT_ONCE: Final = 192
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
    keys = _keys(colors, level)
    remembered = _memory_of(path).places(keys)
    if remembered is not None:
        return remembered
    different, which = np.unique(keys, return_inverse=True)
    return np.asarray(np.take(_searched(different.astype(np.intp), path), which))


def _keys(colors: U8, level: U8) -> NDArray[np.uint32]:
    """Number colours and levels."""
    shape = (len(colors), 1)
    key = np.empty((*shape, 4), np.uint8)
    # In memory the lowest byte of a number comes first.
    sources = [np.ascontiguousarray(colors).reshape(*shape, 3), np.ascontiguousarray(level).reshape(shape)]
    load_cv2().mixChannels(sources, [key], [2, 0, 1, 1, 0, 2, 3, 3])
    return np.asarray(key.view("<u4").ravel(), np.uint32)


@lru_cache(maxsize=2)
def _memory_of(path: ColorPath) -> PlaceMemory:
    return PlaceMemory(len(WEIGHTS) << 24, lambda keys: _searched(keys, path))


def _searched(keys: NDArray[np.intp], path: ColorPath) -> F32:
    """Search the places of colours, each different from the others."""
    channels = [np.asarray(keys >> shift & 255, np.float32) for shift in (16, 8, 0)]
    weight = np.array(WEIGHTS, np.float32)[keys >> 24]
    start = nearest_sample(np.stack(channels, axis=1), weight, path)
    return projected((channels[0], channels[1], channels[2]), weight, start, path)


def nearest_sample(
    colors: F32,
    weight: F32,
    path: ColorPath,
    prior: tuple[F32, F32] | None = None,
    within: tuple[F32, F32] | None = None,
) -> NDArray[np.intp]:
    """Find the nearest of the path's coarse samples by trying all.

    Parameters
    ----------
    colors : ndarray of float32, shape (n, 3)
    weight : ndarray of float32, shape (n,)
        Of the second and third channel.
    path : ColorPath
    prior : tuple of ndarray of float32, shape (n,), optional
        Where the place is expected, in samples, and the weight of its distance from there.
    within : tuple of ndarray of float32, shape (n,), optional
        Lowest and highest place, in samples.

    Returns
    -------
    ndarray of intp, shape (n,)
        In samples.
    """
    # What is expected need not be met to the sample, so that half of them do.
    apart = COARSE if prior is None else 2 * COARSE
    coarse, position = path.colors[::apart], np.arange(0, SAMPLES, apart, dtype=np.float32)
    # |x - c|^2 in weighted channels is linear in these terms of c; |x|^2 is common to all samples.
    terms = [coarse[:, 0], coarse[:, 1], coarse[:, 2], coarse[:, 0] ** 2, np.sum(coarse[:, 1:] ** 2, axis=1)]
    factors = np.empty((5 if prior is None else 7, len(colors)), np.float32)
    factors[:3] = np.float32(-2.0) * colors.T
    factors[1:3] *= weight
    factors[3] = 1.0
    factors[4] = weight
    if prior is not None:
        place = position / np.float32(SAMPLES)
        terms += [place, place * place]
        factors[6] = prior[1] * np.float32(SAMPLES**2)
        factors[5] = -2.0 * factors[6] * prior[0] / np.float32(SAMPLES)
    table = np.stack(terms)
    found = np.empty(len(colors), np.intp)
    # In parts so small that the product stays on one thread: handing it to several costs more than it saves.
    for begin in range(0, len(colors), _AT_ONCE):
        part = slice(begin, begin + _AT_ONCE)
        square = factors[:, part].T @ table
        if within is not None:
            square[(position < within[0][part, None]) | (position > within[1][part, None])] = np.inf
        square.argmin(axis=1, out=found[part])
    return found * apart


def projected(
    planes: tuple[F32, F32, F32], weight: F32 | float, start: NDArray[np.intp], path: ColorPath, *, times: int = 2
) -> F32:
    """Project colours onto the path near where the search ended, twice, so that the tangent is taken where it counts.

    Parameters
    ----------
    planes : tuple of ndarray of float32, shape (n,)
    weight : ndarray of float32, shape (n,), or float
        Of the second and third plane.
    start : ndarray of intp, shape (n,)
    path : ColorPath
    times : int
        Once does where the result is only the beginning of another search.

    Returns
    -------
    ndarray of float32, shape (n,)
        Positions in samples, within 0 to SAMPLES - 1.
    """
    columns = np.ascontiguousarray(np.concatenate([path.colors, path.slopes], axis=1).T)
    at, nearest = start.astype(np.float32), start
    base = at
    for _ in range(times):
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
    return np.asarray(along)


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
    tables = np.ascontiguousarray(path.colors.T)
    first, others = np.empty(at.size, np.float32), np.empty(at.size, np.float32)

    def miss_of(strip: slice) -> None:
        nearest = nearest_samples(at[strip])
        np.subtract(planes[0][strip], np.take(tables[0], nearest), out=first[strip])
        blue, red = planes[1][strip] - np.take(tables[1], nearest), planes[2][strip] - np.take(tables[2], nearest)
        blue *= blue
        red *= red
        blue += red
        np.sqrt(blue, out=others[strip])

    in_strips(miss_of, at.size)
    return first, others


def nearest_samples(at: F32) -> NDArray[np.intp]:
    """Round positions to samples."""
    return np.rint(at).astype(np.intp)


def taken(table: F32, at: F32) -> F32:
    """Give what a table has for the samples nearest to positions of any shape."""
    place, found = at.ravel(), np.empty(at.size, np.float32)

    def take(strip: slice) -> None:
        found[strip] = np.take(table, nearest_samples(place[strip]))

    in_strips(take, at.size)
    return found.reshape(at.shape)
