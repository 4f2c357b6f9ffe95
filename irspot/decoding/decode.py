"""Decode a colour-mapped picture: every pixel to a place on its bar, and to a temperature with its uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Bar, Decoded, Excluded
from irspot.color_wish import BarScale, Box
from irspot.decoding.ambiguity import decided, places_alike
from irspot.decoding.drawn import inks_on_path, strokes
from irspot.decoding.nearest import F32, projected
from irspot.decoding.path import SAMPLES, ColorPath, exact_path, lossy_path
from irspot.decoding.picture import ColorPicture
from irspot.decoding.placed import Placed, as_coded, exact_places, lossy_places, planes_of
from irspot.decoding.shades import Shades, shades
from irspot.decoding.strips import in_strips
from irspot.decoding.uncertainty import u_decode_k
from irspot.opencv import load_cv2

_CLIP_SIGMAS: Final = 1.5
_MOST_NOISE: Final = 0.02
"""How near an end a place counts as clipped: within so much of its noise, of which no more than this counts."""
_END: Final = 0.01
_END_COLOR: Final = 8.0
"""How near an end, as a share of the bar, and its colour a suspected box is not told from a saturated part."""
_AROUND_BAR_PX: Final = 3
"""Border, and what colour it sheds, around the bar."""


def decode_picture(
    picture: ColorPicture,
    bar: Bar,
    scale: BarScale,
    *,
    ignore_px: Sequence[Box] = (),
    keep_out: Sequence[Box] = (),
    path: ColorPath | None = None,
) -> Decoded:
    """Turn a colour-mapped picture into temperatures.

    Parameters
    ----------
    picture : ColorPicture
    bar : Bar
    scale : BarScale
    ignore_px : sequence of box
        Boxes that hold no picture.
    keep_out : sequence of box
        What belongs to the bar besides its colours: labels, ticks.
    path : ColorPath, optional
        The bar's, where it is known from another picture of the same video; default read from this one.

    Returns
    -------
    Decoded
    """
    picture = as_coded(picture, bar)
    if path is None:
        path = lossy_path(picture, bar) if picture.ycc is not None else exact_path(picture, bar)
    skip = (_around(bar), *ignore_px, *keep_out)
    placed = lossy_places(picture, path, skip) if path.lossy else exact_places(picture, path)
    excluded = np.where(placed.off, np.uint8(Excluded.OFF_PALETTE), np.uint8(Excluded.DECODED))
    excluded[placed.undecided] = Excluded.AMBIGUOUS
    covering = _shades(picture, bar)
    excluded[covering.suspected & ~placed.off & ~_saturated(picture, placed, path, covering.suspected)] = (
        Excluded.AMBIGUOUS
    )
    excluded[(covering.sure | _drawn_on(placed, path)) & ~placed.off] = Excluded.DRAWN_ON
    _exclude_boxes(excluded, bar, ignore_px, keep_out)
    placed = _undoubled(placed, path, picture, excluded)
    return _decoded(placed, path, bar, scale, excluded)


def _undoubled(placed: Placed, path: ColorPath, picture: ColorPicture, excluded: NDArray[np.uint8]) -> Placed:
    """Decide between places of one colour, or mark as ambiguous."""
    alike = _alike(path, round(placed.channel_noise, 1))
    if alike is None:
        return placed
    colors = (picture.rgb if picture.ycc is None else picture.ycc).reshape(-1, 3)

    def project(index: NDArray[np.intp], near: F32) -> F32:
        return projected(planes_of(colors[index]), 1.0, np.rint(near).astype(np.intp), path)

    at, ambiguous = decided(placed.at, excluded == Excluded.DECODED, alike, project)
    excluded[ambiguous] = Excluded.AMBIGUOUS
    return replace(placed, at=at)


@lru_cache(maxsize=4)
def _alike(path: ColorPath, noise: float) -> NDArray[np.float32] | None:
    """List places alike; kept for the next pictures of a video, which have the same path."""
    return places_alike(path, noise)


def _shades(picture: ColorPicture, bar: Bar) -> Shades:
    """Find half-transparent boxes in luma, which a lossy coding keeps sharp."""
    cv2 = load_cv2()
    if picture.ycc is None:
        # Red and blue change places on purpose: dark ends of maps are often blue, which luma hardly shows.
        return shades(
            picture.rgb, cv2.cvtColor(np.ascontiguousarray(picture.rgb), cv2.COLOR_BGR2GRAY), bar.box_px, False
        )
    return shades(picture.rgb, cv2.extractChannel(np.ascontiguousarray(picture.ycc), 0), bar.box_px, True)


def _saturated(
    picture: ColorPicture, placed: Placed, path: ColorPath, suspected: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Find suspected pixels of the bar's last colours: they are marked as clipped anyway."""
    out = np.zeros(suspected.shape, bool)
    index = np.flatnonzero(suspected)
    at = placed.at.ravel()[index]
    colors = (picture.rgb if picture.ycc is None else picture.ycc).reshape(-1, 3)[index].astype(np.float32)
    end = np.where(at > np.float32(0.5 * SAMPLES), SAMPLES - 1, 0)
    near = np.abs(at - end) < np.float32(_END * SAMPLES)
    out.ravel()[index] = near & (np.abs(colors - path.colors[end]).max(axis=1) < _END_COLOR)
    return out


