"""What a page needs of one frame: its temperatures, where its zones lie, and how its pixels become millimetres."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import ELSEWHERE, Board, Zone
from irspot.measurement import geometry_of
from irspot.opencv import load_cv2
from irspot.registration.distortion import axes
from irspot.registration.heights import at_height
from irspot.registration.placement import Placement
from irspot.rendering.report.grid import PackedGrid, packed, tenths_of
from irspot.results import Reading
from irspot.shapes import Shape

FloatArray = NDArray[np.float64]

OUTSIDE: Final = 0
"""Of the board; `elsewhere` and the zones follow, in the order of `ShownFrame.zones`."""
_MARGIN: Final = 0.04
"""Of the board's size in the frame, kept around it."""
_PIECES: Final = 60
"""That the longer side of a board is cut into, where a lens bends straight lines."""
_CORNERS: Final = 8
"""Borders of so many points are drawn as they are."""
_STRAIGHT_PX: Final = 0.2
"""By so much a border drawn may pass by the border."""
BESIDE_K: Final = 0.5
"""What lies beside the board is shown to: it is read with the board's emissivity, and its noise costs room."""


@dataclass(frozen=True, slots=True)
class Lens:
    """A lens that bends straight lines, as `irspot.registration.distortion` has it.

    Parameters
    ----------
    focal_px : float
    middle_px : tuple of float
        Where the optical axis meets the image.
    distortion : tuple of float
        k1 k2 p1 p2 k3.
    """

    focal_px: float
    middle_px: tuple[float, float]
    distortion: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class ShownZone:
    """A zone of a shown frame.

    Parameters
    ----------
    zone : str
        Its id.
    paths : tuple of str
        Its border and those of what it excludes, in px of the frame, as SVG path data; none of `elsewhere`.
    hot_px : tuple of int, or None
        Its hottest pixel: column, row.
    to_mm : tuple of nine floats, or None
        Of a zone above the board: what `ShownFrame.to_mm` is for the board.
    """

    zone: str
    paths: tuple[str, ...] = ()
    hot_px: tuple[int, int] | None = None
    to_mm: tuple[float, ...] | None = None


@dataclass(frozen=True, slots=True)
class ShownFrame:
    """A frame as a page shows it.

    Parameters
    ----------
    grid : PackedGrid
        The board and what lies close around it; all of a frame in which it was not placed.
    origin_px : tuple of int
        Column and row of the frame that the grid starts at.
    outline : str
        Of the board, as SVG path data; empty where it was not placed.
    zones : tuple of ShownZone
        First `elsewhere`, then those of the side seen, in the board file's order; empty where it was not placed.
    to_mm : tuple of nine floats, or None
        Homography from px of the undistorted image to board mm, row by row.
    lens : Lens or None
        None where it bends nothing.
    """

    grid: PackedGrid
    origin_px: tuple[int, int]
    outline: str = ""
    zones: tuple[ShownZone, ...] = ()
    to_mm: tuple[float, ...] | None = None
    lens: Lens | None = None


def shown_frame(
    surface_degc: NDArray[Any], board: Board, placement: Placement | None, readings: Sequence[Reading]
) -> ShownFrame:
    """Make of a frame what a page shows of it.

    Parameters
    ----------
    surface_degc : ndarray, shape (rows, columns)
        Surface temperatures; NaN where not measured.
    board : Board
    placement : Placement or None
        None shows the whole frame without zones.
    readings : sequence of Reading
        Of this frame: nothing is measured here, and each zone's hottest pixel displays what its row says.
    """
    if placement is None:
        nowhere = np.zeros(surface_degc.shape, np.uint16)
        return ShownFrame(packed(tenths_of(surface_degc), nowhere), (0, 0))
    labels = _labels(board, placement, surface_degc.shape)
    beside = np.floor(surface_degc / BESIDE_K + 0.5) * BESIDE_K
    tenths = tenths_of(np.where(labels == OUTSIDE, beside, surface_degc))
    by_zone = {reading.zone: reading for reading in readings}
    zones = []
    for number, zone in enumerate((None, *board.zones_of(placement.side)), start=1):
        reading = by_zone.get(ELSEWHERE if zone is None else zone.id)
        hot_px = None if reading is None else _hottest_pixel(reading, surface_degc, labels == number)
        if reading is not None and hot_px is not None:
            tenths[hot_px[1], hot_px[0]] = tenths_of(np.array([reading.pixel_max_degc]))[0]
        zones.append(ShownZone(ELSEWHERE, (), hot_px) if zone is None else _shown_zone(zone, board, placement, hot_px))
    outline_px = _border_px(board.outline, board, placement)
    rows, columns = _around(outline_px, labels)
    part = (slice(*rows), slice(*columns))
    return ShownFrame(
        packed(tenths[part], labels[part]),
        (columns[0], rows[0]),
        _path(outline_px),
        tuple(zones),
        _inverse(placement),
        _lens(placement),
    )


