"""How much of a board is hotter than a limit, by the frame's own pixels and what each covers on the board."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.registration.placement import Placement
from irspot.results import NAN, Reading
from irspot.uncertain import decimals_of, rounded

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class AreaAbove:
    """Share of a board that is hotter than a limit.

    Parameters
    ----------
    limit_degc : float
    share : float
        Of the board as far as it was measured, 0 to 1; NaN where none of it was.
    low_share, high_share : float
        The same with the limit raised and lowered by `U_k`; NaN where that is not known.
    U_k : float
        Expanded uncertainty (k = 2) of the frame's temperatures: the largest of its readings.
    above_mm2, measured_mm2 : float
    """

    limit_degc: float
    share: float
    low_share: float
    high_share: float
    U_k: float
    above_mm2: float
    measured_mm2: float

    @property
    def text(self) -> str:
        """Say it: ``12.3 % of the board above 90 °C (8.0 to 17.1 % within ± 3.5 K)``."""
        if not math.isfinite(self.share):
            return "nothing of the board was measured"
        told = f"{100.0 * self.share:.1f} % of the board above {self.limit_degc:g} °C"
        if not math.isfinite(self.low_share):
            return told
        within = f"± {rounded(self.U_k, decimals_of(self.U_k))} K"
        return f"{told} ({100.0 * self.low_share:.1f} to {100.0 * self.high_share:.1f} % within {within})"


def area_above(
    surface_degc: NDArray[Any], board: Board, placement: Placement, readings: Sequence[Reading], limit_degc: float
) -> AreaAbove:
    """Find how much of a board is hotter than a limit.

    Parameters
    ----------
    surface_degc : ndarray, shape (rows, columns)
        Surface temperatures; NaN where not measured.
    board : Board
    placement : Placement
    readings : sequence of Reading
        Of the frame.
    limit_degc : float

    Returns
    -------
    AreaAbove
        A pixel belongs to the board if its centre lies inside the outline, and counts with the area on the board's
        plane between its four corners.
    """
    columns, rows = placement.size_px
    x, y = np.meshgrid(np.arange(columns, dtype=np.float64), np.arange(rows, dtype=np.float64))
    places = placement.to_mm(np.column_stack([x.ravel(), y.ravel()]))
    on_board = board.outline.contains(places[:, 0], places[:, 1]).reshape(rows, columns)
    counted = on_board & np.isfinite(surface_degc)
    weight = np.where(counted, pixel_areas_mm2(placement), 0.0)
    total = float(weight.sum())
    known = [r.U_max_k for r in readings if r.verdict != "retake" and math.isfinite(r.U_max_k)]
    U_k = max(known, default=NAN)

    def share(limit: float) -> float:
        return float(weight[surface_degc > limit].sum()) / total if total else NAN

    low, high = (share(limit_degc + U_k), share(limit_degc - U_k)) if math.isfinite(U_k) else (NAN, NAN)
    above = float(weight[surface_degc > limit_degc].sum())
    return AreaAbove(limit_degc, share(limit_degc), low, high, U_k, above, total)


def pixel_areas_mm2(placement: Placement) -> FloatArray:
    """Area of every pixel of a frame on the board's plane, by the shoelace formula between its corners.

    Parameters
    ----------
    placement : Placement

    Returns
    -------
    ndarray, shape (rows, columns)
        mm²; 0 where a corner does not meet the plane.
    """
    columns, rows = placement.size_px
    x, y = np.meshgrid(np.arange(columns + 1) - 0.5, np.arange(rows + 1) - 0.5)
    corners = placement.to_mm(np.column_stack([x.ravel(), y.ravel()])).reshape(rows + 1, columns + 1, 2)
    one = corners[1:, 1:] - corners[:-1, :-1]
    other = corners[1:, :-1] - corners[:-1, 1:]
    areas: FloatArray = 0.5 * np.abs(one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0])
    return np.nan_to_num(areas)