def _drawn_on(placed: Placed, path: ColorPath) -> NDArray[np.bool_]:
    """Find what was drawn in colours of the path."""
    drawn = np.zeros(placed.off.shape, bool)
    for ink in inks_on_path(path):
        drawn |= strokes(placed.read, placed.off, ink, path)
    return drawn


def _exclude_boxes(excluded: NDArray[np.uint8], bar: Bar, ignore_px: Sequence[Box], keep_out: Sequence[Box]) -> None:
    for x0, y0, x1, y1 in ignore_px:
        excluded[max(0, y0) : max(0, y1), max(0, x0) : max(0, x1)] = Excluded.IGNORED
    for x0, y0, x1, y1 in (*keep_out, _around(bar)):
        excluded[max(0, y0) : max(0, y1), max(0, x0) : max(0, x1)] = Excluded.BAR


def _around(bar: Bar) -> Box:
    x0, y0, x1, y1 = bar.box_px
    return (x0 - _AROUND_BAR_PX, y0 - _AROUND_BAR_PX, x1 + _AROUND_BAR_PX, y1 + _AROUND_BAR_PX)


def _decoded(placed: Placed, path: ColorPath, bar: Bar, scale: BarScale, excluded: NDArray[np.uint8]) -> Decoded:
    shape = excluded.shape
    known = (excluded == Excluded.DECODED).ravel()
    at, noise, u_k = placed.at.ravel(), placed.noise.ravel(), u_decode_k(placed.at, placed.noise, path, scale).ravel()
    temperature, high, low = np.empty(at.size, np.float32), np.empty(at.size, bool), np.empty(at.size, bool)

    def decode(strip: slice) -> None:
        place, nothing = path.place(at[strip]), ~known[strip]
        temperature[strip] = _degc(place, scale)
        temperature[strip][nothing] = np.nan
        u_k[strip][nothing] = np.nan
        own = np.minimum(noise[strip], np.float32(_MOST_NOISE))
        own *= np.float32(_CLIP_SIGMAS)
        own += np.float32(0.25 * path.spacing)
        low_reach, high_reach = (np.maximum(own, np.float32(reach)) for reach in placed.reach)
        high[strip] = known[strip] & (place >= np.float32(path.last) - high_reach)
        low[strip] = known[strip] & (place <= np.float32(path.first) + low_reach)

    in_strips(decode, at.size)
    clipped = high.reshape(shape), low.reshape(shape)
    return Decoded(temperature.reshape(shape), u_k.reshape(shape), excluded, *clipped, bar, scale)


def _degc(place: F32, scale: BarScale) -> F32:
    if len(scale.ticks) == 2:
        low, high = scale.low_degc, scale.high_degc
        return np.asarray(place * np.float32(high - low) + np.float32(low))
    return scale.degc(place).astype(np.float32)