def _labels(board: Board, placement: Placement, shape: tuple[int, ...]) -> NDArray[np.uint16]:
    """Say of every pixel which zone it belongs to, the first of several, as the temperatures do."""
    places = geometry_of(board, placement)
    labels = np.zeros(shape, np.uint16)
    numbered = [(1, places.elsewhere), *enumerate(places.zones, start=2)]
    for number, where in reversed(numbered):
        labels[where.slices][where.mask] = number
    return labels


def _hottest_pixel(reading: Reading, surface_degc: NDArray[Any], inside: NDArray[np.bool_]) -> tuple[int, int] | None:
    """Find the pixel that a reading's hot spot, which is finer than a pixel, belongs to."""
    if not (math.isfinite(reading.hot_x_px) and math.isfinite(reading.pixel_max_degc)):
        return None
    column, row = round(reading.hot_x_px), round(reading.hot_y_px)
    near = [
        (abs(float(surface_degc[y, x]) - reading.pixel_max_degc), x, y)
        for y in range(max(0, row - 1), min(surface_degc.shape[0], row + 2))
        for x in range(max(0, column - 1), min(surface_degc.shape[1], column + 2))
        if inside[y, x] and math.isfinite(surface_degc[y, x])
    ]
    # Where zones overlap, the place shows the first one's temperature: no pixel then displays the second one's.
    off_k, x, y = min(near, default=(math.inf, 0, 0))
    return (x, y) if off_k < 0.05 else None


def _shown_zone(zone: Zone, board: Board, placement: Placement, hot_px: tuple[int, int] | None) -> ShownZone:
    where = at_height(placement, zone.height_mm)
    paths = tuple(_path(_border_px(shape, board, where)) for shape in (zone.shape, *zone.exclude))
    return ShownZone(zone.id, paths, hot_px, None if where is placement else _inverse(where))


def _border_px(shape: Shape, board: Board, placement: Placement) -> FloatArray:
    step_mm = max(board.outline.box_mm[2:]) / _PIECES if placement.optics.distorted else math.inf
    points = placement.to_px(shape.border_points(step_mm))
    points = points[np.isfinite(points).all(axis=1)]
    if len(points) <= _CORNERS:
        return points
    kept = load_cv2().approxPolyDP(points.astype(np.float32)[:, None], _STRAIGHT_PX, True)
    return np.asarray(kept[:, 0], np.float64)


def _path(points: FloatArray) -> str:
    return "M" + " ".join(f"{x:.1f} {y:.1f}" for x, y in points) + "Z" if len(points) > 2 else ""


def _around(outline_px: FloatArray, labels: NDArray[np.uint16]) -> tuple[tuple[int, int], tuple[int, int]]:
    """Bound what is shown: rows, then columns, ends exclusive."""
    held = np.argwhere(labels > OUTSIDE)[:, ::-1]
    points = np.vstack([outline_px, held]) if len(held) else outline_px
    if not len(points):
        return (0, labels.shape[0]), (0, labels.shape[1])
    low, high = points.min(axis=0), points.max(axis=0)
    margin = _MARGIN * float((high - low).max()) + 4.0
    column0, row0 = np.maximum(np.floor(low - margin), 0).astype(int)
    column1, row1 = np.minimum(np.ceil(high + margin) + 1, labels.shape[::-1]).astype(int)
    return (int(row0), int(row1)), (int(column0), int(column1))


def _inverse(placement: Placement) -> tuple[float, ...]:
    return tuple(float(f"{value:.9g}") for value in np.linalg.inv(placement.matrix).ravel())


def _lens(placement: Placement) -> Lens | None:
    if not placement.optics.distorted:
        return None
    focal_px, middle_px = axes(placement.optics, placement.size_px)
    return Lens(float(focal_px), (float(middle_px[0]), float(middle_px[1])), placement.optics.distortion)
