"""Half-transparent boxes laid over a picture: rectangles inside of which everything is a mixture with one ink.

Where the mixture lands on the bar's path by chance (any grey darkened is a grey) the colours do not tell. What tells is
the border: one pixel sharp, straight, and all along it the inside is the same mixture of ink and the outside. A part
has no such border: a lens spreads its edges, and what it adds to its surroundings does not follow them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Rgb
from irspot.decoding.sharp_boxes import Box, sharp_boxes
from irspot.opencv import load_cv2

Bool = NDArray[np.bool_]
FloatArray = NDArray[np.float64]

_DEEP: Final = 4
"""Pixels looked at on either side of a border."""
_CORNER_PX: Final = 2
_AVERAGED: Final = 8
_SHARES: Final = np.linspace(0.08, 0.93, 18)
_FINER: Final = np.linspace(-0.045, 0.045, 10)
"""Shares of the picture that shine through, as tried at first, and then around the best."""
_KEPT: Final = 0.75
_KEPT_OF_SIDE: Final = 0.3
"""Share of a border, and of each side, that has to follow; text or a part's edge may touch it."""
_PART: Final = 0.7
_SURE: Final = 1.5
"""A part explains a border better where it misses by less than the first times what a mixture misses by, and worse
where by more than the second; in between either may be."""
_USUAL: Final = slice(2, 13)
"""Boxes that are neither next to opaque nor next to clear, among the shares tried at first."""
_LIGHTER: Final = 1.25
"""What is lighter than its surroundings is a hot part more often than a box: parts have to miss by so much more."""
_LIKELY_STEPS: Final = 0.8
"""Share of the step wanted that a first, rough look has to find."""


@dataclass(frozen=True, slots=True)
class _Limits:
    """What a border has to show, in light of 0 to 255.

    Parameters
    ----------
    step : float
        From outside to inside, at least, on each side.
    sharp : (float, float)
        Share of that step between two neighbouring pixels, of faint and of strong steps; a lens leaves one half.
    faint, strong : float
        Steps that count as such.
    sharpest : float
        Most of that share: coding makes faint borders steeper than they are.
    miss, miss_share : float
        What inside may differ from the mixture, and what is added for each unit of the step.
    noise : float
        Of the averages compared.
    usual : float
        Where a part explains a border as well as any box, it is one if usual boxes miss by so many times more.
    """

    step: float
    sharp: tuple[float, float]
    faint: float
    strong: float
    sharpest: float
    miss: float
    miss_share: float
    noise: float
    usual: float


_EXACT: Final = _Limits(1.5, (0.75, 0.75), 1.0, 2.0, 1.4, 0.8, 0.04, 0.4, np.inf)
_LOSSY: Final = _Limits(2.2, (0.6, 0.8), 8.0, 25.0, 2.0, 1.6, 0.06, 1.5, 2.0)


@dataclass(frozen=True, slots=True, eq=False)
class Shades:
    """Pixels of half-transparent boxes.

    Parameters
    ----------
    sure : ndarray of bool, shape (rows, columns)
        Where the inside follows the changes outside.
    suspected : ndarray of bool, shape (rows, columns)
        Where the outside changes too little to tell a box from a part that no lens has blurred.
    """

    sure: Bool
    suspected: Bool


def shades(rgb: Rgb, light: NDArray[np.uint8], bar: Box, lossy: bool) -> Shades:
    """Find half-transparent boxes of black, white or grey.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
    light : ndarray of uint8, shape (rows, columns)
        Luma, which is sharp in lossy pictures as well.
    bar : (int, int, int, int)
        Where the bar lies, whose borders are none of a box.
    lossy : bool

    Returns
    -------
    Shades
    """
    found = Shades(np.zeros(light.shape, bool), np.zeros(light.shape, bool))
    colors, limits = (light[..., None], _LOSSY) if lossy else (rgb, _EXACT)
    for box in sharp_boxes(light, bar, lossy):
        verdict = _is_mixture(colors, box, limits) if _has_steps(light, box, limits) else None
        if verdict is not None:
            where = found.sure if verdict else found.suspected
            where[box[1] : box[3], box[0] : box[2]] = True
    found.suspected[found.sure] = False
    return found


def _has_steps(light: NDArray[np.uint8], box: Box, limits: _Limits) -> bool:
    """Say whether light changes enough across each side; looked at first, since most boxes fail here."""
    x0, y0, x1, y1 = box
    rows, columns = light.shape
    upright, lying = light[y0 + _CORNER_PX : y1 - _CORNER_PX], light[:, x0 + _CORNER_PX : x1 - _CORNER_PX]
    return all(
        _apart(line[:, near], line[:, far]) >= _LIKELY_STEPS * limits.step
        for line, near, far, most in (
            (upright, x0 + 1, x0 - 2, columns),
            (upright, x1 - 2, x1 + 1, columns),
            (lying.T, y0 + 1, y0 - 2, rows),
            (lying.T, y1 - 2, y1 + 1, rows),
        )
        if 0 <= far < most
    )


def _apart(near: NDArray[np.uint8], far: NDArray[np.uint8]) -> float:
    cv2 = load_cv2()
    return float(cv2.norm(np.ascontiguousarray(near), np.ascontiguousarray(far), cv2.NORM_L1)) / near.size


