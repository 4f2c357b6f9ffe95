"""A hot spot found in one view, looked for at the same place of the board in another.

Both views of a zone are read on one grid of board places, brought to the resolution of the coarser one. A spot's
height is its top less the mean of a ring around it, the same ring in both views and within the zone: heat that belongs
to the surface has it in both, a mirror image only where that view mirrors it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.measurement.corrections import filled
from irspot.measurement.geometry import ZonePixels
from irspot.measurement.pixels import Pixels
from irspot.opencv import load_cv2
from irspot.registration.placement import Placement
from irspot.shapes import Shape

FloatArray = NDArray[np.float64]
F32 = NDArray[np.float32]
BoolArray = NDArray[np.bool_]

NOISE_LEFT: Final = 0.4
"""Of a pixel's noise, after the smoothing below: 1 / (2 √π σ)."""
_SMOOTH_PX: Final = 0.7
_BLUR_PX: Final = 0.8
"""Standard deviation of the point spread that lenses in focus have, pixel included (common practice)."""
_FLAT_SHARE: Final = 0.05
"""Of a spot's height, that its surroundings may be higher by: pixels show its top a little differently each time."""
_MOST_PLACES: Final = 400
"""Along one side of the grid."""
_FURTHEST: Final = 24
"""How far around a spot its width is sought, in steps of the grid."""
_FEWEST: Final = 8
"""Places that make a ring, or a part of a profile a quarter of them."""


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """Places of a zone on the board.

    Parameters
    ----------
    x_mm, y_mm : ndarray, shape (columns,), (rows,)
    step_mm : float
    """

    x_mm: FloatArray
    y_mm: FloatArray
    step_mm: float

    def distance_mm(self, xy_mm: FloatArray) -> FloatArray:
        """Distance of every place from one, shape (rows, columns)."""
        return np.asarray(np.hypot(self.x_mm - xy_mm[0], (self.y_mm - xy_mm[1])[:, None]))

    @property
    def places_mm(self) -> FloatArray:
        """All places, shape (rows * columns, 2)."""
        x, y = np.meshgrid(self.x_mm, self.y_mm)
        return np.column_stack([x.ravel(), y.ravel()])


@dataclass(frozen=True, slots=True)
class Spot:
    """A hot spot of one view.

    Parameters
    ----------
    x_mm, y_mm : float
    height_k : float
        Of its top above the ring, in its own view.
    half_width_mm : float
        Distance at which it has fallen by half.
    level_mm : float
        Radius of what is as hot as its top, as far as noise lets tell: its place is no better known.
    ring_mm : tuple of float
        Radii of the ring.
    """

    x_mm: float
    y_mm: float
    height_k: float
    half_width_mm: float
    level_mm: float
    ring_mm: tuple[float, float]

    @property
    def xy_mm(self) -> FloatArray:
        """Its place."""
        return np.array([self.x_mm, self.y_mm])


def pitch_mm(placement: Placement, xy_mm: FloatArray) -> float:
    """Side of a pixel on the board, at one place: ``1 / √|det J|`` of the mapping's derivative J."""
    return float(1.0 / np.sqrt(abs(np.linalg.det(px_per_mm(placement, xy_mm)))))


def px_per_mm(placement: Placement, xy_mm: FloatArray) -> FloatArray:
    """Derivative of places in the frame with respect to places on the board, shape (2, 2)."""
    around = xy_mm + 0.05 * np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
    at = placement.to_px(around)
    return np.column_stack([at[0] - at[1], at[2] - at[3]]) / 0.1


def grid_over(shape: Shape, step_mm: float) -> Grid:
    """Lay a grid over a shape's box, of a step or, over large ones, a wider one."""
    x0, y0, x1, y1 = shape.box_mm
    step = max(step_mm, max(x1 - x0, y1 - y0) / _MOST_PLACES)
    return Grid(np.arange(x0, x1 + step, step), np.arange(y0, y1 + step, step), step)


def read_on(grid: Grid, pixels: Pixels, where: ZonePixels, placement: Placement, own_mm: float) -> FloatArray:
    """Read a zone on a grid.

    Parameters
    ----------
    grid : Grid
    pixels : Pixels
    where : ZonePixels
    placement : Placement
        Of the zone, at its height.
    own_mm : float
        Side of this view's pixels on the board; where the grid is coarser, the view is blurred to match.

    Returns
    -------
    ndarray, shape (rows, columns)
        Radiance temperatures; NaN outside the zone and the frame.
    """
    cv2 = load_cv2()
    coarser = max(1.0, grid.step_mm / own_mm)
    sigma = float(np.sqrt(max((coarser * np.hypot(_BLUR_PX, _SMOOTH_PX)) ** 2 - _BLUR_PX**2, _SMOOTH_PX**2)))
    margin = int(4.0 * sigma) + 2
    rows, columns = (slice(max(0, first - margin), end + margin) for first, end in (where.box[:2], where.box[2:]))
    values = filled(pixels.radiance_degc[rows, columns], pixels.sound[rows, columns])
    smooth = cv2.GaussianBlur(values, (0, 0), sigma, borderType=cv2.BORDER_REPLICATE)
    mask = np.zeros(pixels.sound.shape, np.float32)
    mask[where.slices] = where.mask
    at = placement.to_px(grid.places_mm).astype(np.float32).reshape(len(grid.y_mm), len(grid.x_mm), 2)
    at = np.where(np.isfinite(at), at, np.float32(-10.0)) - np.array([columns.start, rows.start], np.float32)
    outside = {"borderMode": cv2.BORDER_CONSTANT}
    degc = cv2.remap(smooth, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderValue=float("nan"), **outside)
    inside = cv2.remap(mask[rows, columns], at[..., 0], at[..., 1], cv2.INTER_NEAREST, borderValue=0.0, **outside)
    return np.where(inside > 0.5, degc, np.nan).astype(np.float64)


