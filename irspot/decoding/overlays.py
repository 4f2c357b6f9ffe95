"""What lies over a picture and has other colours than the bar: text, crosshairs, logos, half-transparent boxes.

Exact colours are either on the bar's path or not; only where resizing mixed two of its colours, a pixel may lie on
the chord between them. Through a lossy coding, chroma of a true pixel strays from the path as far as its surroundings
differ from it; ink strays further, or its luma fits nothing on the path.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.decoding.jpeg import Chroma
from irspot.decoding.nearest import F32
from irspot.decoding.path import SAMPLES, ColorPath
from irspot.opencv import load_cv2

Bool = NDArray[np.bool_]

_EXACT_MISS: Final = 3.5
"""Distance from the path from which an exact colour is not the bar's; rounding leaves 1 at most."""
_SURROUND_PX: Final = 7
_NEAR_MISS: Final = 12.0
_CHORD_ENDS: Final = 8
_AT_ONCE: Final = 2000
_LEAST_CHORD: Final = 8.0
"""Samples between the ends of the surroundings, below which there is nothing to mix."""
_BEYOND: Final = 0.08
_STEEP: Final = 0.2 * SAMPLES
"""How far beyond its surroundings a mixed colour may lie, against their range, and the range from which it may."""
_CHORD_MISS: Final = 3.5
_CHORD_SHARE: Final = 0.02
"""Distance from a chord up to which two colours of the surroundings explain a pixel, and what is added for colours far
apart: at corners three or four colours mix."""
_STRAY: Final = 10.0
"""Chroma may miss by its range nearby and this, times a share: below the first such share for a pixel beside ink, above
the second for ink. Of true pixels at edges, 99 % lie below 0.5, 99.9 % below 0.8; of white ink, 90 % above 1."""
_WEAK: Final = 0.45
_STRONG: Final = 1.0
_LUMA_WEAK: Final = 8.0
_LUMA_STRONG: Final = 14.0
_FLAT_RANGE: Final = 8
"""Range of chroma nearby up to which chroma is not mixed at all, so that small misses over an area tell."""
_FLAT_MISS: Final = 6.0
_FLAT_SIGMAS: Final = 5.0
_END_MISS: Final = 14.0
_END_SAMPLES: Final = 0.02 * SAMPLES
_MARGIN_PX: Final[dict[Chroma, int]] = {"444": 1, "422": 2, "420": 2}
_FEWEST_PX: Final = 4
"""Ink has at least so many pixels; fewer that stray are accidents of coding."""
_MOST_HOLE: Final = 0.2
"""Holes up to this share of a filled area belong to what surrounds them, if it covers enough to be a box."""
_BOX_PX: Final = 150
_LEAST_RIM: Final = 5
_MOST_ENCLOSED: Final = 0.02
_ENCLOSED_INK: Final = 0.9
"""Of the frame, and of what is enclosed: larger areas, or less of it at the path's ends, are heat in a drawn frame."""


@dataclass(frozen=True, slots=True, eq=False)
class Mixed:
    """Exact pictures' pixels between two colours, as resizing leaves them at edges.

    Parameters
    ----------
    index : ndarray of intp, shape (k,)
        Which pixels, counted along rows.
    at : ndarray of float32, shape (k,)
        Their positions in samples.
    spread : ndarray of float32, shape (k,)
        How far apart the two mixed places are, in samples.
    """

    index: NDArray[np.intp]
    at: F32
    spread: F32


def off_palette_exact(miss: F32, at: F32, planes: tuple[F32, F32, F32], path: ColorPath) -> tuple[Bool, Mixed]:
    """Find pixels of exact pictures whose colours are not the bar's.

    Parameters
    ----------
    miss : ndarray of float32, shape (rows, columns)
        Distance from the path.
    at : ndarray of float32, shape (rows, columns)
        Positions in samples.
    planes : tuple of ndarray of float32, shape (rows * columns,)
    path : ColorPath

    Returns
    -------
    off : ndarray of bool, shape (rows, columns)
        With a margin of one pixel.
    mixed : Mixed
        Pixels that are not, but lie between two colours of their surroundings.
    """
    cv2 = load_cv2()
    strays = miss > _EXACT_MISS + _beyond_ends(at, path)
    index = np.flatnonzero(strays)
    if not len(index):
        return strays, Mixed(index, np.empty(0, np.float32), np.empty(0, np.float32))
    kernel = np.ones((_SURROUND_PX, _SURROUND_PX), np.uint8)
    far = np.float32(4.0 * SAMPLES)
    high = cv2.dilate(np.where(strays, -far, at), kernel).ravel()[index]
    low = cv2.erode(np.where(strays, far, at), kernel).ravel()[index]
    # Where an edge is so steep that its surroundings are mixed as well, a pixel near the path tells its place itself.
    own = at.ravel()[index]
    near = (miss.ravel()[index] < _NEAR_MISS) & (high >= low)
    low, high = np.where(near, np.minimum(low, own), low), np.where(near, np.maximum(high, own), high)
    # The top of a small part may be mixed as a whole, so that nothing shows how far it reached.
    beyond = np.where(high - low > np.float32(_STEEP), np.float32(_BEYOND) * (high - low), np.float32(0.0))
    low, high = np.maximum(low - beyond, np.float32(0.0)), np.minimum(high + beyond, np.float32(SAMPLES - 1.0))
    some = np.flatnonzero(high - low > _LEAST_CHORD)
    colors = np.stack([plane[index[some]] for plane in planes], axis=1)
    place, spread, beside = _on_chords(colors, low[some], high[some], path)
    fits = beside < _CHORD_MISS + _CHORD_SHARE * _length(low[some], high[some], path)
    mixed = Mixed(index[some[fits]], place[fits], spread[fits])
    strays.ravel()[mixed.index] = False
    return filled(widened(without_specks(strays, _FEWEST_PX), 1)), mixed