def _is_mixture(colors: NDArray[np.uint8], box: Box, limits: _Limits) -> bool | None:
    """Say whether the inside follows the outside all along the border, or might; None if it does not."""
    lines = _across_border(colors, box)
    if min(len(line) for line in lines) == 0:
        return None
    profile = np.concatenate(lines)
    begins = np.cumsum([0, *(len(line) for line in lines[:-1])])
    outside, inside = _beside(profile, limits)
    step = inside - outside
    size = np.abs(step).max(axis=1)
    if _per_side(size, begins).min() < limits.step:
        return None
    across = profile[:, _DEEP] - profile[:, _DEEP - 1]
    sharp = float((across * step).sum() / (step * step).sum())
    typical = float(np.median(size))
    wanted = float(np.interp(typical, (limits.faint, limits.strong), limits.sharp))
    if not wanted <= sharp <= limits.sharpest:
        return None
    return _mixes(outside, inside, begins, limits.miss + limits.miss_share * typical, limits)


def _per_side(values: NDArray[np.generic], begins: NDArray[np.intp]) -> FloatArray:
    """Average along each side."""
    counts = np.diff(begins, append=len(values))
    return np.asarray(np.add.reduceat(values.astype(np.float64), begins) / counts)


def _mixes(
    outside: FloatArray, inside: FloatArray, begins: NDArray[np.intp], allowed: float, limits: _Limits
) -> bool | None:
    """Fit one share and one ink to all of a border, and see whether what a part adds fits as well.

    Fits are by their mean miss, of which no pixel counts more than so much, so that text at the border does not tell.
    """
    most = 2.0 * allowed
    coarse = _costs(_mixture_misses(outside, inside, _SHARES), most)
    finer = np.clip(_SHARES[coarse.argmin()] + _FINER, _SHARES[0], _SHARES[-1])
    misses = _mixture_misses(outside, inside, finer)
    costs = _costs(misses, most)
    follows = np.abs(misses[costs.argmin()]).max(axis=1) <= allowed
    if follows.mean() < _KEPT or _per_side(follows, begins).min() < _KEPT_OF_SIDE:
        return None
    part, mixture = float(_costs(_part_misses(outside, inside), most).min()), float(costs.min())
    usual = float(coarse[_USUAL].min())
    if part < _PART * mixture - 0.5 * limits.noise or (part <= mixture and usual > limits.usual * part):
        return None
    lighter = float(np.median(inside - outside)) > 0.0
    if limits is _LOSSY and lighter and part < _LIGHTER * mixture + 0.2:
        return None
    return part > _SURE * mixture + limits.noise


def _mixture_misses(outside: FloatArray, inside: FloatArray, shares: FloatArray) -> FloatArray:
    """What is left of the inside after a mixture with the grey that fits best, shape (shares, pixels, channels)."""
    added = inside - shares[:, None, None] * outside
    ink = np.clip(np.median(added, axis=(1, 2)), 0.0, 255.0 * (1.0 - shares))
    return np.asarray(added - ink[:, None, None])


def _part_misses(outside: FloatArray, inside: FloatArray) -> FloatArray:
    """What is left of the inside if it has one level, or differs from the outside by as much everywhere."""
    both = np.stack([inside, inside - outside])
    return np.asarray(both - np.median(both, axis=(1, 2))[:, None, None])


def _costs(misses: FloatArray, most: float) -> FloatArray:
    return np.asarray(np.minimum(np.abs(misses), most).mean(axis=(1, 2)))


def _beside(profile: FloatArray, limits: _Limits) -> tuple[FloatArray, FloatArray]:
    """Give the colours outside and inside of the border, as they would be at the border itself."""
    if limits is _EXACT:
        return 1.5 * profile[:, 3] - 0.5 * profile[:, 2], 1.5 * profile[:, 4] - 0.5 * profile[:, 5]
    return profile[:, 1:3].mean(axis=1), profile[:, 5:7].mean(axis=1)


def _across_border(colors: NDArray[np.uint8], box: Box) -> list[FloatArray]:
    """Colours from outside to inside along each side within the picture, averaged over a few neighbours."""
    x0, y0, x1, y1 = box
    rows, columns = colors.shape[:2]
    xs, ys = np.arange(x0 + _CORNER_PX, x1 - _CORNER_PX), np.arange(y0 + _CORNER_PX, y1 - _CORNER_PX)
    deep = np.arange(-_DEEP, _DEEP)
    found = []
    for at, within in ((x0 + deep, x0 > 0), (x1 - 1 - deep, x1 < columns)):
        if within:
            found.append(_averaged(colors[ys[:, None], np.clip(at, 0, columns - 1)]))
    for at, within in ((y0 + deep, y0 > 0), (y1 - 1 - deep, y1 < rows)):
        if within:
            found.append(_averaged(colors[np.clip(at, 0, rows - 1), xs[:, None]]))
    return found


def _averaged(line: NDArray[np.uint8]) -> FloatArray:
    """Average a few neighbours each, so that noise does not hide how inside and outside change together."""
    count = len(line) // _AVERAGED
    return np.asarray(line[: count * _AVERAGED].reshape(count, _AVERAGED, *line.shape[1:]).mean(axis=1))
