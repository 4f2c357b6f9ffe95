"""Which pixels belong to which zone.

**The inclusion rule.** A pixel belongs to a zone if its centre, carried onto the board, lies inside the zone or on
its border, and in none of its excluded parts. A zone above the board is met at its height, where the camera's focal
length is known. `elsewhere` is what lies in the outline and in no zone of the side, neither where a raised one appears
nor where it stands (there its flank shows); the excluded parts of a zone belong to nothing.

Only pixels near the projected border are carried onto the board one by one; further in and out a drawn polygon
decides, which gives the same answer for a fraction of the work.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Zone
from irspot.errors import PlacementRefused
from irspot.measurement.outline_px import across_px, border_px
from irspot.opencv import load_cv2
from irspot.registration.heights import at_height
from irspot.registration.placement import Placement
from irspot.shapes import Shape

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
Box = tuple[int, int, int, int]
"""``(row0, row1, column0, column1)``, ends exclusive."""
InFrame = Literal["wholly", "partly", "not"]

_SHIFT: Final = 4
_BAND_PX: Final = 5
"""Width of the band round a border in which pixels are tested one by one; drawing is off by less than a pixel."""
_FAR_PX: Final = 20_000.0
"""Borders that run further out than this (near the horizon) are tested pixel by pixel."""


@dataclass(frozen=True, slots=True, eq=False)
class ZonePixels:
    """The pixels of one zone.

    Parameters
    ----------
    box : tuple of int
        ``(row0, row1, column0, column1)`` of the part of the frame that holds them; empty where there are none.
    mask : ndarray of bool, shape of the box
        True for the zone's pixels.
    across_px : float
        Diameter of the zone's largest inscribed circle.
    in_frame : {"wholly", "partly", "not"}
        How much of the zone the frame shows.
    """

    box: Box
    mask: BoolArray
    across_px: float
    in_frame: InFrame

    @property
    def slices(self) -> tuple[slice, slice]:
        """The box as an index of the frame."""
        row0, row1, column0, column1 = self.box
        return slice(row0, row1), slice(column0, column1)


@dataclass(frozen=True, slots=True, eq=False)
class Geometry:
    """The pixels of all zones of a side.

    Parameters
    ----------
    size_px : tuple of int
        ``(columns, rows)`` of the frame.
    zones : tuple of ZonePixels
        In the board file's order.
    elsewhere : ZonePixels
        The outline less all zones.
    """

    size_px: tuple[int, int]
    zones: tuple[ZonePixels, ...]
    elsewhere: ZonePixels

    @property
    def all(self) -> tuple[ZonePixels, ...]:
        """Zones, then `elsewhere`."""
        return (*self.zones, self.elsewhere)


@lru_cache(maxsize=4)
def geometry_of(board: Board, placement: Placement) -> Geometry:
    """Find the pixels of every zone of the side a placement shows.

    Parameters
    ----------
    board : Board
    placement : Placement
        Kept by identity: the frames of a recording share it, and the work.
    """
    zones = board.zones_of(placement.side)
    views = tuple(placement_of(zone, placement) for zone in zones)
    regions = tuple(_region(zone.shape, view) for zone, view in zip(zones, views, strict=True))
    pixels = tuple(
        _without(region, zone.shape, zone.exclude, view)
        for region, zone, view in zip(regions, zones, views, strict=True)
    )
    feet = tuple(
        _region(zone.shape, placement) for zone, view in zip(zones, views, strict=True) if view is not placement
    )
    return Geometry(placement.size_px, pixels, _elsewhere(board.outline, regions + feet, placement))


def placement_of(zone: Zone, placement: Placement) -> Placement:
    """Give the placement that carries a zone: the board's, raised by the zone's height where that can be done.

    Raises
    ------
    PlacementRefused
        With cause ``height`` where the zone would reach the camera.
    """
    try:
        return at_height(placement, zone.height_mm)
    except PlacementRefused as refused:
        refused.key = f"zone {zone.id}: {refused.key}"
        raise


def check_shape(shape: tuple[int, int], placement: Placement, file: str) -> None:
    """Refuse a frame of another size than the placement's.

    Raises
    ------
    PlacementRefused
        With cause ``size``.
    """
    columns, rows = placement.size_px
    if shape != (rows, columns):
        raise PlacementRefused(
            "the frame is not of the size the board was placed in",
            cause="size",
            file=file,
            found=f"{shape[1]} x {shape[0]} px",
            wanted=f"{columns} x {rows} px",
        )


def zone_pixels(shape: Shape, exclude: tuple[Shape, ...], placement: Placement) -> ZonePixels:
    """Find the pixels of one zone.

    Parameters
    ----------
    shape : Polygon or Circle
    exclude : tuple of Polygon or Circle
    placement : Placement
    """
    return _without(_region(shape, placement), shape, exclude, placement)


def inside(shape: Shape, placement: Placement, box: Box, border: FloatArray | None = None) -> BoolArray:
    """Say which pixels of a box have their centre in a shape, border included.

    Parameters
    ----------
    shape : Polygon or Circle
    placement : Placement
    box : tuple of int
    border : ndarray, shape (n, 2), optional
        The shape's border in px, if it is known already.

    Returns
    -------
    ndarray of bool, shape of the box
    """
    border = border_px(shape, placement) if border is None else border
    if not np.all(np.abs(border) < _FAR_PX):
        return inside_one_by_one(shape, placement, box)
    return _inside_drawn(shape, placement, box, border)


def inside_one_by_one(shape: Shape, placement: Placement, box: Box) -> BoolArray:
    """Say the same as `inside` by carrying the centre of every pixel onto the board."""
    row0, row1, column0, column1 = box
    rows, columns = np.mgrid[row0:row1, column0:column1]
    return _test(shape, placement, rows.ravel(), columns.ravel()).reshape(row1 - row0, column1 - column0)


def box_in_frame(border: FloatArray, size_px: tuple[int, int]) -> Box:
    """Find the part of a frame whose pixel centres a border can enclose; the whole frame for one with NaN."""
    columns, rows = size_px
    if not np.all(np.isfinite(border)):
        return 0, rows, 0, columns
    # Half a pixel more than needed: rounding must not lose a centre that lies on the border.
    x0, y0 = np.ceil(border.min(axis=0) - 0.5)
    x1, y1 = np.floor(border.max(axis=0) + 0.5) + 1.0
    row0, row1 = np.clip([y0, y1], 0, rows).astype(int)
    column0, column1 = np.clip([x0, x1], 0, columns).astype(int)
    return int(row0), max(int(row0), int(row1)), int(column0), max(int(column0), int(column1))


def _inside_drawn(shape: Shape, placement: Placement, box: Box, border: FloatArray) -> BoolArray:
    cv2 = load_cv2()

    row0, row1, column0, column1 = box
    drawn = np.zeros((row1 - row0, column1 - column0), dtype=np.uint8)
    if not drawn.size:
        return drawn.astype(bool)
    corners = np.round((border - [column0, row0]) * (1 << _SHIFT)).astype(np.int32)
    cv2.fillPoly(drawn, [corners], 1, cv2.LINE_8, _SHIFT)
    cv2.polylines(drawn, [corners], True, 2, _BAND_PX, cv2.LINE_8, _SHIFT)
    rows, columns = np.nonzero(drawn == 2)
    mask: BoolArray = drawn == 1
    mask[rows, columns] = _test(shape, placement, rows + row0, columns + column0)
    return mask


def _test(shape: Shape, placement: Placement, rows: NDArray[np.integer], columns: NDArray[np.integer]) -> BoolArray:
    x_mm, y_mm = placement.to_mm(np.column_stack([columns, rows]).astype(np.float64)).T
    return shape.contains(x_mm, y_mm)


def _in_frame(border: FloatArray, has_pixels: bool, size_px: tuple[int, int]) -> InFrame:
    """Say how much of a zone lies in the frame, whose edge is half a pixel beyond its outermost centres."""
    edge = np.array(size_px) - 0.5
    shown = np.all((border >= -0.5) & (border <= edge), axis=1)
    if np.all(shown):
        return "wholly"
    return "partly" if has_pixels or np.any(shown) else "not"


@dataclass(frozen=True, slots=True, eq=False)
class _Region:
    """All pixels of a shape, excluded parts included."""

    box: Box
    mask: BoolArray
    in_frame: InFrame


def _region(shape: Shape, placement: Placement) -> _Region:
    border = border_px(shape, placement)
    box = box_in_frame(border, placement.size_px)
    mask = inside(shape, placement, box, border)
    return _Region(box, mask, _in_frame(border, bool(mask.any()), placement.size_px))


def _without(region: _Region, shape: Shape, exclude: tuple[Shape, ...], placement: Placement) -> ZonePixels:
    mask = region.mask
    for part in exclude:
        mask = mask & ~inside(part, placement, region.box)
    return _frozen(region.box, mask, across_px(shape, exclude, placement), region.in_frame)


def _elsewhere(outline: Shape, zones: tuple[_Region, ...], placement: Placement) -> ZonePixels:
    board = _region(outline, placement)
    mask = board.mask.copy()
    for zone in zones:
        _take_out(mask, board.box, zone)
    return _frozen(board.box, mask, _across_of_mask(mask), board.in_frame)


def _take_out(mask: BoolArray, box: Box, zone: _Region) -> None:
    row0, row1 = max(zone.box[0], box[0]), min(zone.box[1], box[1])
    column0, column1 = max(zone.box[2], box[2]), min(zone.box[3], box[3])
    if row0 < row1 and column0 < column1:
        taken = zone.mask[row0 - zone.box[0] : row1 - zone.box[0], column0 - zone.box[2] : column1 - zone.box[2]]
        mask[row0 - box[0] : row1 - box[0], column0 - box[2] : column1 - box[2]] &= ~taken


def _across_of_mask(mask: BoolArray) -> float:
    """Diameter of the largest circle in a region known by its pixels only, to a pixel, by the distance transform."""
    cv2 = load_cv2()

    if not mask.any():
        return 0.0
    padded = np.pad(mask.astype(np.uint8), 1)
    # From a centre to the nearest centre outside is half a pixel further than to the border between them.
    return 2.0 * float(cv2.distanceTransform(padded, cv2.DIST_L2, cv2.DIST_MASK_PRECISE).max()) - 1.0


def _frozen(box: Box, mask: BoolArray, across: float, in_frame: InFrame) -> ZonePixels:
    mask.flags.writeable = False
    return ZonePixels(box, mask, across, in_frame)
