"""Ink whose colour is on the bar's path, such as white text under a grey or hot map: told by its shape.

Text and crosshairs are strokes a few pixels wide, all of one place of the path, with a border one pixel sharp. Heat has
no such shapes: a lens spreads every edge over two or three pixels.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.nearest import F32
from irspot.decoding.overlays import pieces, those_of, widened
from irspot.decoding.path import SAMPLES, YCC_OF_RGB, ColorPath
from irspot.opencv import load_cv2

Bool = NDArray[np.bool_]
U8 = NDArray[np.uint8]

_INKS: Final = (255.0, 0.0)
"""White and black, the inks of most overlays."""
_ON_PATH: Final = 20.0
"""Distance of ink from the path up to which the path has its colour."""
_STROKE_PX: Final = 5
"""Strokes are narrower than this."""
_LONGEST_PX: Final = 5
"""A stroke is at least so long."""
_ON_TOP: Final = 0.15
_SMALL_PX: Final = 40
_SHARP: Final = 0.56
"""Share of a stroke's contrast that lies between two neighbouring pixels; a lens leaves one half at most."""


_NEAR: Final = 40.0
_CORE: Final = 30.0
"""How near ink's place a stroke's middle is, and how far it stands out of what lies around; 255 is the whole bar."""
_EXACT_NEAR: Final = 12.0
_EXACT_CORE: Final = 10.0
"""The same where colours are exact: pure ink may stand out less."""
_RIM: Final = {True: 12.0, False: 5.0}
"""How far a stroke's rim stands out, of lossy and of exact pictures."""


def inks_on_path(path: ColorPath) -> tuple[int, ...]:
    """Give the places, in samples, of inks whose colours the path has."""
    found = []
    for ink in _INKS:
        color = np.array([ink, ink, ink])
        if path.lossy:
            color = YCC_OF_RGB @ color + np.array([0.0, 128.0, 128.0])
        apart = np.linalg.norm(path.colors - color, axis=1)
        if apart.min() < _ON_PATH:
            found.append(int(apart.argmin()))
    return tuple(found)


def strokes(at: F32, off: Bool, ink: int, path: ColorPath) -> Bool:
    """Find strokes of ink.

    Parameters
    ----------
    at : ndarray of float32, shape (rows, columns)
        Positions in samples.
    off : ndarray of bool, shape (rows, columns)
        Pixels of foreign colours, where positions mean nothing.
    ink : int
        Its place, in samples.
    path : ColorPath

    Returns
    -------
    ndarray of bool, shape (rows, columns)
        With a margin of one pixel, or two where the coding spreads ink further.
    """
    cv2 = load_cv2()
    # How near the ink's place pixels are, so that ink is light on any background. Places are linear in temperature, so
    # that a lens spreads an edge in them as it does in heat.
    near = np.clip(255.0 - np.abs(at - np.float32(ink)) * np.float32(255.0 / SAMPLES), 0.0, 255.0).astype(np.uint8)
    near[off] = 0
    kernel = np.ones((_STROKE_PX, _STROKE_PX), np.uint8)
    stands_out = cv2.morphologyEx(near, cv2.MORPH_TOPHAT, kernel)
    core = (stands_out > _CORE) & (near > 255.0 - _NEAR)
    if not path.lossy:
        core |= (stands_out > _EXACT_CORE) & (near > 255.0 - _EXACT_NEAR)
    if not core.any():
        return np.asarray(core)
    grown, rim = core, stands_out > _RIM[path.lossy]
    for _ in range(2):
        grown = grown | (widened(grown, 1) & rim)
    # Beside foreign colours, which have no place, any border looks sharp; a lossy coding leaves ink no other.
    beside_off = np.zeros_like(off) if path.lossy else widened(off, 1)
    labels, stats = pieces(grown)
    drawn = those_of(grown, labels, _sharp(np.flatnonzero(grown), labels, stats, near, beside_off))
    if not drawn.any():
        return drawn
    # What is too short by itself (a dot, a colon) counts beside other ink.
    beside = widened(drawn, 6) & those_of(grown, labels, stats[:, 4] <= _SMALL_PX)
    return widened(drawn | beside, 2 if path.lossy else 1)


def _sharp(
    inside: NDArray[np.intp], labels: NDArray[np.int32], stats: NDArray[np.int32], near: U8, beside_off: Bool
) -> Bool:
    """Say which pieces have a border one pixel sharp, from their pixels, which are counted along rows."""
    cv2 = load_cv2()
    cross = np.array([[0, 1, 0], [1, 1, 1], [0, 1, 0]], np.uint8)
    drop = (near - cv2.erode(near, cross)).ravel()[inside].astype(np.float32)
    lowest = cv2.erode(near, np.ones((_STROKE_PX + 2, _STROKE_PX + 2), np.uint8))
    whole = (near - lowest).ravel()[inside].astype(np.float32)
    sharp = np.zeros(len(stats), bool)
    number = labels.ravel()[inside]
    ratio = drop / np.maximum(whole, 1.0)
    # Only pixels on top of the stroke tell: halfway down any slope, most of what is left lies just beside.
    above = (cv2.dilate(near, np.ones((3, 3), np.uint8)) - near).ravel()[inside]
    counts = (near.ravel()[inside] > 255.0 - 2.0 * _NEAR) & (above <= _ON_TOP * whole) & ~beside_off.ravel()[inside]
    order = np.argsort(number[counts], kind="stable")
    names, begin = np.unique(number[counts][order], return_index=True)
    parts = np.split(ratio[counts][order], begin[1:])[: len(names)]  # splitting nothing gives one part, of nothing
    for name, part in zip(names, parts, strict=True):
        sharp[name] = max(stats[name, 2:4]) >= _LONGEST_PX and np.quantile(part, 0.75) > _SHARP
    sharp[0] = False
    return sharp
