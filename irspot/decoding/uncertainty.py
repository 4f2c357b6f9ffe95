"""Standard uncertainty of each decoded pixel: the width of the bar's steps, coding noise, and the slope of colour."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.color_wish import BarScale
from irspot.constants import RECTANGULAR
from irspot.decoding.nearest import F32
from irspot.decoding.path import SAMPLES, ColorPath
from irspot.opencv import load_cv2

_ROUNDING: Final = 0.29
"""Standard deviation of rounding to whole numbers, 1 / √12."""
_MEDIAN_OF_TWO: Final = 1.386
"""Median of the sum of squares of two normal numbers: distance from a line has two dimensions."""
_EDGE_SHARE: Final = 0.035
"""Coding noise of luma against the range of luma in the surrounding block, for the coarsest usual quantisation."""
_COARSE_STEP: Final = 40.0
"""Mean quantisation step of luma at which the above was measured (quality 70)."""
_CALM_SHARE: Final = 0.7
"""Of the noise that is left where places were averaged: errors of whole blocks do not average out."""
_BLOCK_PX: Final = 9


def frame_noise(luma_miss: F32, chroma_miss: F32, quiet: NDArray[np.bool_], path: ColorPath) -> float:
    """Noise of a channel, from how far colours lie beside the path where little happens.

    Parameters
    ----------
    luma_miss, chroma_miss : ndarray of float32, shape (n,)
        From `distance`.
    quiet : ndarray of bool, shape (n,)
        Pixels away from edges of chroma.
    path : ColorPath

    Returns
    -------
    float
        Standard deviation; at least that of rounding, or of the bar's own noise.
    """
    square = (luma_miss**2 + chroma_miss**2)[quiet]
    seen = float(np.sqrt(np.median(square) / _MEDIAN_OF_TWO)) if square.size else 0.0
    return max(seen, path.noise, 0.5 if path.lossy else _ROUNDING)


def luma_noise(luma: NDArray[np.uint8], steps: tuple[int, ...], noise: float) -> F32:
    """Noise of luma at every pixel: more in blocks with edges, where more coefficients were quantised.

    Parameters
    ----------
    luma : ndarray of uint8, shape (rows, columns)
    steps : tuple of int
        A JPEG's quantisation of luma; empty where it is not known.
    noise : float
        Where nothing happens.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
    """
    cv2 = load_cv2()
    coarseness = min(float(np.mean(steps)) / _COARSE_STEP, 2.0) if steps else 1.0
    span = cv2.morphologyEx(luma, cv2.MORPH_GRADIENT, np.ones((_BLOCK_PX, _BLOCK_PX), np.uint8)).astype(np.float32)
    return np.asarray(np.sqrt(np.float32(noise**2) + (np.float32(_EDGE_SHARE * coarseness) * span) ** 2))


def place_noise(at: F32, noise: F32 | float, weight: F32 | float, path: ColorPath) -> F32:
    """Noise of places, from that of colours and how fast colour changes along the path there.

    Parameters
    ----------
    at : ndarray of float32
        Positions in samples.
    noise : ndarray of float32, or float
        Of luma (of every channel, for exact colours); chroma has that over the root of its weight.
    weight : ndarray of float32, or float
        Of chroma.
    path : ColorPath

    Returns
    -------
    ndarray of float32
        Standard deviation, in place, at most that of knowing nothing.
    """
    nearest = np.rint(at).astype(np.intp)
    slopes = path.slopes.astype(np.float64) / path.spacing
    first = np.take((_over_a_while(slopes[:, 0]) ** 2).astype(np.float32), nearest)
    others = _over_a_while(slopes[:, 1]) ** 2 + _over_a_while(slopes[:, 2]) ** 2
    speed = np.sqrt(first + np.float32(weight) * np.take(others.astype(np.float32), nearest) + np.float32(1e-6))
    return np.asarray(np.minimum(noise / speed, np.float32(1.0 / np.sqrt(12.0))), np.float32)


def _over_a_while(slope: NDArray[np.float64]) -> NDArray[np.float64]:
    """Slope over one part in 64 of the path, so that a flat step does not stand for its surroundings."""
    width = SAMPLES // 64
    padded = np.pad(slope, width // 2, mode="edge")
    return np.convolve(padded, np.ones(width + 1) / (width + 1), mode="valid")


def u_decode_k(at: F32, noise_place: F32, path: ColorPath, scale: BarScale) -> F32:
    """Standard uncertainty of decoded temperatures.

    ``u^2 = (step / √12)^2 + noise^2``, both carried through the local slope of the bar's numbers.

    Parameters
    ----------
    at : ndarray of float32
        Positions in samples.
    noise_place : ndarray of float32
        From `place_noise`.
    path : ColorPath
    scale : BarScale

    Returns
    -------
    ndarray of float32
        In K.
    """
    nearest = np.rint(at).astype(np.intp)
    step = np.take(path.widths / np.float32(2.0 * RECTANGULAR), nearest)
    places = path.place(np.arange(SAMPLES, dtype=np.float32)).astype(np.float64)
    slope = np.gradient(scale.degc(places), places).astype(np.float32)
    return np.asarray(np.sqrt(step * step + noise_place * noise_place) * np.take(slope, nearest), np.float32)
