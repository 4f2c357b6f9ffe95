"""How far a zone's maximum may be off because the zone's border is not quite where it was placed.

A maximum changes with the border only where that cuts a slope, so the gradient at the hot spot itself says nothing.
Instead the zone is moved by two standard uncertainties, in `_WAYS` directions round the ellipse of its covariance, each
part of its border by its own, and measured again: ::

    u = max |M(moved) - M| / 2

M being the highest temperature on the frame's own pixels whose centres lie in the zone and, so that a move of less than
a pixel counts for what it is, along the border itself, read linearly between pixels. Where the border cuts an even
slope g this is the first-order uncertainty √(gᵀ C g) of JCGM 100:2008, 5.1.2; where something hot stands beside the
border, two u are what it changes, as far as the border may reach; where the hottest place lies inside by more than
that, and nothing hotter outside, it is 0.

The covariance is the placement's, and that of counting pixels by their centres: the outermost pixel that counts lies up
to a pixel inside the border (`borders`), whatever the placement.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.measurement.borders import Area, largest_of
from irspot.measurement.geometry import ZonePixels
from irspot.opencv import load_cv2

Float32Array = NDArray[np.float32]
FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_WAYS: Final = 12
_MOVE_U: Final = 2.0
_AT_ONCE: Final = 64
_SLACK_PX: Final = 1.0
"""Between a pixel and the place of the border next to it, for the distance of places and whole pixels."""
_ROW: Final = 1024


def misplaced_k(degc: Float32Array, sound: BoolArray, where: ZonePixels, area: Area) -> float:
    """Standard uncertainty of a zone's maximum by the zone's place.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Temperatures of the frame.
    sound : ndarray of bool, that shape
        Pixels that count.
    where : ZonePixels
        The zone's.
    area : Area
        The same zone's borders.

    Returns
    -------
    float
        K; NaN for a zone without sound pixels.
    """
    reach = _MOVE_U * area.u_px
    if not np.isfinite(reach):
        return float("nan")
    box, mask = _padded(where, degc.shape, int(np.ceil(reach)) + 2)
    part = np.s_[box[0] : box[1], box[2] : box[3]]
    values = np.where(sound[part], degc[part], np.float32(np.nan))
    return _moved(values, mask, area, np.array([box[2], box[0]], np.float64), reach)


def _moved(values: Float32Array, mask: BoolArray, area: Area, corner_px: FloatArray, reach: float) -> float:
    cv2 = load_cv2()
    # A square of this half-width holds whatever is within reach, and the pixels that a place there is read from.
    half = int(np.ceil(reach)) + 1
    block = np.ones((2 * half + 1, 2 * half + 1), np.uint8)
    core = cv2.erode(mask.view(np.uint8), block, borderValue=1).view(bool)
    band = cv2.dilate(mask.view(np.uint8), block).view(bool) & ~core
    inner, maximum = _hottest(values[core]), _hottest(values[mask])
    around = _hottest(values[band])
    if np.isnan(maximum) or (inner >= maximum and not around > maximum):
        return 0.0 if np.isfinite(maximum) else float("nan")
    border = _border(area, mask, corner_px)
    if border is None:
        return 0.0
    along = _along(values, border.places, _moves(border.roots))
    levels = _with_pixels(values, band, np.fmax(along[1:], inner), border, area, corner_px)
    change = np.abs(levels - np.fmax(maximum, along[0]))
    return float(np.nanmax(change)) / _MOVE_U if np.isfinite(change).any() else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Border:
    """The border of a zone within a part of the frame.

    Parameters
    ----------
    places : ndarray, shape (n, 2)
        px of the part.
    roots : ndarray, shape (n, 2, 2)
    u_px : ndarray, shape (n,)
        Largest standard uncertainty of each place.
    nearest : ndarray of int, shape of the part
        The border's place next to each pixel.
    mask : ndarray of bool, shape of the part
        The zone's pixels.
    """

    places: FloatArray
    roots: FloatArray
    u_px: FloatArray
    nearest: NDArray[np.intp]
    mask: BoolArray


def _border(area: Area, mask: BoolArray, corner_px: FloatArray) -> _Border | None:
    """Take the places of borders that really bound the zone, beside one of its pixels; None if there are none."""
    cv2 = load_cv2()
    near = cv2.dilate(mask.view(np.uint8), np.ones((3, 3), np.uint8)).view(bool)
    places = area.places_px - corner_px
    with np.errstate(invalid="ignore"):
        within = np.all((places >= -0.5) & (places < np.array(mask.shape[::-1]) - 0.5), axis=1)
    at = np.rint(places[within]).astype(int)
    mine = near[at[:, 1], at[:, 0]]
    kept, at = np.flatnonzero(within)[mine], at[mine]
    if not len(kept):
        return None
    free = np.ones(mask.shape, np.uint8)
    free[at[:, 1], at[:, 0]] = 0
    labels = cv2.distanceTransformWithLabels(free, cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL)[1]
    # A pixel of the border has a label of its own, which stands for one of the places in it.
    place_of = np.zeros(int(labels.max()) + 1, np.intp)
    place_of[labels[at[:, 1], at[:, 0]]] = np.arange(len(kept))
    roots = area.roots[kept]
    return _Border(places[kept], roots, largest_of(roots), place_of[labels], mask)


def _with_pixels(
    values: Float32Array, band: BoolArray, levels: FloatArray, border: _Border, area: Area, corner_px: FloatArray
) -> FloatArray:
    """Raise the level of each move to the hottest pixel that the zone then holds, hottest pixels first."""
    levels = levels.copy()
    lowest = float(levels.min())
    rows, columns = np.nonzero(band if np.isnan(lowest) else band & (values > lowest))
    pixels = np.column_stack([columns, rows]).astype(np.float64)
    nearest = border.nearest[rows, columns]
    # What lies outside and further off than the border can come is left out at once.
    away = np.hypot(*(pixels - border.places[nearest]).T) - _SLACK_PX > _MOVE_U * border.u_px[nearest]
    kept = np.flatnonzero(border.mask[rows, columns] | ~away)
    degc = values[rows[kept], columns[kept]]
    order = kept[np.argsort(-degc, kind="stable")]
    open_ = np.ones(len(levels), bool)
    for first in range(0, len(order), _AT_ONCE):
        few = order[first : first + _AT_ONCE]
        hottest = values[rows[few], columns[few]]
        open_ &= ~(levels >= hottest[0])
        if not open_.any():
            break
        back = pixels[few] - _moves(border.roots[nearest[few]])[open_]
        held = area.holds(back.reshape(-1, 2) + corner_px).reshape(back.shape[:2])
        hit = held.any(axis=1)
        which = np.flatnonzero(open_)[hit]
        levels[which] = np.fmax(levels[which], hottest[held[hit].argmax(axis=1)])
        open_[which] = False
    return levels


def _moves(roots: FloatArray) -> FloatArray:
    """Moves of places by two standard uncertainties, shape (ways, n, 2)."""
    turn = 2.0 * np.pi * np.arange(_WAYS) / _WAYS
    towards = _MOVE_U * np.column_stack([np.cos(turn), np.sin(turn)])
    return np.asarray(np.einsum("nij,kj->kni", roots, towards))


def _padded(where: ZonePixels, shape: tuple[int, ...], margin: int) -> tuple[tuple[int, int, int, int], BoolArray]:
    """Give a zone's mask with room around it, as far as the frame goes."""
    row0, row1, column0, column1 = where.box
    box = (
        max(0, row0 - margin),
        min(shape[0], row1 + margin),
        max(0, column0 - margin),
        min(shape[1], column1 + margin),
    )
    mask = np.zeros((box[1] - box[0], box[3] - box[2]), bool)
    mask[row0 - box[0] : row1 - box[0], column0 - box[2] : column1 - box[2]] = where.mask
    return box, mask


