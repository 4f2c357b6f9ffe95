"""Pixels on the bar's path: exact colours, and colours that went through a lossy coding."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Bar
from irspot.color_wish import Box
from irspot.decoding.branches import back_in_range
from irspot.decoding.calm import calmed, fitted
from irspot.decoding.chroma import chroma_range, weight_levels
from irspot.decoding.nearest import F32, WEIGHTS, distance, places_of
from irspot.decoding.overlays import off_palette_exact, off_palette_lossy, with_ink_enclosed
from irspot.decoding.path import SAMPLES, ColorPath, exact_path
from irspot.decoding.picture import ColorPicture, ycc_of
from irspot.decoding.uncertainty import (
    chroma_noise,
    edge_noise,
    end_reach,
    even_noise,
    frame_noise,
    place_noise,
    shift_noise,
)
from irspot.decoding.unmixed import near_edges, unmixed
from irspot.opencv import load_cv2

Bool = NDArray[np.bool_]

_QUIET: Final = 12
"""Range of chroma nearby up to which a pixel counts as away from edges."""
_LOSSY_MISS: Final = 1.25
_LOSSY_QUANTILE: Final = 0.8
"""Distance from the path that most pixels stay below, unless colours said to be exact went through a lossy coding.
Rounding leaves 0.9 at most."""
_ON_PATH: Final = 12.0
_PROBE: Final = 4001
_MIXED_SHARE: Final = 0.05
"""Uncertainty of a pixel between two colours, against how far apart their places are."""


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Pixels on the path.

    Parameters
    ----------
    at : ndarray of float32, shape (rows, columns)
        Positions in samples.
    noise : ndarray of float32, that shape
        Standard deviation of places (0 to 1 along the bar).
    off : ndarray of bool, that shape
        Pixels whose colours are not the bar's.
    undecided : ndarray of bool, that shape
        Pixels at edges, where mixed chroma leaves several places and the surroundings support none.
    reach : tuple of (float, float)
        How near the low and the high end places are that may stand for it, at least.
    channel_noise : float
        Standard deviation of a colour channel where little happens.
    read : ndarray of float32, that shape
        Positions in samples that each pixel's own colour gives.
    """

    at: F32
    noise: F32
    off: Bool
    undecided: Bool
    reach: tuple[float, float]
    channel_noise: float
    read: F32


def as_coded(picture: ColorPicture, bar: Bar) -> ColorPicture:
    """Take colours said to be exact for what they are where they lie beside the bar's: a screenshot of a JPEG."""
    if picture.ycc is not None:
        return picture
    path = exact_path(picture, bar)
    probe = np.ascontiguousarray(picture.rgb.reshape(-1, 3)[:: max(1, picture.rgb.size // 3 // _PROBE)])
    planes = planes_of(probe)
    at = places_of(probe, np.zeros(len(probe), np.uint8), path)
    first, others = distance(planes, at, path)
    miss = np.sqrt(first**2 + others**2)
    # Beyond the ends of the bar colours may be anything exact: saturation, a page.
    near = miss[(miss < _ON_PATH) & (at > 0.0) & (at < SAMPLES - 1.0)]
    if near.size < 0.2 * miss.size or np.quantile(near, _LOSSY_QUANTILE) < _LOSSY_MISS:
        return picture
    return replace(picture, ycc=ycc_of(picture.rgb), chroma="420")


def planes_of(colors: NDArray[np.uint8]) -> tuple[F32, F32, F32]:
    """Split colours into three planes of shape (n,)."""
    channels = load_cv2().split(np.ascontiguousarray(colors.reshape(-1, 1, 3)))
    first, second, third = (channel.ravel().astype(np.float32) for channel in channels)
    return first, second, third


def exact_places(picture: ColorPicture, path: ColorPath) -> Placed:
    """Place the pixels of a picture of exact colours."""
    shape = picture.shape
    planes = planes_of(picture.rgb)
    level = np.zeros(planes[0].size, np.uint8)
    at = places_of(picture.rgb.reshape(-1, 3), level, path)
    first, others = distance(planes, at, path)
    square = first * first + others * others
    near = square[square < _ON_PATH**2][::7]
    noise = frame_noise(near, path)
    off, mixed = off_palette_exact(np.sqrt(square).reshape(shape), at.reshape(shape), planes, path)
    off = with_ink_enclosed(off, at.reshape(shape))
    at[mixed.index] = mixed.at
    spread = np.hypot(even_noise(at, noise, path), shift_noise(at, near, path))
    spread[mixed.index] += np.float32(_MIXED_SHARE * path.spacing) * mixed.spread
    place, nowhere = at.reshape(shape), np.zeros(shape, bool)
    return Placed(place, spread.reshape(shape), off, nowhere, end_reach(noise, path), noise.luma, place)


def lossy_places(picture: ColorPicture, path: ColorPath, skip: Sequence[Box] = ()) -> Placed:
    """Place the pixels of a picture that went through a lossy coding; boxes that hold no picture are done roughly."""
    assert picture.ycc is not None
    shape = picture.shape
    planes = planes_of(picture.ycc)
    nearby = chroma_range(picture.ycc, picture.chroma)
    level = weight_levels(nearby, picture.chroma).ravel()
    weight = load_cv2().LUT(level, np.resize(np.array(WEIGHTS, np.float32), 256)).ravel()
    at = places_of(picture.ycc.reshape(-1, 3), level, path)
    of_edges = edge_noise(np.ascontiguousarray(picture.ycc[..., 0]), picture.luma_steps)
    corrected, undecided = back_in_range(at.reshape(shape), planes, weight, nearby, of_edges, path)
    at = corrected.ravel()
    first, others = distance(planes, at, path)
    quiet = np.flatnonzero(nearby.ravel() <= _QUIET)[::7]
    noise = frame_noise(first[quiet] ** 2 + others[quiet] ** 2, path, picture.luma_steps, picture.chroma_steps)
    off = off_palette_lossy(
        first.reshape(shape), others.reshape(shape), at.reshape(shape), nearby, noise.chroma, picture.chroma
    )
    off = with_ink_enclosed(off, at.reshape(shape))
    # What was drawn over the picture shows in places as they were read: it does not follow from its surroundings.
    read = at.reshape(shape)
    of_luma = np.sqrt(of_edges * of_edges + np.float32(noise.luma**2)).ravel()
    at = unmixed(read, planes, weight, of_luma, near_edges(picture, nearby, skip), picture, path).ravel()
    of_chroma = chroma_noise(nearby, picture.chroma, noise).ravel()
    spread = place_noise(at, of_luma, of_chroma, weight, path).reshape(shape)
    flat = even_noise(at, noise, path).reshape(shape)
    spacing = np.float32(path.spacing)
    at = fitted(calmed(at.reshape(shape), flat / spacing, ~off), spread / spacing, ~off)
    np.clip(at, 0.0, SAMPLES - 1.0, out=at)
    return Placed(at, spread, off, undecided & ~off, end_reach(noise, path), noise.chroma, read)
