"""An emissivity map at the pixels of a measured frame, which itself is never resampled.

The centre of each measured pixel is carried onto the board, or onto the plane of a raised zone, and from there into the
even frame, where the map is read linearly between its pixels. Places are computed at every eighth pixel and
interpolated: over so few pixels no lens and no view bends by a hundredth of one.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Zone
from irspot.measurement.even_map import EmissivityMap, differences, u_shared
from irspot.measurement.geometry import placement_of
from irspot.measurement.viewed import difference_deg, scale_px_per_mm
from irspot.opencv import load_cv2
from irspot.registration.placement import Placement

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]
Part = tuple[slice, slice]

_NODE_PX: Final = 8
_NOWHERE_PX: Final = -1e6
_BETWEEN_PX: Final = 0.25
"""What reading between pixels blurs, as a standard deviation: 0.5 px at most, in the middle of four."""
_UNKNOWN_PX: Final = 0.5
"""Standard uncertainty of places in a frame whose placement states none: of points given by hand (common practice)."""
_MOVES: Final = 2.0
"""A map is looked at as far around a pixel as its place may be off, in standard uncertainties."""


@dataclass(frozen=True, slots=True, eq=False)
class MapPart:
    """Emissivities of the pixels of a part of a measured frame.

    Parameters
    ----------
    emissivity : ndarray of float32, shape (rows, columns)
        NaN where the map tells nothing.
    u_own : ndarray of float32, that shape
        By the map's noise.
    u_place : ndarray of float32, that shape
        By what lies beside the pixel, whose place in the map is uncertain.
    u_shared : ndarray of float32, that shape
        By what all pixels of the map have in common.
    reach_px : float
        As far around a pixel the map was looked at.
    """

    emissivity: F32
    u_own: F32
    u_place: F32
    u_shared: F32
    reach_px: float

    def cut(self, part: Part) -> MapPart:
        """Give a part of the part."""
        return MapPart(self.emissivity[part], self.u_own[part], self.u_place[part], self.u_shared[part], self.reach_px)


def map_part(mapped: EmissivityMap, board: Board, zone: Zone, placement: Placement, part: Part) -> MapPart:
    """Read a map at the pixels of a part of a measured frame.

    Parameters
    ----------
    mapped : EmissivityMap
    board : Board
    zone : Zone
        Whose height counts.
    placement : Placement
        Of the board in the measured frame.
    part : tuple of slice

    Returns
    -------
    MapPart
    """
    views = placement_of(zone, placement), placement_of(zone, mapped.placement)
    shift_px = _shift_px(mapped, board, placement)
    if zone.height_mm != 0.0 and views[0] is placement:
        shift_px = float(np.hypot(shift_px, _parallax_px(mapped, board, zone, placement)))
        return _whole(mapped, placement, mapped.placement, shift_px).cut(part)
    if views[0] is placement:
        return _whole(mapped, placement, mapped.placement, shift_px).cut(part)
    return _read(mapped, *views, part, shift_px)


@lru_cache(maxsize=4)
def _whole(mapped: EmissivityMap, placement: Placement, even: Placement, shift_px: float) -> MapPart:
    columns, rows = placement.size_px
    return _read(mapped, placement, even, (slice(0, rows), slice(0, columns)), shift_px)


def _read(mapped: EmissivityMap, placement: Placement, even: Placement, part: Part, shift_px: float) -> MapPart:
    cv2 = load_cv2()
    x, y = places_in_map(placement, even, part)
    reach = max(1, int(np.ceil(_MOVES * shift_px)))

    def read(values: F32) -> F32:
        return np.asarray(cv2.remap(values, x, y, cv2.INTER_LINEAR, borderValue=float("nan")), np.float32)

    emissivity = read(mapped.emissivity)
    # What differs within the reach does so over the reach: one standard uncertainty of the place is a part of it.
    u_place = read(differences(mapped, reach)) * np.float32(shift_px / reach)
    u_own = read(mapped.noise)
    return MapPart(emissivity, u_own, u_place, u_shared(emissivity, mapped.taken, mapped.camera), float(reach))


def places_in_map(placement: Placement, even: Placement, part: Part) -> tuple[F32, F32]:
    """Carry the pixel centres of a part of a frame into the even frame.

    Parameters
    ----------
    placement, even : Placement
        Of one plane of the board in the measured and in the even frame.
    part : tuple of slice

    Returns
    -------
    tuple of ndarray of float32, each of the part's shape
        x and y.
    """
    row0, column0 = part[0].start, part[1].start
    rows, columns = part[0].stop - row0, part[1].stop - column0
    # Resizing by a whole factor puts a node in the middle of its eight pixels; one more on each side bounds the border.
    middle = (_NODE_PX - 1) / 2.0
    at_y = row0 + middle + _NODE_PX * np.arange(-1, -(-rows // _NODE_PX) + 1)
    at_x = column0 + middle + _NODE_PX * np.arange(-1, -(-columns // _NODE_PX) + 1)
    grid = np.stack(np.meshgrid(at_x, at_y), axis=-1)
    carried = even.to_px(placement.to_mm(grid.reshape(-1, 2))).reshape(grid.shape)
    # A place that meets no board is far outside the map, and so is whatever is interpolated towards it.
    carried = np.nan_to_num(carried, nan=_NOWHERE_PX).astype(np.float32)
    cv2 = load_cv2()
    size = (_NODE_PX * len(at_x), _NODE_PX * len(at_y))
    whole = [cv2.resize(np.ascontiguousarray(carried[..., k]), size, interpolation=cv2.INTER_LINEAR) for k in (0, 1)]
    inner = np.s_[_NODE_PX : _NODE_PX + rows, _NODE_PX : _NODE_PX + columns]
    x, y = (np.ascontiguousarray(each[inner]) for each in whole)
    return x, y


@lru_cache(maxsize=8)
def _shift_px(mapped: EmissivityMap, board: Board, placement: Placement) -> float:
    """Standard uncertainty of a pixel's place in the map, px there, with what differs in blur between the frames."""
    scale = scale_px_per_mm(mapped.placement, board) / scale_px_per_mm(placement, board)
    at_mm = board.outline.array_mm
    here, there = (_u_px(each, at_mm) for each in (placement, mapped.placement))
    blur = mapped.blur_px * float(np.sqrt(abs(1.0 - scale**2)))
    return float(np.linalg.norm([there, scale * here, blur, _BETWEEN_PX]))


def _u_px(placement: Placement, at_mm: FloatArray) -> float:
    """Root mean square over the corners."""
    u_px = placement.u_px_at(at_mm)
    return float(np.sqrt(np.mean(u_px**2))) if np.isfinite(u_px).all() else _UNKNOWN_PX


def _parallax_px(mapped: EmissivityMap, board: Board, zone: Zone, placement: Placement) -> float:
    """How far a raised surface, its height not corrected, may be shifted from one frame to the other."""
    angle = np.radians(difference_deg(placement, mapped.placement, board))
    return abs(zone.height_mm) * float(np.tan(angle)) * scale_px_per_mm(mapped.placement, board)
