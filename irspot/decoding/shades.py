"""Half-transparent boxes laid over a picture: rectangles inside of which everything is a mixture with one ink.

Where the mixture lands on the bar's path by chance (any grey darkened is a grey) the colours do not tell. What tells is
the border: one pixel sharp, straight, and all along it the inside is the same mixture of ink and the outside. A part
has no such border: what it adds to its surroundings does not follow them.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Rgb
from irspot.opencv import load_cv2

Bool = NDArray[np.bool_]
FloatArray = NDArray[np.float64]
Box = tuple[int, int, int, int]

_STEP: Final = 4
"""Light from one pixel to the next at a border, at least."""
_SHARPER: Final = 2.5
"""How many times larger that step is than the next ones."""
_SHORTEST_PX: Final = 12
_COVERED: Final = 0.5
"""Share of each side that has to show as a border."""
_MIX: Final = (0.1, 0.92)
"""Share of the picture that shines through."""
_SURE: Final = 0.06
"""Standard uncertainty of how much the inside follows the outside, up to which it counts."""
_AVERAGED: Final = 8
_FEWEST_SIDES: Final = 3
_MISS: Final = 3.0
_MISS_SHARE: Final = 0.06


def shades(rgb: Rgb, light: NDArray[np.uint8]) -> Bool:
    """Find half-transparent boxes of black or white.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
    light : ndarray of uint8, shape (rows, columns)
        What borders are looked for in: the largest channel, or luma where that alone is sharp.

    Returns
    -------
    ndarray of bool, shape (rows, columns)
    """
    cv2 = load_cv2()
    found = np.zeros(light.shape, bool)
    upright, lying = _borders(light), _borders(cv2.transpose(light)).T
    if not (upright.any() and lying.any()):
        return found
    for box in _rectangles(upright, lying):
        if _is_mixture(rgb, box):
            found[box[1] : box[3], box[0] : box[2]] = True
    return found


def _borders(light: NDArray[np.uint8]) -> Bool:
    """Mark pixels right of long upright steps of light that are one pixel sharp."""
    cv2 = load_cv2()
    step = np.zeros_like(light)
    step[:, 1:] = cv2.absdiff(light[:, 1:], light[:, :-1])
    beside = np.zeros_like(light)
    beside[:, 1:-1] = cv2.max(step[:, :-2], step[:, 2:])
    # A whole number exceeds a product where it exceeds the product's whole part.
    product = cv2.LUT(beside, np.minimum(_SHARPER * np.arange(256), 255.0).astype(np.uint8))
    sharp = cv2.bitwise_and(cv2.compare(step, float(_STEP), cv2.CMP_GE), cv2.compare(step, product, cv2.CMP_GT))
    closed = cv2.morphologyEx(sharp, cv2.MORPH_CLOSE, np.ones((5, 1), np.uint8))
    long = cv2.morphologyEx(closed, cv2.MORPH_OPEN, np.ones((_SHORTEST_PX, 1), np.uint8))
    return np.asarray(long > 0)


def _rectangles(upright: Bool, lying: Bool) -> list[Box]:
    """Find boxes with borders on all four sides."""
    cv2 = load_cv2()
    both = cv2.dilate((upright | lying).astype(np.uint8), np.ones((5, 5), np.uint8))
    outlines, nesting = cv2.findContours(both, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    boxes = []
    for outline, (_, _, _, parent) in zip(outlines, nesting[0], strict=True):
        x, y, width, height = cv2.boundingRect(outline)
        # The edge of a hole lies within the outline of what has the hole.
        if parent >= 0 or min(width, height) < _SHORTEST_PX:
            continue
        window = (slice(y, y + height), slice(x, x + width))
        across, along = upright[window].sum(axis=0), lying[window].sum(axis=1)
        left, right = _two_sides(across, _COVERED * (height - 4))
        top, bottom = _two_sides(along, _COVERED * (width - 4))
        if min(right - left, bottom - top) >= _SHORTEST_PX - 2:
            boxes.append((int(x + left), int(y + top), int(x + right), int(y + bottom)))
    return boxes


def _two_sides(count: NDArray[np.intp], least: float) -> tuple[int, int]:
    at = np.flatnonzero(count >= least)
    return (int(at[0]), int(at[-1])) if len(at) else (0, 0)


def _is_mixture(rgb: Rgb, box: Box) -> bool:
    """Say whether the inside follows the outside all along the border as a mixture with black or white does."""
    sides = _along_border(rgb, box)
    if len(sides) < _FEWEST_SIDES:
        return False
    return any(_mixes(sides, ink) for ink in (0.0, 255.0))


def _mixes(sides: list[tuple[FloatArray, FloatArray]], ink: float) -> bool:
    inside, outside = (np.concatenate(part) - ink for part in zip(*sides, strict=True))
    share = float(np.sum(outside * inside) / max(np.sum(outside**2), 1.0))
    if not _MIX[0] <= share <= _MIX[1]:
        return False
    allowed = _MISS + _MISS_SHARE * float(np.median(np.abs(outside)))
    if any(np.median(np.abs(near - ink - share * (far - ink))) > allowed for near, far in sides):
        return False
    # Black and white cannot be told from a part by the level alone: the inside has to follow each change outside.
    changes = outside - outside.mean(axis=0)
    varied = max(float(np.sum(changes**2)), 1.0)
    follows = float(np.sum(changes * (inside - inside.mean(axis=0)))) / varied
    u_follows = float(np.sqrt(np.mean((inside - share * outside) ** 2) / varied))
    return bool(u_follows <= _SURE and abs(follows - share) <= 0.25 * share + 2.0 * u_follows)


def _along_border(rgb: Rgb, box: Box) -> list[tuple[FloatArray, FloatArray]]:
    """Colours two pixels inside and two outside of each side of a box, pair by pair."""
    x0, y0, x1, y1 = box
    rows, columns = rgb.shape[:2]
    xs, ys = np.arange(x0 + 2, x1 - 2), np.arange(y0 + 2, y1 - 2)
    sides = []
    for near, far in ((x0 + 1, x0 - 2), (x1 - 2, x1 + 1)):
        if 0 <= far < columns:
            sides.append((_averaged(rgb[ys, near]), _averaged(rgb[ys, far])))
    for near, far in ((y0 + 1, y0 - 2), (y1 - 2, y1 + 1)):
        if 0 <= far < rows:
            sides.append((_averaged(rgb[near, xs]), _averaged(rgb[far, xs])))
    return [side for side in sides if len(side[0])]


def _averaged(line: Rgb) -> FloatArray:
    """Average a few neighbours each, so that noise does not hide how inside and outside change together."""
    count = len(line) // _AVERAGED
    return np.asarray(line[: count * _AVERAGED].reshape(count, _AVERAGED, 3).mean(axis=1))
