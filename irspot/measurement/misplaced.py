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

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.measurement.borders import Area, areas_of
from irspot.measurement.geometry import ZonePixels, geometry_of
from irspot.measurement.pixels import Pixels
from irspot.opencv import load_cv2
from irspot.registration.placement import Placement

Float32Array = NDArray[np.float32]
FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_WAYS: Final = 12
_MOVE_U: Final = 2.0
_AT_ONCE: Final = 32
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
    box, mask = _padded(where, degc.shape, int(np.ceil(reach)) + 2)
    part = np.s_[box[0] : box[1], box[2] : box[3]]
    values = np.where(sound[part], degc[part], np.float32(np.nan))
    return _moved(values, mask, area, np.array([box[2], box[0]], np.float64), reach)


def misplaced_all_k(board: Board, placement: Placement, pixels: Pixels) -> tuple[float, ...]:
    """Give `misplaced_k` of every zone of the side a placement shows, and of `elsewhere`; 0 where nothing tells."""
    places, areas = geometry_of(board, placement).all, areas_of(board, placement)
    if areas is None:
        return (0.0,) * len(places)
    found = [misplaced_k(pixels.radiance_degc, pixels.sound, *each) for each in zip(places, areas, strict=True)]
    return tuple(u_k if np.isfinite(u_k) else 0.0 for u_k in found)


def _moved(values: Float32Array, mask: BoolArray, area: Area, corner_px: FloatArray, reach: float) -> float:
    cv2 = load_cv2()
    # A square of this half-width holds whatever is within reach, and the pixels that a place there is read from.
    half = int(np.ceil(reach)) + 1
    block = np.ones((2 * half + 1, 2 * half + 1), np.uint8)
    core = cv2.erode(mask.view(np.uint8), block, borderValue=1).view(bool)
    band = cv2.dilate(mask.view(np.uint8), block).view(bool) & ~core
    inner, maximum = _hottest(values[core]), _hottest(values[mask])
    if np.isnan(maximum) or (inner >= maximum and not _hottest(values[band]) > maximum):
        return 0.0 if np.isfinite(maximum) else float("nan")
    places, roots = _on_border(area, mask, corner_px)
    if not len(places):
        return 0.0
    along = _along(values, places, _moves(roots))
    levels = np.fmax(along[1:], inner)
    peaks = _peaks(values, band, levels)
    if len(peaks):
        near, found = _nearest(peaks, places, half)
        of_peaks = np.where(found[:, None, None], roots[near], 0.0)
        # What lies outside, and further off than the border can come, is in no moved zone.
        kept = found | mask[peaks[:, 1], peaks[:, 0]]
        levels = _with_peaks(values, peaks[kept], of_peaks[kept], levels, area, corner_px)
    change = np.abs(levels - np.fmax(maximum, along[0]))
    return float(np.nanmax(change)) / _MOVE_U if np.isfinite(change).any() else 0.0


def _on_border(area: Area, mask: BoolArray, corner_px: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Take the places of borders that really bound the zone, beside one of its pixels, and their roots."""
    near = load_cv2().dilate(mask.view(np.uint8), np.ones((3, 3), np.uint8)).view(bool)
    places = area.places_px - corner_px
    within = np.all((places >= -0.5) & (places < np.array(mask.shape[::-1]) - 0.5), axis=1)
    at = np.rint(places[within]).astype(int)
    kept = np.flatnonzero(within)[near[at[:, 1], at[:, 0]]]
    return places[kept], area.roots[kept]


def _peaks(values: Float32Array, band: BoolArray, levels: FloatArray) -> NDArray[np.intp]:
    """Give the pixels of a band, hottest first, that could raise a level: no neighbour is hotter.

    Returns
    -------
    ndarray of int, shape (n, 2)
        x and y.

    Notes
    -----
    Of a pixel with a hotter neighbour a zone holds that too, or its border runs between the two and is at least as hot.
    """
    cv2 = load_cv2()
    lowest = -np.inf if np.isnan(levels).any() else float(levels.min())
    known = np.where(np.isnan(values), np.float32(-np.inf), values)
    rows, columns = np.nonzero(band & (known > lowest) & (known >= cv2.dilate(known, np.ones((3, 3), np.uint8))))
    order = np.argsort(-values[rows, columns], kind="stable")
    return np.column_stack([columns[order], rows[order]])


def _nearest(pixels: NDArray[np.intp], places: FloatArray, half: int) -> tuple[NDArray[np.intp], BoolArray]:
    """Find the place of a border next to each pixel, if there is one at most so many pixels off in x and y."""
    at = np.rint(places).astype(np.intp)
    low = np.minimum(at.min(axis=0), pixels.min(axis=0)) - half
    size = np.maximum(at.max(axis=0), pixels.max(axis=0)) + half + 1 - low
    number = np.full(size, -1, np.int32)
    number[tuple((at - low).T)] = np.arange(len(at))
    steps = np.arange(-half, half + 1)
    x, y = (pixels - low).T
    there = number[x[:, None, None] + steps[:, None], y[:, None, None] + steps].reshape(len(pixels), -1)
    apart = np.square(places[there] - pixels[:, None]).sum(axis=2)
    apart[there < 0] = np.inf
    best = apart.argmin(axis=1)
    row = np.arange(len(pixels))
    return there[row, best].astype(np.intp), np.isfinite(apart[row, best])


def _with_peaks(
    values: Float32Array,
    peaks: NDArray[np.intp],
    roots: FloatArray,
    levels: FloatArray,
    area: Area,
    corner_px: FloatArray,
) -> FloatArray:
    """Raise the level of each move to the hottest peak that the zone then holds, hottest peaks first."""
    levels = levels.copy()
    open_ = np.ones(len(levels), bool)
    for first in range(0, len(peaks), _AT_ONCE):
        few = peaks[first : first + _AT_ONCE]
        hottest = values[few[:, 1], few[:, 0]]
        open_ &= ~(levels >= hottest[0])
        if not open_.any():
            break
        back = few - _moves(roots[first : first + _AT_ONCE])[open_]
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