def _beyond_ends(at: F32, path: ColorPath) -> F32:
    """How much further a colour may lie from the path where it is nearest to an end.

    A bar shorter than its palette leaves out the very last colours, which saturated pixels have: one step of the bar.
    """
    first, last = (
        np.float32(np.linalg.norm(path.slopes[end]) * path.widths[end] / path.spacing) for end in (0, SAMPLES - 1)
    )
    nothing = np.float32(0.0)
    return np.where(at <= 0.0, first, np.where(at >= SAMPLES - 1, last, nothing))


def _on_chords(colors: F32, low: F32, high: F32, path: ColorPath) -> tuple[F32, F32, F32]:
    """Find the chord between two places within a range that a colour lies nearest to.

    First all pairs of a raster, then twice the neighbourhood of the best pair on a finer one.

    Returns
    -------
    place, spread, beside : ndarray of float32, shape (n,)
        Where on it, in samples; how long it is, in samples; distance from it.
    """
    found = [np.empty(len(colors), np.float32) for _ in range(3)]
    first, second = np.triu_indices(_CHORD_ENDS, 1)
    near = np.arange(-2, 3, dtype=np.float32)
    for at in range(0, len(colors), _AT_ONCE):
        part = slice(at, at + _AT_ONCE)
        least, most = low[part, None], high[part, None]
        step = (most - least) / np.float32(_CHORD_ENDS - 1)
        begin, end, share, beside = _nearest_chord(colors[part], least + first * step, least + second * step, path)
        for _ in range(2):
            step = step / np.float32(3.0)
            begins = np.clip(begin + np.repeat(near, 5) * step, least, most)
            ends = np.clip(end + np.tile(near, 5) * step, least, most)
            begin, end, share, beside = _nearest_chord(colors[part], begins, ends, path)
        for target, value in zip(found, (begin + share * (end - begin), np.abs(end - begin), beside), strict=True):
            target[part] = value[:, 0]
    return found[0], found[1], found[2]


def _nearest_chord(colors: F32, begins: F32, ends: F32, path: ColorPath) -> tuple[F32, F32, F32, F32]:
    """Choose among chords, shape (n, k), the nearest to each colour: its ends, the foot's share of it, the distance."""
    begins, ends = begins.astype(np.float32), ends.astype(np.float32)
    origin = path.colors[np.rint(begins).astype(np.intp)]
    chord = path.colors[np.rint(ends).astype(np.intp)] - origin
    off = colors[:, None] - origin
    length = np.maximum(np.einsum("nkc,nkc->nk", chord, chord), np.float32(1e-3))
    share = np.clip(np.einsum("nkc,nkc->nk", off, chord) / length, 0.0, 1.0)
    miss = off - share[..., None] * chord
    square = np.einsum("nkc,nkc->nk", miss, miss)
    best = (np.arange(len(colors)), square.argmin(axis=1))
    return begins[best][:, None], ends[best][:, None], share[best][:, None], np.sqrt(square[best])[:, None]


def _length(low: F32, high: F32, path: ColorPath) -> F32:
    begin, end = (path.colors[np.rint(a).astype(np.intp)] for a in (low, high))
    return np.asarray(np.linalg.norm(end - begin, axis=1), np.float32)