def spot_at(grid: Grid, degc: FloatArray, xy_mm: FloatArray, reach_mm: float, noise_k: float) -> Spot | None:
    """Measure the hot spot at a place of its own view.

    Parameters
    ----------
    grid : Grid
    degc : ndarray, shape (rows, columns)
    xy_mm : ndarray, shape (2,)
    reach_mm : float
        By how much the other view may have it elsewhere.
    noise_k : float
        Standard deviation of one pixel.

    Returns
    -------
    Spot or None
        None where the zone shows nothing at that place, or too little around it.
    """
    distance = grid.distance_mm(xy_mm)
    top = _top(degc, distance, grid.step_mm)
    if np.isnan(top):
        return None
    half_mm = _half_width_mm(grid, degc, distance, top)
    inner = max(1.5 * half_mm, half_mm + reach_mm + grid.step_mm)
    ring = (inner, inner + max(2.0 * grid.step_mm, 0.3 * inner))
    around = _mean_between(degc, distance, ring)
    if np.isnan(around):
        # The zone ends before: what of it lies furthest off has to do.
        ring = (half_mm + reach_mm, float("inf"))
        around = _mean_between(degc, distance, ring)
    if np.isnan(around):
        return None
    level = np.isfinite(degc) & (distance <= 2.0 * half_mm) & (degc >= top - 3.0 * NOISE_LEFT * noise_k)
    level_mm = grid.step_mm * float(np.sqrt(max(int(np.count_nonzero(level)), 1) / np.pi))
    return Spot(float(xy_mm[0]), float(xy_mm[1]), top - around, half_mm, level_mm, ring)


def height_in(grid: Grid, degc: FloatArray, spot: Spot, reach_mm: float) -> tuple[float, float]:
    """Look for a spot of another view.

    Parameters
    ----------
    grid : Grid
    degc : ndarray, shape (rows, columns)
        Of this view.
    spot : Spot
        Of the other one.
    reach_mm : float

    Returns
    -------
    height_k : float
        Of the hottest place within reach above the spot's ring; NaN where either is not in view.
    top_degc : float
    """
    distance = grid.distance_mm(spot.xy_mm)
    near = distance <= reach_mm + grid.step_mm
    top = _top(degc, distance, reach_mm + grid.step_mm)
    if np.count_nonzero(np.isfinite(degc[near])) < 0.5 * np.count_nonzero(near) and np.isnan(_nearest(degc, distance)):
        return float("nan"), top
    return top - _mean_between(degc, distance, spot.ring_mm), top


def is_summit(grid: Grid, degc: FloatArray, spot: Spot, reach_mm: float, noise_k: float) -> bool:
    """Say whether a view has a summit where another has a spot, rather than the flank of one that stands beside.

    Of a flank, what lies further off is hotter still.
    """
    distance = grid.distance_mm(spot.xy_mm)
    near, further = (_top(degc, distance, reach_mm + steps * grid.step_mm) for steps in (1.0, 3.0))
    return further - near <= max(3.0 * NOISE_LEFT * noise_k, _FLAT_SHARE * spot.height_k)


def _nearest(degc: FloatArray, distance: FloatArray) -> float:
    return float(degc.ravel()[distance.argmin()])


def _top(degc: FloatArray, distance: FloatArray, reach_mm: float) -> float:
    return float(np.fmax.reduce(degc[distance <= reach_mm], initial=np.nan))


def _mean_between(degc: FloatArray, distance: FloatArray, ring_mm: tuple[float, float]) -> float:
    ring = degc[(distance > ring_mm[0]) & (distance <= ring_mm[1])]
    ring = ring[np.isfinite(ring)]
    return float(ring.mean()) if len(ring) >= _FEWEST else float("nan")


def _half_width_mm(grid: Grid, degc: FloatArray, distance: FloatArray, top: float) -> float:
    """Distance at which the mean at that distance has fallen by half of what it falls at all."""
    bins = np.rint(distance / grid.step_mm).astype(np.intp)
    known = np.isfinite(degc) & (bins <= _FURTHEST)
    count = np.bincount(bins[known], minlength=_FURTHEST + 1)
    total = np.bincount(bins[known], weights=degc[known], minlength=_FURTHEST + 1)
    enough = np.flatnonzero(count >= _FEWEST // 4)
    if not len(enough):
        return grid.step_mm
    profile = np.asarray(total[enough] / count[enough], np.float64)
    radii = enough * grid.step_mm
    half = 0.5 * (top + float(np.min(profile)))
    return float(max(radii[int(np.argmax(profile <= half))], grid.step_mm))
