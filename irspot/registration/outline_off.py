"""How far from where it was placed the outline of a board shows in a frame: for points that were given for another."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.registration.edge_profiles import Profiles, edges_along, profiles_of
from irspot.registration.placement import Placement
from irspot.shapes import Polygon

FloatArray = NDArray[np.float64]

_REACH_SHARE: Final = 0.08
"""Of the frame's shorter side, within which an edge is sought: the board was nudged, not turned round."""
_PLACES: Final = 60
_SHOWN: Final = 0.6
_STRAIGHT_PX: Final = 1.0
"""A side shows where so much of it does, along one line to within this (median absolute deviation)."""


def outline_off_px(degc: NDArray[np.float32], noise_k: float, placement: Placement, outline: Polygon) -> float:
    """Say how far off the sides of an outline show.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Of the frame.
    noise_k : float
        Standard deviation of a pixel.
    placement : Placement
        That is doubted.
    outline : Polygon

    Returns
    -------
    float
        Distance across the side that is furthest off, px; NaN where no side shows.
    """
    whole = np.where(np.isfinite(degc), degc, np.float32(np.nanmedian(degc)))
    reach = _REACH_SHARE * min(degc.shape)
    profiles = profiles_of(whole, noise_k, placement.optics.blur_px or 1.0)
    off = [_side_off(profiles, placement, start, end, reach) for start, end in _sides(outline)]
    known = [each for each in off if np.isfinite(each)]
    return max(known, default=float("nan"))


def _sides(outline: Polygon) -> list[tuple[FloatArray, FloatArray]]:
    vertices = outline.array_mm
    return list(zip(vertices, np.roll(vertices, -1, axis=0), strict=True))


def _side_off(profiles: Profiles, placement: Placement, start: FloatArray, end: FloatArray, reach: float) -> float:
    along = np.linspace(0.05, 0.95, _PLACES)[:, None]
    places = placement.to_px(start + along * (end - start))
    direction = np.gradient(places, axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        normals = np.column_stack([direction[:, 1], -direction[:, 0]]) / np.hypot(*direction.T)[:, None]
    found = edges_along(profiles, places, normals, reach)
    offsets = found.offset[found.seen & found.present]
    if len(offsets) < _SHOWN * max(int(found.seen.sum()), _PLACES // 2):
        return float("nan")
    middle = float(np.median(offsets))
    return abs(middle) if float(np.median(np.abs(offsets - middle))) <= _STRAIGHT_PX else float("nan")