def off_palette_lossy(
    luma_miss: F32, chroma_miss: F32, at: F32, nearby: NDArray[np.uint8], noise: float, chroma: Chroma
) -> Bool:
    """Find pixels of lossy pictures whose colours are not the bar's.

    Parameters
    ----------
    luma_miss, chroma_miss : ndarray of float32, shape (rows, columns)
        From `distance`.
    at : ndarray of float32, shape (rows, columns)
        Positions in samples.
    nearby : ndarray of uint8, shape (rows, columns)
        Range of chroma around each pixel.
    noise : float
        Of a channel where little happens.
    chroma : {"444", "422", "420"}

    Returns
    -------
    ndarray of bool, shape (rows, columns)
        With a margin as wide as chroma is blurred.
    """
    cv2 = load_cv2()
    stray = chroma_miss / (nearby.astype(np.float32) + np.float32(_STRAY))
    luma = np.abs(luma_miss)
    strong = ((stray > _STRONG) & (chroma_miss > 2.0 * _FLAT_MISS)) | (luma > _LUMA_STRONG)
    # The bar's last colours are known less well, and saturated areas have them.
    at_end = (at < _END_SAMPLES) | (at > SAMPLES - 1.0 - _END_SAMPLES)
    limit = np.where(at_end, np.float32(_END_MISS), np.float32(max(_FLAT_MISS, _FLAT_SIGMAS * noise)))
    flat = (nearby < _FLAT_RANGE) & (chroma_miss > limit)
    seeds = strong | (cv2.morphologyEx(flat.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0)
    if not seeds.any():
        return np.asarray(seeds)
    weak = (stray > _WEAK) | (luma > _LUMA_WEAK)
    for _ in range(2):
        seeds = seeds | (widened(seeds, 1) & weak)
    return filled(widened(without_specks(seeds, _FEWEST_PX), _MARGIN_PX[chroma]))


def with_ink_enclosed(off: Bool, at: F32) -> Bool:
    """Add what a rim of foreign colours encloses, where all of it is at an end of the path: the inside of thick ink.

    Parameters
    ----------
    off : ndarray of bool, shape (rows, columns)
    at : ndarray of float32, shape (rows, columns)
        Positions in samples.
    """
    out = off.copy()
    labels, stats = pieces(off)
    for number in range(1, len(stats)):
        x, y, width, height, _ = (int(v) for v in stats[number])
        if min(width, height) >= _LEAST_RIM and width * height < _MOST_ENCLOSED * off.size:
            window = (slice(y, y + height), slice(x, x + width))
            out[window] |= _ink_within(labels[window] == number, at[window])
    return out


def _ink_within(rim: Bool, at: F32) -> Bool:
    """Find what a rim encloses, where nearly all of it is at an end of the path."""
    labels, stats = pieces(np.pad(~rim, 1, constant_values=True))
    inner = labels[1:-1, 1:-1]
    at_end = ((at < 1.0) | (at > SAMPLES - 2.0)).astype(np.float64)
    share = np.bincount(inner.ravel(), weights=at_end.ravel(), minlength=len(stats)) / np.maximum(stats[:, 4], 1)
    ink = share > _ENCLOSED_INK
    ink[labels[0, 0]] = False  # what lies outside
    return np.asarray(ink[inner] & ~rim)


def widened(mask: Bool, by_px: int) -> Bool:
    """Give a mask with a margin."""
    side = 2 * by_px + 1
    return np.asarray(load_cv2().dilate(mask.astype(np.uint8), np.ones((side, side), np.uint8)) > 0)


def without_specks(mask: Bool, fewest: int) -> Bool:
    """Drop pieces (joined across corners) of fewer pixels."""
    labels, stats = pieces(mask)
    keep = stats[:, 4] >= fewest
    keep[0] = False
    return those_of(mask, labels, keep)


def those_of(mask: Bool, labels: NDArray[np.int32], keep: Bool) -> Bool:
    """Mark the pixels of a mask whose pieces are kept; a mask has few pixels, which are looked at alone."""
    index = np.flatnonzero(mask)
    out = np.zeros(mask.shape, bool)
    out.ravel()[index] = keep[labels.ravel()[index]]
    return out


def pieces(mask: Bool) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Label connected pieces; give labels and, for each, x, y, width, height and pixels (0 is everything else)."""
    cv2 = load_cv2()
    small = mask.astype(np.uint8)
    if not mask.any():
        return np.zeros(mask.shape, np.int32), np.array([[0, 0, mask.shape[1], mask.shape[0], mask.size]], np.int32)
    # Looking only where there is something spares most of the time.
    x, y, width, height = cv2.boundingRect(small)
    found: Any = cv2.connectedComponentsWithStats(
        np.ascontiguousarray(small[y : y + height, x : x + width]), connectivity=8
    )
    labels = np.zeros(mask.shape, np.int32)
    labels[y : y + height, x : x + width] = found[1]
    stats = found[2]
    stats[:, :2] += np.array([x, y], np.int32)
    stats[0] = (0, 0, mask.shape[1], mask.shape[0], mask.size - int(stats[1:, 4].sum()))
    return labels, stats


def filled(mask: Bool) -> Bool:
    """Fill holes of large pieces: a half-transparent box whose colours meet the path here and there."""
    labels, stats = pieces(mask)
    out = mask.copy()
    for number in np.flatnonzero(stats[:, 4] >= _BOX_PX):
        if number == 0:
            continue
        x, y, width, height, count = (int(v) for v in stats[number])
        if count < (1.0 - _MOST_HOLE) * width * height:
            continue
        part = labels[y : y + height, x : x + width] == number
        # Closed across and along: only what lies between pixels of the piece in both directions.
        inside = _between(part, 0) & _between(part, 1)
        out[y : y + height, x : x + width] |= inside
    return out


def _between(part: Bool, axis: int) -> Bool:
    before = np.maximum.accumulate(part, axis=axis)
    after = np.flip(np.maximum.accumulate(np.flip(part, axis), axis=axis), axis)
    return np.asarray(before & after)
