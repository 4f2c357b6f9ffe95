"""Places read wrongly at edges, where blurred chroma mixes two colours into a third one of the path: put right.

Luma stays sharp, but on a path whose luma is not monotone several places have the same luma, and mixed chroma may point
to a wrong one (grey between red and cyan, for one). Such readings stand out of everything around them; where a place
within the range of the surroundings explains the luma as well, it is the right one.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.nearest import F32, nearest_sample, projected
from irspot.decoding.path import COARSE, SAMPLES, ColorPath
from irspot.opencv import load_cv2

Bool = NDArray[np.bool_]

_MARGIN: Final = 0.015 * SAMPLES
"""How far beyond its surroundings a reading may lie, in samples: tops of small parts do."""
_LEAST_RANGE: Final = 15
"""Range of chroma nearby from which it may have been mixed."""
_LUMA_MISS: Final = 3.0
_LUMA_NOISES: Final = 1.2
_LUMA_LOSS: Final = 2.0
"""Luma has to be met within the first, or so many times its noise, or not worse than before by more than the last."""
_ROUNDS: Final = 2
_PARTS: Final = np.float32(32.0)
_MIXED_RANGE: Final = 60
_FAR_OUT: Final = 0.1 * SAMPLES
"""Range of chroma nearby and distance, in samples, beyond the margin above, from which a reading that nothing supports
is left out."""
_LUMA_STEP: Final = 32
_LUMA_TURN: Final = 3.0
"""Samples apart, and change of luma against the run of the path, up to which it is taken as noise."""


def back_in_range(
    at: F32, planes: tuple[F32, F32, F32], weight: F32, nearby: NDArray[np.uint8], noise: F32, path: ColorPath
) -> tuple[F32, Bool]:
    """Move readings that stand out at edges of chroma back into the range of their surroundings, if luma agrees.

    Parameters
    ----------
    at : ndarray of float32, shape (rows, columns)
        Positions in samples.
    planes : tuple of ndarray of float32, shape (rows * columns,)
        Luma and chroma.
    weight : ndarray of float32, shape (rows * columns,)
        Of chroma.
    nearby : ndarray of uint8, shape (rows, columns)
        Range of chroma around each pixel.
    noise : ndarray of float32, shape (rows, columns)
        Of luma, in blocks with edges.
    path : ColorPath

    Returns
    -------
    at : ndarray of float32, shape (rows, columns)
    undecided : ndarray of bool, shape (rows, columns)
        Readings that still stand far out, on a path whose luma does not tell a place by itself.
    """
    cv2 = load_cv2()
    kernel = np.ones((3, 3), np.uint8)
    edge = nearby > _LEAST_RANGE
    fine, at = _in_parts(at), at.copy()
    for _ in range(_ROUNDS):
        middle = cv2.medianBlur(fine, 5)
        high, low = cv2.dilate(middle, kernel), cv2.erode(middle, kernel)
        out = np.flatnonzero(_outside(fine, low, high, _MARGIN) & edge)
        if not len(out):
            break
        colors = (planes[0][out], planes[1][out], planes[2][out])
        limits = (low.ravel()[out] / _PARTS - np.float32(_MARGIN), high.ravel()[out] / _PARTS + np.float32(_MARGIN))
        new = _placed_between(colors, weight[out], *limits, path)
        before, after = (_luma_miss(colors[0], a, path) for a in (at.ravel()[out], new))
        room = np.maximum(np.float32(_LUMA_MISS), np.float32(_LUMA_NOISES) * noise.ravel()[out])
        fits = after <= np.maximum(room, before + np.float32(_LUMA_LOSS))
        at.ravel()[out[fits]] = new[fits]
        fine.ravel()[out[fits]] = _in_parts(new[fits])
    if luma_tells(path):
        return at, np.zeros(at.shape, bool)
    return at, (nearby > _MIXED_RANGE) & _outside(fine, low, high, _MARGIN + _FAR_OUT)


def _in_parts(at: F32) -> NDArray[np.uint16]:
    """Count positions in parts of a sample, as whole numbers, which medians are found of in half the time."""
    return np.asarray(at * _PARTS + np.float32(0.5)).astype(np.uint16)


def _outside(fine: NDArray[np.uint16], low: NDArray[np.uint16], high: NDArray[np.uint16], margin: float) -> Bool:
    """Mark positions beyond a range, by more than a margin in samples."""
    cv2 = load_cv2()
    parts = round(margin * float(_PARTS))
    return np.asarray((fine > cv2.add(high, parts)) | (fine < cv2.subtract(low, parts)))


def luma_tells(path: ColorPath) -> bool:
    """Say whether luma only rises or only falls along a path, and so tells a place where chroma does not."""
    change = np.diff(path.luma[::_LUMA_STEP])
    return bool((change > -_LUMA_TURN).all() or (change < _LUMA_TURN).all())


def _luma_miss(luma: F32, at: F32, path: ColorPath) -> F32:
    return np.asarray(np.abs(luma - path.colors[np.rint(at).astype(np.intp), 0]))


def _placed_between(colors: tuple[F32, F32, F32], weight: F32, low: F32, high: F32, path: ColorPath) -> F32:
    # Half a coarse step of leeway, so that a narrow range is never empty.
    leeway = low - np.float32(COARSE), high + np.float32(COARSE)
    start = nearest_sample(np.stack(colors, axis=1), weight, path, within=leeway)
    limits = np.maximum(low, np.float32(0.0)), np.minimum(high, np.float32(SAMPLES - 1.0))
    return np.asarray(np.clip(projected(colors, weight, start, path), *limits), np.float32)
