"""Which way round a board lies: symmetries of outlines, and the image side that the top faces."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.placing import ImageSide

FloatArray = NDArray[np.float64]

TOP_DEGREES: Final = 50.0
"""How far the board's top may point away from the image side that was named."""
_REACH_DEGREES: Final = {4: 57.0, 2: 97.0}
"""Of so many ways a right angle or two apart one lies within this of any direction, with room for perspective."""
SAME_SHARE: Final = 0.02
"""Of an outline's size, by which it may differ from itself turned and still look alike."""

IMAGE_SIDES: Final[dict[ImageSide, tuple[float, float]]] = {
    "up": (0.0, -1.0),
    "right": (1.0, 0.0),
    "down": (0.0, 1.0),
    "left": (-1.0, 0.0),
}


def symmetries(vertices_mm: FloatArray) -> tuple[int, ...]:
    """Turns, in quarters, after which an outline looks like itself.

    Parameters
    ----------
    vertices_mm : ndarray, shape (n, 2)

    Examples
    --------
    >>> symmetries(np.array([[0.0, 0.0], [305.0, 0.0], [305.0, 244.0], [0.0, 244.0]]))
    (0, 2)
    """
    box = (vertices_mm.min(axis=0) + vertices_mm.max(axis=0)) / 2.0
    centred = vertices_mm - box
    slack = SAME_SHARE * float(np.ptp(vertices_mm, axis=0).max())
    found, turned = [], centred
    for quarter in range(4):
        if alike(centred, turned, slack):
            found.append(quarter)
        turned = np.column_stack([-turned[:, 1], turned[:, 0]])
    return tuple(found)


def alike(one: FloatArray, other: FloatArray, slack: float) -> bool:
    """Say whether every corner of each of two outlines has one of the other within `slack`."""
    apart = np.linalg.norm(one[:, None] - other[None], axis=2)
    return bool(apart.min(axis=0).max() <= slack and apart.min(axis=1).max() <= slack)


def top_direction(matrices: FloatArray, vertices_mm: FloatArray) -> FloatArray:
    """Unit vectors, in px, along which the board's top edge is seen from its middle; shape (k, 2)."""
    x, y = (vertices_mm.min(axis=0) + vertices_mm.max(axis=0)) / 2.0
    height = float(np.ptp(vertices_mm[:, 1]))
    ends = np.array([[x, y - 0.25 * height, 1.0], [x, y + 0.25 * height, 1.0]])
    carried = np.einsum("kij,nj->kni", matrices, ends)
    below, above = (carried[:, n, :2] / carried[:, n, 2:] for n in range(2))
    up = above - below
    return np.asarray(up / np.maximum(np.hypot(up[:, 0], up[:, 1]), 1e-12)[:, None])


def facing(matrices: FloatArray, vertices_mm: FloatArray, top: ImageSide | None) -> NDArray[np.bool_]:
    """Keep mappings whose board's top faces the image side that was named.

    Parameters
    ----------
    matrices : ndarray, shape (k, 3, 3)
    vertices_mm : ndarray, shape (n, 2)
    top : {"up", "right", "down", "left"} or None
        None keeps all.
    """
    if top is None:
        return np.ones(len(matrices), bool)
    cosine = top_direction(matrices, vertices_mm) @ np.array(IMAGE_SIDES[top])
    return np.asarray(cosine > np.cos(np.deg2rad(TOP_DEGREES)))


def faces(cosine: float) -> bool:
    """Say whether a top faces an image side, by the cosine between them."""
    return bool(cosine > np.cos(np.deg2rad(TOP_DEGREES)))


def one_way_of_each(matrices: FloatArray, vertices_mm: FloatArray, top: ImageSide | None) -> NDArray[np.bool_]:
    """Keep, of mappings that differ by a symmetry of the outline alone, the one whose top faces an image side most.

    Parameters
    ----------
    matrices : ndarray, shape (k, 3, 3)
    vertices_mm : ndarray, shape (n, 2)
    top : {"up", "right", "down", "left"} or None
        None: any side will do.
    """
    ways = len(symmetries(vertices_mm))
    if ways == 1:
        return np.ones(len(matrices), bool)
    cosine = top_direction(matrices, vertices_mm) @ np.array(IMAGE_SIDES[top or "up"])
    reach = _REACH_DEGREES[ways] if top is None else TOP_DEGREES + 90.0 * (4 // ways - 1)
    return np.asarray(cosine > np.cos(np.deg2rad(reach)))
