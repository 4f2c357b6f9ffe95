"""A board seen straight on: a frame carried onto the board's own millimetres, for showing only.

Nothing is measured on what comes out. Values are interpolated between neighbouring pixels, so none is hotter or colder
than the pixels it was made from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Side
from irspot.camera import NO_OPTICS
from irspot.opencv import load_cv2
from irspot.registration.heights import at_height
from irspot.registration.placement import Placement
from irspot.results import Reading

F32 = NDArray[np.float32]

_FINER: Final = 2.0
"""Pixels of the straight view for one of the frame, so that no detail of the frame is lost."""
_LONGEST_PX: Final = 2000.0
_LEAST_PX: Final = 400.0


@dataclass(frozen=True, slots=True)
class Margins:
    """Room around the board's bounding box, as shares of its longer side."""

    left: float = 0.02
    bottom: float = 0.02
    right: float = 0.02
    top: float = 0.02


FOR_AXES: Final = Margins(left=0.1, bottom=0.07)
"""Room for numbers along the left and the lower edge."""


def straight_on(board: Board, side: Side, px_per_mm: float, margins: Margins) -> Placement:
    """Place a board straight on in a view made for it.

    Parameters
    ----------
    board : Board
    side : {"front", "rear"}
        A rear view has the board's left on its right.
    px_per_mm : float
    margins : Margins

    Returns
    -------
    Placement
        Exact: without perspective or distortion.
    """
    width, height = board.outline.box_mm[2:]
    longer = max(width, height)
    left, right = margins.left * longer, margins.right * longer
    bottom, top = margins.bottom * longer, margins.top * longer
    size = (round((left + width + right) * px_per_mm), round((bottom + height + top) * px_per_mm))
    s = px_per_mm
    x_row = [s, 0.0, s * left - 0.5] if side == "front" else [-s, 0.0, s * (left + width) - 0.5]
    matrix = np.array([x_row, [0.0, -s, s * (top + height) - 0.5], [0.0, 0.0, 1.0]])
    return Placement(matrix, side, NO_OPTICS, size, "corners", 0.0, 0.0, 4, u_point_px=0.0)


def fitting_px_per_mm(board: Board, placements: Sequence[Placement]) -> float:
    """Choose how fine a straight view has to be to keep what frames show.

    Parameters
    ----------
    board : Board
    placements : sequence of Placement
        Of the board in the frames.
    """
    corners = board.outline.array_mm
    longer = max(board.outline.box_mm[2:])
    spans = [np.ptp(placement.to_px(corners), axis=0).max() / longer for placement in placements]
    wanted = _FINER * max(float(span) for span in spans)
    return float(np.clip(wanted, _LEAST_PX / longer, _LONGEST_PX / longer))


def rectified(surface_degc: NDArray[Any], board: Board, placement: Placement, view: Placement) -> F32:
    """Carry a frame onto a straight view of its board.

    Parameters
    ----------
    surface_degc : ndarray, shape (rows, columns)
    board : Board
    placement : Placement
        Of the board in the frame.
    view : Placement
        From `straight_on`.

    Returns
    -------
    ndarray of float32, shape of the view
        Bilinear between pixels; NaN where the frame does not reach, or a neighbouring pixel was not measured. Zones of
        known height are looked up where they appear.
    """
    cv2 = load_cv2()
    columns, rows = view.size_px
    x, y = np.meshgrid(np.arange(columns, dtype=np.float64), np.arange(rows, dtype=np.float64))
    places_mm = view.to_mm(np.column_stack([x.ravel(), y.ravel()]))
    places_px = placement.to_px(places_mm)
    for zone in reversed(board.zones_of(placement.side)):
        where = at_height(placement, zone.height_mm)
        if where is not placement:
            inside = zone.shape.contains(places_mm[:, 0], places_mm[:, 1])
            places_px[inside] = where.to_px(places_mm[inside])
    maps = np.where(np.isfinite(places_px), places_px, -1e6).astype(np.float32).reshape(rows, columns, 2)
    read = cv2.remap(
        np.ascontiguousarray(surface_degc, np.float32),
        maps,
        None,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=float("nan"),
    )
    return np.asarray(read, np.float32)


def seen_in(readings: Sequence[Reading], view: Placement) -> tuple[Reading, ...]:
    """Give readings the places that their hot spots have in a straight view, by their millimetres."""
    places = view.to_px(np.array([[reading.hot_x_mm, reading.hot_y_mm] for reading in readings]).reshape(-1, 2))
    return tuple(
        replace(reading, hot_x_px=float(x), hot_y_px=float(y)) for reading, (x, y) in zip(readings, places, strict=True)
    )
