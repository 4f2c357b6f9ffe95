"""The middle of a mark to a part of a pixel: a blurred disc on a plane, fitted to the pixels around it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.registration.roundness import soft_disc

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]
Bool = NDArray[np.bool_]

_STEPS: Final = 12
_SMALL_PX: Final = 1e-3
_LONGEST_PX: Final = 0.7
_RADII_MM: Final = (0.5, 8.0)
_AROUND_RADII: Final = 1.6
_AROUND_BLURS: Final = 1.5
_FEWEST_PIXELS: Final = 12
_MOST_PIXELS: Final = 1500
"""Of more every second, third, ... is taken."""
_DEGENERATE: Final = 1e-9
_LEAST_U_PX: Final = 0.03
"""What rounding, the pixels' own shape and the model's leave."""
_SLOPE: Final = 1.702
"""Of the logistic curve in `soft_disc`."""


@dataclass(frozen=True, slots=True, eq=False)
class Centre:
    """Where a round thing is in the stored image.

    Parameters
    ----------
    xy_px : ndarray, shape (2,)
    u_px : float
        Standard uncertainty of either coordinate, of noise and of what else the pixels show.
    radius_mm, contrast_k : float
    """

    xy_px: FloatArray
    u_px: float
    radius_mm: float
    contrast_k: float


def fit_centre(
    degc: F32,
    use: Bool,
    start_px: FloatArray,
    px_per_mm: FloatArray,
    *,
    radius_mm: float,
    blur_px: float,
    noise_k: float,
) -> Centre | None:
    """Fit a disc that lies in the board's plane.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
    use : ndarray of bool, shape (rows, columns)
        Pixels that show the board.
    start_px : ndarray, shape (2,)
    px_per_mm : ndarray, shape (2, 2)
        Derivative of the place in px by the place in mm there.
    radius_mm : float
        To begin with.
    blur_px, noise_k : float

    Returns
    -------
    Centre or None
        None where no disc fits.
    """
    to_mm = np.asarray(np.linalg.inv(px_per_mm), np.float64)
    blur_mm = float(np.hypot(blur_px, 0.3) * np.sqrt(abs(np.linalg.det(to_mm))))
    pixels = _pixels(use, start_px, px_per_mm, _AROUND_RADII * radius_mm + _AROUND_BLURS * blur_mm)
    if len(pixels) < _FEWEST_PIXELS:
        return None
    pixels = pixels[:: -(-len(pixels) // _MOST_PIXELS)]
    values = degc[pixels[:, 1], pixels[:, 0]].astype(np.float64)
    place, radius = start_px.astype(np.float64), radius_mm
    for _ in range(_STEPS):
        fit = _Fit.of(pixels - place, values, to_mm, radius, blur_mm)
        if fit is None:
            return None
        step = fit.step * min(1.0, _LONGEST_PX / max(float(np.hypot(*fit.step[:2])), 1e-12))
        place = place + step[:2]
        radius = float(np.clip(radius + step[2], *_RADII_MM))
        if float(np.hypot(*step[:2])) < _SMALL_PX:
            break
    else:
        return None
    return Centre(place, fit.u_px(blur_px, noise_k), radius, fit.contrast)


def _pixels(use: Bool, place: FloatArray, px_per_mm: FloatArray, reach_mm: float) -> NDArray[np.intp]:
    """List pixels, as column and row, that lie within reach on the board and show it."""
    half = np.linalg.norm(px_per_mm, axis=1) * reach_mm + 1.0
    low = np.maximum(np.ceil(place - half).astype(int), 0)
    high = np.minimum(np.floor(place + half).astype(int), np.array(use.shape[::-1]) - 1)
    if np.any(high < low):
        return np.empty((0, 2), np.intp)
    grid = np.stack(np.meshgrid(*(np.arange(a, b + 1) for a, b in zip(low, high, strict=True))), axis=-1).reshape(-1, 2)
    near = np.linalg.norm((grid - place) @ np.linalg.inv(px_per_mm).T, axis=1) <= reach_mm
    return np.asarray(grid[near & use[grid[:, 1], grid[:, 0]]], np.intp)


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    """One linearised step: of x, y (px) and radius (mm); covariance for unit noise; what is left; the contrast."""

    step: FloatArray
    spread: FloatArray
    left: FloatArray
    contrast: float

    @classmethod
    def of(
        cls, from_centre: FloatArray, values: FloatArray, to_mm: FloatArray, radius: float, blur: float
    ) -> _Fit | None:
        away = from_centre @ to_mm.T
        distance = np.linalg.norm(away, axis=1)
        disc = soft_disc(distance, radius, blur)
        plane = np.column_stack([np.ones(len(values)), from_centre, disc])
        linear = _least_squares(plane, values)
        if linear is None:
            return None
        contrast = float(linear[0][3])
        steep = contrast * _SLOPE / blur * disc * (1.0 - disc)
        outwards = (away / np.maximum(distance, 1e-9)[:, None]) @ to_mm
        slopes = np.column_stack([steep[:, None] * outwards, steep, plane])
        left = values - plane @ linear[0]
        solved = _least_squares(slopes, left)
        return None if solved is None else cls(solved[0][:3], solved[1], left, contrast)

    def u_px(self, blur_px: float, noise_k: float) -> float:
        """Noise is new in every pixel; texture is alike over the blur's area, 4 π s², so that it counts as one."""
        seen = float(self.left @ self.left) / max(1, len(self.left) - 7)
        texture = max(0.0, seen - noise_k**2)
        variance = noise_k**2 + texture * max(1.0, 4.0 * np.pi * blur_px**2)
        return float(np.sqrt(variance * (self.spread[0, 0] + self.spread[1, 1]) / 2.0 + _LEAST_U_PX**2))


def _least_squares(slopes: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """Solve by the normal equations, columns brought to one length; give parameters and their covariance, or None."""
    length = np.sqrt(np.einsum("ij,ij->j", slopes, slopes))
    if not np.all(length > 0.0):
        return None
    unit = slopes / length
    sizes, vectors = np.linalg.eigh(unit.T @ unit)
    if sizes[0] < _DEGENERATE:
        return None
    spread = (vectors / sizes) @ vectors.T
    return spread @ (unit.T @ values) / length, spread / np.outer(length, length)
