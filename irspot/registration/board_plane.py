"""A frame carried onto the board's plane, where what is round on the board is round, of one size everywhere.

For finding and judging marks only: temperatures are never taken from it, since carrying lowers peaks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2
from irspot.registration.placement import Placement
from irspot.shapes import Polygon

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

FINEST_MM: Final = 0.625
"""Closer steps than this tell nothing more of things of 1 mm radius and above."""
_BLURS: Final = 0.6
"""Nor do steps that are closer than this many standard deviations of the blur."""
_MARGIN_MM: Final = 4.0
_FILLED_MM: Final = 2.0
_LEAST_WEIGHT: Final = 1e-3
_SHIFT: Final = 4


@dataclass(frozen=True, slots=True, eq=False)
class BoardPlane:
    """A frame on a grid of board places.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Row r and column c stand for the place ``origin_mm + step_mm (c, r)``; off the board and out of view it goes on
        evenly.
    known : ndarray of bool, shape (rows, columns)
        Where the grid shows the board, out of reach of what lies around it.
    origin_mm : ndarray, shape (2,)
    step_mm : float
    px_per_mm : float
        Of the frame, on average.
    blur_mm : float
        Standard deviation of the blur.
    """

    degc: F32
    known: Bool
    origin_mm: FloatArray
    step_mm: float
    px_per_mm: float
    blur_mm: float

    def cells(self, xy_mm: FloatArray) -> NDArray[np.intp]:
        """Column and row of places, shape (n, 2), as they are nearest; they may lie off the grid."""
        return np.asarray(np.rint((xy_mm - self.origin_mm) / self.step_mm), np.intp)


def board_plane(degc: F32, placement: Placement, vertices_mm: FloatArray, blur_px: float) -> BoardPlane:
    """Carry a frame onto the plane of a placed board.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Without gaps.
    placement : Placement
    vertices_mm : ndarray, shape (n, 2)
        Of the outline.
    blur_px : float
        Standard deviation of the blur.

    Returns
    -------
    BoardPlane
    """
    cv2 = load_cv2()
    scale = _px_per_mm(placement, vertices_mm)
    step = max(1.0 / scale, FINEST_MM, _BLURS * blur_px / scale)
    low, high = vertices_mm.min(axis=0) - _MARGIN_MM, vertices_mm.max(axis=0) + _MARGIN_MM
    columns, rows = (np.ceil((high - low) / step).astype(int) + 1).tolist()
    places = low + step * np.stack(np.meshgrid(np.arange(columns), np.arange(rows)), axis=-1)
    seen = placement.to_px(places.reshape(-1, 2)).reshape(rows, columns, 2)
    size = np.array(degc.shape[::-1]) - 1.0
    in_view = np.all((seen >= 0.0) & (seen <= size), axis=2)
    if step * scale > 1.0:
        degc = np.asarray(cv2.GaussianBlur(degc, (0, 0), 0.4 * step * scale))
    carried = cv2.remap(
        degc, np.where(np.isfinite(seen), seen, 0.0).astype(np.float32), None, cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    reach = margin_px(blur_px) / scale
    known = in_view & _inside(vertices_mm, low, step, (rows, columns), reach)
    return BoardPlane(_filled(carried, known, step), known, low, step, scale, blur_px / scale)


def margin_px(blur_px: float) -> float:
    """How far into the board, in px, what lies around it reaches."""
    return 1.5 * blur_px + 0.5


def board_pixels(placement: Placement, outline: Polygon, blur_px: float) -> Bool:
    """Say which pixels of a frame show the board, out of reach of what lies around it; shape (rows, columns)."""
    cv2 = load_cv2()
    columns, rows = placement.size_px
    border = placement.to_px(outline.border_points(_BORDER_MM))
    shown = np.zeros((rows + 2, columns + 2), np.uint8)
    if np.all(np.isfinite(border)):
        fixed = np.clip((border + 1.0) * (1 << _SHIFT), -_FAR, _FAR)
        cv2.fillPoly(shown, [np.rint(fixed).astype(np.int32)], 1, shift=_SHIFT)
    reach = int(np.ceil(margin_px(blur_px)))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    inner = cv2.erode(shown, disc, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(inner[1:-1, 1:-1] > 0)


_BORDER_MM: Final = 4.0
_FAR: Final = 1e7


def _px_per_mm(placement: Placement, vertices_mm: FloatArray) -> float:
    cv2 = load_cv2()
    corners = placement.to_px(vertices_mm)
    seen, own = (abs(float(cv2.contourArea(xy.astype(np.float32)))) for xy in (corners, vertices_mm))
    return float(np.sqrt(max(seen, 1e-6) / own))


def _inside(vertices_mm: FloatArray, low: FloatArray, step: float, shape: tuple[int, int], margin_mm: float) -> Bool:
    """Whether places lie on the board, further from its edge than a margin."""
    cv2 = load_cv2()
    inside = np.zeros(shape, np.uint8)
    cv2.fillPoly(inside, [np.rint((vertices_mm - low) / step * (1 << _SHIFT)).astype(np.int32)], 1, shift=_SHIFT)
    reach = int(np.ceil(margin_mm / step))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    return np.asarray(cv2.erode(inside, disc) > 0)


def _filled(degc: F32, known: Bool, step: float) -> F32:
    """Let a board go on evenly beyond its edge: the weighted mean of what is known near by."""
    cv2 = load_cv2()
    if not known.any():
        return np.zeros_like(degc)
    level = np.float32(np.median(degc[known]))
    sigma = _FILLED_MM / step
    sums = cv2.GaussianBlur(np.where(known, degc - level, np.float32(0.0)), (0, 0), sigma)
    weights = cv2.GaussianBlur(known.astype(np.float32), (0, 0), sigma)
    near = np.where(weights > _LEAST_WEIGHT, sums / np.maximum(weights, np.float32(_LEAST_WEIGHT)), np.float32(0.0))
    return np.asarray(np.where(known, degc - level, near), np.float32)
