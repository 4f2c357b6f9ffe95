"""Standard uncertainty of each decoded pixel: the width of the bar's steps, coding noise, and the slope of colour."""

from __future__ import annotations

from dataclasses import dataclass
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
_BLOCK_PX: Final = 9
_ACTIVE: Final = 3
"""Coefficients of a block where little happens that are not zero, and so carry an error of quantisation."""
_UNKNOWN_STEP: Final = 10.0
"""Quantisation step of those taken where it is not known (about quality 70)."""


@dataclass(frozen=True, slots=True)
class Noise:
    """Standard deviation of a pixel where little happens: of luma and of chroma, or of every exact channel."""

    luma: float
    chroma: float


def frame_noise(
    square: F32, path: ColorPath, luma_steps: tuple[int, ...] = (), chroma_steps: tuple[int, ...] = ()
) -> Noise:
    """Noise of a frame, from how far colours lie beside the path where little happens, and from its quantisation.

    What lies beside the path shows in a frame; what lies along it, and what shifted the bar's own colours, does not,
    and is no less.

    Parameters
    ----------
    square : ndarray of float32, shape (n,)
        Squared distance from the path of pixels away from edges of chroma.
    path : ColorPath
    luma_steps, chroma_steps : tuple of int
        A JPEG's quantisation; empty where it is not known.

    Returns
    -------
    Noise
    """
    seen = float(np.sqrt(np.median(square) / _MEDIAN_OF_TWO)) if square.size else 0.0
    if not path.lossy:
        return Noise(max(seen, _ROUNDING), max(seen, _ROUNDING))
    seen = max(seen, path.noise)
    return Noise(max(seen, _of_steps(luma_steps)), max(seen, _of_steps(chroma_steps)))


def _of_steps(steps: tuple[int, ...]) -> float:
    """Noise of the few coefficients that matter where little happens, of a pixel and of the bar's colour together."""
    active = steps[:_ACTIVE] or (_UNKNOWN_STEP,) * _ACTIVE
    # An orthonormal 8 x 8 transform spreads a coefficient's error over 64 pixels; each is rectangular.
    return float(np.sqrt(2.0 * sum(step**2 for step in active) / 64.0 / 12.0 + 2.0 * _ROUNDING**2))


def luma_noise(luma: NDArray[np.uint8], steps: tuple[int, ...], noise: Noise) -> F32:
    """Noise of luma at every pixel: more in blocks with edges, where more coefficients were quantised.

    Parameters
    ----------
    luma : ndarray of uint8, shape (rows, columns)
    steps : tuple of int
        A JPEG's quantisation of luma; empty where it is not known.
    noise : Noise
        Where nothing happens.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
    """
    cv2 = load_cv2()
    coarseness = min(float(np.mean(steps)) / _COARSE_STEP, 2.0) if steps else 1.0
    kernel = np.ones((_BLOCK_PX, _BLOCK_PX), np.uint8)
    span = cv2.morphologyEx(luma, cv2.MORPH_GRADIENT, kernel).astype(np.float32)
    return np.asarray(np.sqrt(np.float32(noise.luma**2) + (np.float32(_EDGE_SHARE * coarseness) * span) ** 2))


def place_noise(at: F32, luma: F32 | float, chroma: float, weight: F32 | float, path: ColorPath) -> F32:
    """Noise of places, from that of colours and how fast colour changes along the path there.

    ``1 / noise^2`` is the sum of ``slope^2 / sigma^2`` over the channels, slopes in units a place.

    Parameters
    ----------
    at : ndarray of float32
        Positions in samples.
    luma : ndarray of float32, or float
        Standard deviation of the first channel.
    chroma : float
        Of the others; it grows by the root of what their weight has lost.
    weight : ndarray of float32, or float
        Of the others.
    path : ColorPath

    Returns
    -------
    ndarray of float32
        Standard deviation, in place, at most that of knowing nothing.
    """
    nearest = np.rint(at).astype(np.intp)
    slopes = path.slopes.astype(np.float64) / path.spacing
    first = np.take((_over_a_while(slopes[:, 0]) ** 2).astype(np.float32), nearest)
    square = _over_a_while(slopes[:, 1]) ** 2 + _over_a_while(slopes[:, 2]) ** 2
    others = np.take((square / chroma**2).astype(np.float32), nearest)
    known = first / np.square(np.float32(1.0) * luma) + np.float32(1.0) * weight * others
    # A rectangular distribution over the whole bar is all that is known at worst.
    return np.asarray(1.0 / np.sqrt(known + np.float32(12.0)), np.float32)


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
