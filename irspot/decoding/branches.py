"""Places read wrongly at edges, where blurred chroma mixes two colours into a third one of the path: put right.

Luma stays sharp, but on a path whose luma is not monotone several places have the same luma, and mixed chroma may point
to a wrong one (grey between red and cyan, for one). Such readings stand out of everything around them; where a place
within the range of the surroundings explains the luma as well, it is the right one.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.nearest import F32, projected
from irspot.decoding.path import COARSE, SAMPLES, ColorPath
from irspot.opencv import load_cv2

_MARGIN: Final = 0.015 * SAMPLES
"""How far beyond its surroundings a reading may lie, in samples: tops of small parts do."""
_LEAST_RANGE: Final = 15
"""Range of chroma nearby from which it may have been mixed."""
_LUMA_MISS: Final = 3.0
_LUMA_LOSS: Final = 2.0
"""Luma has to be met within the first, or not worse than before by more than the second."""
_ROUNDS: Final = 2


def back_in_range(
    at: F32, planes: tuple[F32, F32, F32], weight: F32, nearby: NDArray[np.uint8], path: ColorPath
) -> F32:
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
    path : ColorPath

    Returns
    -------
    ndarray of float32, shape (rows, columns)
    """
    cv2 = load_cv2()
    kernel = np.ones((3, 3), np.uint8)
    edge = nearby > _LEAST_RANGE
    for _ in range(_ROUNDS):
        middle = cv2.medianBlur(at, 5)
        high, low = cv2.dilate(middle, kernel) + _MARGIN, cv2.erode(middle, kernel) - _MARGIN
        out = np.flatnonzero(((at > high) | (at < low)) & edge)
        if not len(out):
            break
        at = _moved(at, out, low.ravel()[out], high.ravel()[out], planes, weight, path)
    return at


def _moved(
    at: F32, out: NDArray[np.intp], low: F32, high: F32, planes: tuple[F32, F32, F32], weight: F32, path: ColorPath
) -> F32:
    colors = (planes[0][out], planes[1][out], planes[2][out])
    start = _nearest_between(colors, weight[out], low, high, path)
    new = np.clip(projected(colors, weight[out], start, path), np.maximum(low, 0.0), np.minimum(high, SAMPLES - 1.0))
    before, after = (np.abs(colors[0] - path.colors[np.rint(a).astype(np.intp), 0]) for a in (at.ravel()[out], new))
    better = after <= np.maximum(_LUMA_MISS, before + _LUMA_LOSS)
    moved = at.copy()
    moved.ravel()[out[better]] = new[better]
    return moved


def _nearest_between(
    colors: tuple[F32, F32, F32], weight: F32, low: F32, high: F32, path: ColorPath
) -> NDArray[np.intp]:
    coarse = path.colors[::COARSE]
    position = np.arange(0, SAMPLES, COARSE)
    found = np.empty(len(weight), np.intp)
    for begin in range(0, len(weight), 2048):
        part = slice(begin, begin + 2048)
        square = (colors[0][part, None] - coarse[:, 0]) ** 2
        chroma = (colors[1][part, None] - coarse[:, 1]) ** 2 + (colors[2][part, None] - coarse[:, 2]) ** 2
        square += weight[part, None] * chroma
        # Half a coarse step of leeway, so that a narrow range is never empty.
        square[(position < low[part, None] - COARSE) | (position > high[part, None] + COARSE)] = np.inf
        found[part] = square.argmin(axis=1)
    return found * COARSE
