"""Decode a colour-mapped picture: every pixel to a place on its bar, and to a temperature with its uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Bar, Decoded, Excluded
from irspot.color_wish import BarScale, Box
from irspot.decoding.branches import back_in_range
from irspot.decoding.calm import calmed
from irspot.decoding.chroma import chroma_range, weight_levels
from irspot.decoding.nearest import F32, WEIGHTS, distance, projected, starts
from irspot.decoding.path import ColorPath, exact_path, lossy_path
from irspot.decoding.picture import ColorPicture, ycc_of
from irspot.decoding.uncertainty import frame_noise, luma_noise, place_noise, u_decode_k

Bool = NDArray[np.bool_]

_AROUND_BAR_PX: Final = 3
"""Border, and what colour it sheds, around the bar."""
_QUIET: Final = 12
"""Range of chroma nearby up to which a pixel counts as away from edges."""
_LOSSY_MISS: Final = 1.0
"""Typical distance from the path, per channel, from which colours said to be exact went through a lossy coding."""
_ON_PATH: Final = 12.0
_PROBE: Final = 4001


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Pixels on the path.

    Parameters
    ----------
    at : ndarray of float32, shape (rows, columns)
        Positions in samples.
    luma_miss, chroma_miss : ndarray of float32, that shape
        How far colours lie from there; of exact colours, in the first and in the other channels.
    noise : float
        Of a channel where little happens.
    noise_place : ndarray of float32, that shape
        Standard deviation of places.
    nearby : ndarray of uint8, that shape
        Range of chroma around each pixel; zeros for exact colours.
    """

    at: F32
    luma_miss: F32
    chroma_miss: F32
    noise: float
    noise_place: F32
    nearby: NDArray[np.uint8]


def decode_picture(
    picture: ColorPicture,
    bar: Bar,
    scale: BarScale,
    *,
    ignore_px: Sequence[Box] = (),
    keep_out: Sequence[Box] = (),
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

    Returns
    -------
    Decoded
    """
    picture = _as_coded(picture, bar)
    path = lossy_path(picture, bar) if picture.ycc is not None else exact_path(bar)
    placed = _lossy(picture, path) if picture.ycc is not None else _exact(picture, path)
    excluded = _boxes(picture.shape, bar, ignore_px, keep_out)
    return _decoded(placed, path, bar, scale, excluded)


def _as_coded(picture: ColorPicture, bar: Bar) -> ColorPicture:
    """Take colours said to be exact for what they are where they lie beside the bar's: a screenshot of a JPEG."""
    if picture.ycc is not None:
        return picture
    path = exact_path(bar)
    probe = picture.rgb.reshape(-1, 3)[:: max(1, picture.rgb.size // 3 // _PROBE)]
    planes = _planes(probe)
    start = starts(np.ascontiguousarray(probe), np.zeros(len(probe), np.uint8), path)
    first, others = distance(planes, projected(planes, 1.0, start, path), path)
    miss = np.sqrt(first**2 + others**2)
    near = miss[miss < _ON_PATH]
    if near.size < 0.2 * miss.size or np.median(near) < _LOSSY_MISS:
        return picture
    return replace(picture, ycc=ycc_of(picture.rgb), chroma="420")


def _planes(colors: NDArray[np.uint8]) -> tuple[F32, F32, F32]:
    flat = colors.reshape(-1, 3).astype(np.float32)
    first, second, third = (np.ascontiguousarray(flat[:, channel]) for channel in range(3))
    return first, second, third


def _exact(picture: ColorPicture, path: ColorPath) -> Placed:
    shape = picture.shape
    planes = _planes(picture.rgb)
    level = np.zeros(planes[0].size, np.uint8)
    at = projected(planes, 1.0, starts(picture.rgb.reshape(-1, 3), level, path), path)
    first, others = distance(planes, at, path)
    noise = frame_noise(first, others, np.sqrt(first**2 + others**2) < _ON_PATH, path)
    spread = place_noise(at, noise, 1.0, path)
    return Placed(
        at.reshape(shape),
        first.reshape(shape),
        others.reshape(shape),
        noise,
        spread.reshape(shape),
        np.zeros(shape, np.uint8),
    )


def _lossy(picture: ColorPicture, path: ColorPath) -> Placed:
    assert picture.ycc is not None
    shape = picture.shape
    planes = _planes(picture.ycc)
    nearby = chroma_range(picture.ycc, picture.chroma)
    level = weight_levels(nearby, picture.chroma).ravel()
    weight = np.array(WEIGHTS, np.float32)[level]
    at = projected(planes, weight, starts(picture.ycc.reshape(-1, 3), level, path), path)
    at = back_in_range(at.reshape(shape), planes, weight, nearby, path).ravel()
    first, others = distance(planes, at, path)
    noise = frame_noise(first, others, nearby.ravel() <= _QUIET, path)
    of_luma = luma_noise(np.ascontiguousarray(picture.ycc[..., 0]), picture.luma_steps, noise).ravel()
    flat = place_noise(at, noise, 1.0, path).reshape(shape)
    spread = place_noise(at, of_luma, weight, path).reshape(shape)
    at = np.asarray(calmed(at.reshape(shape), flat / np.float32(path.spacing)))
    return Placed(at, first.reshape(shape), others.reshape(shape), noise, spread, nearby)


def _boxes(shape: tuple[int, int], bar: Bar, ignore_px: Sequence[Box], keep_out: Sequence[Box]) -> NDArray[np.uint8]:
    excluded = np.zeros(shape, np.uint8)
    for x0, y0, x1, y1 in ignore_px:
        excluded[max(0, y0) : max(0, y1), max(0, x0) : max(0, x1)] = Excluded.IGNORED
    x0, y0, x1, y1 = bar.box_px
    around = (x0 - _AROUND_BAR_PX, y0 - _AROUND_BAR_PX, x1 + _AROUND_BAR_PX, y1 + _AROUND_BAR_PX)
    for x0, y0, x1, y1 in (*keep_out, around):
        excluded[max(0, y0) : max(0, y1), max(0, x0) : max(0, x1)] = Excluded.BAR
    return excluded


def _decoded(placed: Placed, path: ColorPath, bar: Bar, scale: BarScale, excluded: NDArray[np.uint8]) -> Decoded:
    known = excluded == Excluded.DECODED
    place = path.place(placed.at)
    nothing = np.float32(np.nan)
    temperature = np.where(known, _degc(place, scale), nothing)
    u_k = np.where(known, u_decode_k(placed.at, placed.noise_place, path, scale), nothing)
    reach = np.float32(1.5) * np.minimum(placed.noise_place, np.float32(0.02)) + np.float32(0.25 * path.spacing)
    high = known & (place >= np.float32(path.last) - reach)
    low = known & (place <= np.float32(path.first) + reach)
    return Decoded(temperature, u_k, excluded, high, low, bar, scale)


def _degc(place: F32, scale: BarScale) -> F32:
    if len(scale.ticks) == 2:
        low, high = scale.low_degc, scale.high_degc
        return np.asarray(place * np.float32(high - low) + np.float32(low))
    return scale.degc(place).astype(np.float32)