def _on_border(area: Area, mask: BoolArray, corner_px: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Take the places of borders that really bound the zone: beside one of its pixels."""
    near = load_cv2().dilate(mask.view(np.uint8), np.ones((3, 3), np.uint8)).view(bool)
    places = area.places_px - corner_px
    with np.errstate(invalid="ignore"):
        within = np.all((places >= -0.5) & (places < np.array(mask.shape[::-1]) - 0.5), axis=1)
    at = np.rint(places[within]).astype(int)
    kept = np.flatnonzero(within)[near[at[:, 1], at[:, 0]]]
    return places[kept], area.roots[kept]


def _along(values: Float32Array, places: FloatArray, moves: FloatArray) -> FloatArray:
    """Hottest places of a border where it is, and after each of its moves, read linearly between pixels.

    Beside pixels that do not count, and beyond the part of the frame, nothing is read.
    """
    cv2 = load_cv2()
    where = np.empty((2, (len(moves) + 1) * len(places) + _ROW), np.float32)
    count = where.shape[1] - _ROW
    for axis in range(2):
        rows = where[axis, :count].reshape(len(moves) + 1, -1)
        rows[0] = places[:, axis]
        np.add(moves[:, :, axis], places[:, axis], out=rows[1:], casting="same_kind")
    where[:, count:] = 0.0
    # OpenCV reads no more than 32,767 places in a row.
    maps = where[:, : -(-count // _ROW) * _ROW].reshape(2, -1, _ROW)
    read = cv2.remap(values, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=float("nan"))
    return np.asarray(np.fmax.reduce(read.ravel()[:count].reshape(len(moves) + 1, -1), axis=1), np.float64)


def _hottest(values: NDArray[Any]) -> float:
    return float(np.fmax.reduce(values, initial=np.nan))
