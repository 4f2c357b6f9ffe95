"""Places that agree with all a JPEG stored: luma within its quantisation, and chroma mixed as the coding mixes it.

Where four pixels share one stored chroma, its copies say little of each pixel, and luma rings at edges. But colours on
a path are known from their places: places as they are give the chroma that would have been stored, and the luma. What
the file says otherwise, by more than quantisation leaves open, corrects the places, in a few rounds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.color_wish import Box
from irspot.decoding.branches import luma_tells
from irspot.decoding.calm import blurred, surface
from irspot.decoding.jpeg import Chroma
from irspot.decoding.nearest import F32, nearest_sample, nearest_samples, projected
from irspot.decoding.overlays import pieces
from irspot.decoding.path import SAMPLES, ColorPath
from irspot.decoding.picture import ColorPicture
from irspot.decoding.quantised import left_open
from irspot.opencv import load_cv2

Bool = NDArray[np.bool_]
Planes = tuple[F32, F32, F32]

_SMOOTHINGS: Final = (blurred, surface)
_SMOOTHINGS_DOUBTFUL: Final = (surface, surface)
"""How places are smoothed, one round for each. Ringing is told from heat by blurring more than one would dare without
knowing what quantisation leaves open: that alone is changed. Where luma does not tell places by itself, luma that is
expected of blurred ones is too far off."""
_LEAST_RANGE: Final = 27
"""Range of chroma nearby from which it may have been mixed."""
_LEAST_LUMA: Final = 24
_BLOCK_PX: Final = 9
"""Range of luma in the surrounding block from which ringing counts."""
_GAIN: Final = 2.0
_LEAST_WEIGHT: Final = 0.06
"""One pixel changes what four share by a quarter: so many times the difference would have to be its own, if the others
were right; its weight against luma is the square of a quarter. Half of it settles in two rounds."""
_TILE_PX: Final = 16
"""Side of the squares that are worked on; a multiple of the 16 px that blocks of shared chroma cover."""
_MOST_WINDOWS: Final = 40
_LUMA_MISS: Final = 2.0
_PRIOR_SHARE: Final = 0.15
_PRIOR_LEAST: Final = 0.02 * SAMPLES
"""How far places may lie from a smooth surface through their neighbours when branches of the path are chosen between:
against the range of these, and at least, in samples."""


def near_edges(picture: ColorPicture, nearby: NDArray[np.uint8], skip: Sequence[Box]) -> Bool:
    """Mark pixels whose chroma may have been mixed, or near which luma may ring.

    Parameters
    ----------
    picture : ColorPicture
    nearby : ndarray of uint8, shape (rows, columns)
        Range of chroma around each pixel.
    skip : sequence of box
        What holds no picture.
    """
    assert picture.ycc is not None
    cv2 = load_cv2()
    luma = np.ascontiguousarray(picture.ycc[..., 0])
    span = cv2.morphologyEx(luma, cv2.MORPH_GRADIENT, np.ones((_BLOCK_PX, _BLOCK_PX), np.uint8))
    active = np.asarray((nearby > _LEAST_RANGE) | (span > _LEAST_LUMA))
    for x0, y0, x1, y1 in skip:
        active[max(0, y0) : max(0, y1), max(0, x0) : max(0, x1)] = False
    return active


def unmixed(
    at: F32, planes: Planes, weight: F32, noise: F32, active: Bool, picture: ColorPicture, path: ColorPath
) -> F32:
    """Correct places at edges by what the file stored.

    Parameters
    ----------
    at : ndarray of float32, shape (rows, columns)
        Positions in samples.
    planes : tuple of ndarray of float32, shape (rows * columns,)
        Luma and chroma.
    weight, noise : ndarray of float32, shape (rows * columns,)
        Weight of chroma against luma, and standard deviation of luma.
    active : ndarray of bool, shape (rows, columns)
        Pixels that may change.
    picture : ColorPicture
    path : ColorPath

    Returns
    -------
    ndarray of float32, shape (rows, columns)
    """
    if picture.chroma == "444" or not (picture.luma_steps and picture.chroma_steps):
        return at
    new = at.copy()
    seen = [plane.reshape(at.shape) for plane in planes]
    of_pixel = weight.reshape(at.shape), noise.reshape(at.shape)
    for window, inside in _windows(active):
        part = _Part(
            (seen[0][window], seen[1][window], seen[2][window]),
            np.flatnonzero(inside),
            np.maximum(of_pixel[0][window][inside], np.float32(_LEAST_WEIGHT)),
            of_pixel[1][window][inside],
        )
        new[window][inside] = _corrected(at[window], part, picture, path)[inside]
    return new


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """A window of a picture: its planes, and of the pixels that may change their indices, weights and noises."""

    planes: Planes
    index: NDArray[np.intp]
    weight: F32
    noise: F32


def _windows(active: Bool) -> list[tuple[tuple[slice, slice], Bool]]:
    """Cut out the boxes around connected tiles in which something happens, each with what happens in these."""
    cv2 = load_cv2()
    rows, columns = active.shape
    below, right = -rows % _TILE_PX, -columns % _TILE_PX
    padded = np.pad(active, ((0, below), (0, right)))
    tiles = padded.reshape(padded.shape[0] // _TILE_PX, _TILE_PX, -1, _TILE_PX).max(axis=(1, 3))
    labels, stats = pieces(np.asarray(tiles))
    if len(stats) - 1 > _MOST_WINDOWS:
        return [((slice(0, rows), slice(0, columns)), active)]
    own = cv2.resize(labels.astype(np.float32), padded.shape[::-1], interpolation=cv2.INTER_NEAREST)[:rows, :columns]
    found = []
    for number in range(1, len(stats)):
        x, y, width, height = (int(v) * _TILE_PX for v in stats[number, :4])
        window = (slice(y, min(y + height, rows)), slice(x, min(x + width, columns)))
        found.append((window, active[window] & (own[window] == number)))
    return found


def _corrected(at: F32, part: _Part, picture: ColorPicture, path: ColorPath) -> F32:
    stored = [_stored(plane, picture.chroma) for plane in part.planes[1:]]
    tables = [np.ascontiguousarray(path.colors[:, channel]) for channel in range(3)]
    at = at.copy()
    tells = luma_tells(path)
    for number, smooth in enumerate(_SMOOTHINGS if tells else _SMOOTHINGS_DOUBTFUL):
        nearest = np.rint(np.clip(smooth(at), 0.0, SAMPLES - 1.0)).astype(np.intp)
        expected = [np.take(table, nearest) for table in tables]
        luma = part.planes[0] + left_open(expected[0] - part.planes[0], picture.luma_steps)
        differs = [_differs(e, s, picture) for e, s in zip(expected[1:], stored, strict=True)]
        own = [_own(e, _copied(d, at.shape), part) for e, d in zip(expected[1:], differs, strict=True)]
        colors = (luma.ravel()[part.index], own[0], own[1])
        start = nearest_samples(at.ravel()[part.index])
        if not tells:
            # A branch chosen once that luma agrees with is the right one as a rule.
            miss = np.abs(colors[0] - np.take(tables[0], start))
            astray = np.flatnonzero((miss > _LUMA_MISS) | (number == 0))
            start[astray] = _branch(colors, at, part, astray, path)
        at.ravel()[part.index] = projected(colors, part.weight, start, path, times=1 if tells and number == 0 else 2)
    return at


def _differs(expected: F32, stored: F32, picture: ColorPicture) -> F32:
    """How far the stored chroma lies beyond what quantisation makes of the expected one."""
    change = stored - _shared(expected, picture.chroma)
    return np.asarray(change - left_open(change, picture.chroma_steps))


def _own(expected: F32, differs: F32, part: _Part) -> F32:
    """Chroma of the pixels that may change: the whole difference where it is trusted, more where little is."""
    gain = np.float32(1.0) + np.float32((_GAIN - 1.0) * _LEAST_WEIGHT) / part.weight
    return np.asarray(expected.ravel()[part.index] + gain * differs.ravel()[part.index])


def _branch(colors: Planes, at: F32, part: _Part, some: NDArray[np.intp], path: ColorPath) -> NDArray[np.intp]:
    """Search the places of some colours roughly; between branches of the path, what lies around helps to choose."""
    cv2 = load_cv2()
    where = part.index[some]
    middle = cv2.medianBlur(at, 3)
    width = cv2.morphologyEx(middle, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)).ravel()[where]
    smooth = cv2.GaussianBlur(middle, (5, 5), 0.8).ravel()[where]
    pull = np.square(part.noise[some] / (np.float32(_PRIOR_SHARE) * width + np.float32(_PRIOR_LEAST)))
    color = np.stack([channel[some] for channel in colors], axis=1)
    return nearest_sample(color, part.weight[some], path, (smooth, pull))


def _shared(plane: F32, chroma: Chroma) -> F32:
    """Mean of the pixels that share a stored value, as encoders take it."""
    cv2 = load_cv2()
    rows, columns = plane.shape
    down = 1 if chroma == "422" else 2
    padded = cv2.copyMakeBorder(plane, 0, rows % down, 0, columns % 2, cv2.BORDER_REPLICATE)
    size = (padded.shape[1] // 2, padded.shape[0] // down)
    return np.asarray(cv2.resize(padded, size, interpolation=cv2.INTER_AREA))


def _copied(values: F32, shape: tuple[int, int]) -> F32:
    """Give each pixel the value it shares."""
    down = 1 if values.shape[0] == shape[0] else 2
    return np.asarray(np.repeat(np.repeat(values, down, axis=0), 2, axis=1)[: shape[0], : shape[1]])


def _stored(shown: F32, chroma: Chroma) -> F32:
    """Recover stored values from the plane that a decoder interpolated from them linearly."""
    cv2 = load_cv2()
    target = _shared(shown, chroma)
    stored = target
    down = 1 if chroma == "422" else 2
    size = (target.shape[1] * 2, target.shape[0] * down)
    for _ in range(3):
        again = np.asarray(cv2.resize(stored, size, interpolation=cv2.INTER_LINEAR))
        stored = stored + (target - _shared(again, chroma))
    return stored
