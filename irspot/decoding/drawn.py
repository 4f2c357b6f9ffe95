"""Ink whose colour is on the bar's path, such as white text under a grey or hot map: told by its shape.

Text and crosshairs are strokes a few pixels wide, as light or dark as ink, with a border one pixel sharp. Heat has no
such shapes: a lens spreads every edge over two or three pixels.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.overlays import pieces, widened
from irspot.decoding.path import YCC_OF_RGB, ColorPath
from irspot.opencv import load_cv2

Bool = NDArray[np.bool_]

_INKS: Final = (255.0, 0.0)
"""White and black, the inks that paths of colour maps begin or end with."""
_ON_PATH: Final = 20.0
"""Distance of ink from the path up to which the path has its colour."""
_STROKE_PX: Final = 5
"""Strokes are narrower than this."""
_CORE: Final = 40.0
"""Luma by which ink's middle may differ from pure ink, and has to stand out of what lies around the stroke."""
_WEAK: Final = 12.0
_LONGEST_PX: Final = 5
"""A stroke is at least so long."""
_SHARP: Final = 0.56
"""Share of a stroke's contrast that lies between two neighbouring pixels; a lens leaves one half at most."""


def inks_on_path(path: ColorPath) -> tuple[float, ...]:
    """Say which inks have a colour of the path, by their luma (255 white, 0 black)."""
    found = []
    for ink in _INKS:
        color = np.array([ink, ink, ink])
        if path.lossy:
            color = YCC_OF_RGB @ color + np.array([0.0, 128.0, 128.0])
        if np.min(np.linalg.norm(path.colors - color, axis=1)) < _ON_PATH:
            found.append(ink)
    return tuple(found)


def strokes(luma: NDArray[np.uint8], ink: float, margin_px: int) -> Bool:
    """Find strokes of ink.

    Parameters
    ----------
    luma : ndarray of uint8, shape (rows, columns)
    ink : float
        Its luma: 255 or 0.
    margin_px : int

    Returns
    -------
    ndarray of bool, shape (rows, columns)
    """
    cv2 = load_cv2()
    light = luma if ink > 0.0 else 255 - luma
    kernel = np.ones((_STROKE_PX, _STROKE_PX), np.uint8)
    stands_out = cv2.morphologyEx(light, cv2.MORPH_TOPHAT, kernel)
    core = (stands_out > _CORE) & (light > 255.0 - _CORE)
    if not core.any():
        return np.asarray(core)
    weak = stands_out > _WEAK
    grown = core
    for _ in range(2):
        grown = grown | (widened(grown, 1) & weak)
    drawn = _sharp_pieces(grown, light)
    # What is too short by itself (a dot, a colon) counts beside other ink.
    beside = widened(drawn, 6) & grown
    return widened(drawn | beside, margin_px) if drawn.any() else drawn


def _sharp_pieces(grown: Bool, light: NDArray[np.uint8]) -> Bool:
    cv2 = load_cv2()
    cross = np.array([[0, 1, 0], [1, 1, 1], [0, 1, 0]], np.uint8)
    drop = (light - cv2.erode(light, cross)).astype(np.float32)
    contrast = (light - cv2.erode(light, np.ones((_STROKE_PX + 2, _STROKE_PX + 2), np.uint8))).astype(np.float32)
    labels, stats = pieces(grown)
    sharp = np.zeros(len(stats), bool)
    inside = np.flatnonzero(labels.ravel())
    number = labels.ravel()[inside]
    ratio = (drop / np.maximum(contrast, 1.0)).ravel()[inside]
    # The piece's light pixels tell; its soft rim belongs to the lettering's own smoothing.
    light_enough = light.ravel()[inside] > 255.0 - 2.0 * _CORE
    order = np.argsort(number[light_enough], kind="stable")
    names, begin = np.unique(number[light_enough][order], return_index=True)
    for name, part in zip(names, np.split(ratio[light_enough][order], begin[1:]), strict=True):
        sharp[name] = max(stats[name, 2:4]) >= _LONGEST_PX and np.quantile(part, 0.75) > _SHARP
    sharp[0] = False
    return np.asarray(sharp[labels])
