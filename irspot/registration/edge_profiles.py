"""Where, along its normals, a frame has the edges of an outline: the place of the steepest change of each profile.

An edge blurred evenly on both sides is steepest where the edge is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2
from irspot.registration.edge_map import read

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

_STEP_PX: Final = 0.5
_MARGIN_SIGMAS: Final = 2.0
"""Next to the frame's own edge an outline is out of view: it cannot be told from one that lies beyond."""
_NOISES: Final = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class Profiles:
    """What edges are sought in.

    Parameters
    ----------
    smooth : ndarray of float32, shape (rows, columns)
        The frame, smoothed.
    sigma : float
        By a Gaussian of this standard deviation, px.
    least : float
        Slope of the faintest edge, K per px.
    margin : float
        Width along the frame's border that counts as out of view, px.
    """

    smooth: F32
    sigma: float
    least: float
    margin: float


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """Edges found along outlines; all of one shape, that of the places sought at.

    Parameters
    ----------
    offset : ndarray
        How far along the normal the edge is, px.
    present : ndarray of bool
        Whether there is one.
    seen : ndarray of bool
        Whether the place is in view.
    """

    offset: FloatArray
    present: Bool
    seen: Bool


def profiles_of(degc: F32, noise_k: float, blur_px: float) -> Profiles:
    """Prepare a frame.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
        Without gaps.
    noise_k : float
        Standard deviation of one pixel.
    blur_px : float
        Standard deviation of the point spread.
    """
    sigma = max(1.0, blur_px)
    smooth = np.asarray(load_cv2().GaussianBlur(degc, (0, 0), sigma))
    # Noise of a derivative of Gaussian; the smoothing's width stands for the spread across the profile as well.
    least = _NOISES * noise_k / (np.sqrt(8.0 * np.pi) * sigma**2)
    return Profiles(smooth, sigma, least, 1.0 + _MARGIN_SIGMAS * sigma)


def edges_along(profiles: Profiles, places: FloatArray, normals: FloatArray, reach_px: float) -> Found:
    """Find the steepest change along normals.

    Parameters
    ----------
    profiles : Profiles
    places, normals : ndarray, shape (..., 2)
        In px of the frame; not finite for places that are in no view.
    reach_px : float
        How far from its place an edge is sought.
    """
    rows, columns = profiles.smooth.shape
    room = np.array([columns - 1, rows - 1]) - profiles.margin
    with np.errstate(invalid="ignore"):
        seen = np.all((places >= profiles.margin) & (places <= room), axis=-1) & np.all(np.isfinite(normals), axis=-1)
    offset, present = np.zeros(seen.shape), np.zeros(seen.shape, bool)
    offset[seen], present[seen] = _steepest(profiles, places[seen], normals[seen], reach_px)
    return Found(offset, present, seen)


def _steepest(profiles: Profiles, places: FloatArray, normals: FloatArray, reach_px: float) -> tuple[FloatArray, Bool]:
    rows, columns = profiles.smooth.shape
    at = np.arange(-reach_px - 1.0, reach_px + 1.0 + 1e-9, _STEP_PX)
    x, y = ((places[:, axis, None] + at * normals[:, axis, None]).astype(np.float32) for axis in range(2))
    profile = read(profiles.smooth, x.ravel(), y.ravel()).reshape(x.shape)
    slope = np.abs(profile[:, 2:] - profile[:, :-2]) / np.float32(2.0 * _STEP_PX)
    inside = (x >= 0) & (x <= columns - 1) & (y >= 0) & (y <= rows - 1)
    slope[~(inside[:, 2:] & inside[:, :-2])] = 0.0
    middle = at[1:-1]
    # Of two edges within reach the nearer one is likelier: what is found fades with distance.
    fade = (1.0 - 0.5 * (middle / (reach_px + 1.0)) ** 2).astype(np.float32)
    best = np.argmax(slope * fade, axis=1)
    inner = np.clip(best, 1, len(middle) - 2)
    row = np.arange(len(inner))
    a, b, c = (slope[row, inner + k].astype(np.float64) for k in (-1, 0, 1))
    bend = a - 2.0 * b + c
    shift = np.where(bend < 0.0, 0.5 * (a - c) / np.minimum(bend, -1e-12), 0.0)
    offset = middle[inner] + np.clip(shift, -1.0, 1.0) * _STEP_PX
    return offset, (best == inner) & (b >= a) & (b >= c) & (b > profiles.least)
