"""Standard uncertainty of each decoded pixel: the width of the bar's steps, coding noise, and the slope of colour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.color_wish import BarScale
from irspot.constants import RECTANGULAR
from irspot.decoding.jpeg import Chroma
from irspot.decoding.nearest import F32, nearest_samples, taken
from irspot.decoding.path import SAMPLES, ColorPath
from irspot.decoding.strips import in_strips
from irspot.opencv import load_cv2

_ROUNDING: Final = 0.29
"""Standard deviation of rounding to whole numbers, 1 / √12."""
_TRUNCATION: Final = 0.5
"""Mean of what truncation to whole numbers takes away that rounding does not: plotting libraries do the one in the bar
and the other in the picture."""
_OWN_COLORS: Final = 0.1
"""Noise below which a picture's colours are the very ones of its bar, drawn in one way."""
_MEDIAN_OF_TWO: Final = 1.386
"""Median of the sum of squares of two normal numbers: distance from a line has two dimensions."""
_EDGE_SHARE: Final = 0.035
_EDGE_LEAST: Final = 0.008
"""Coding noise of luma against the range of luma in the surrounding block, for the coarsest usual quantisation."""
_COARSE_STEP: Final = 40.0
"""Mean quantisation step of luma at which the above was measured (quality 70)."""
_MIXED: Final[dict[Chroma, float]] = {"444": 0.04, "422": 0.12, "420": 0.15}
"""Noise of chroma against its range nearby."""
_END_LUMA: Final = 1.5
_END_CHROMA: Final = 2.5
"""Error of the bar's colours at its ends, against noise elsewhere."""
_END_SIGMAS: Final = 2.5
_MOST_REACH: Final = 0.03
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
    return Noise(_with_bar(seen, path.noise, luma_steps), _with_bar(seen, path.noise, chroma_steps))


def _with_bar(of_frame: float, of_bar: float, steps: tuple[int, ...]) -> float:
    """Noise of a pixel and of the bar's colours together, neither less than quantisation gives."""
    least = _of_steps(steps)
    return float(np.hypot(max(of_frame, least), max(of_bar, least)))


def _of_steps(steps: tuple[int, ...]) -> float:
    """Noise of the few coefficients that matter where little happens, and of rounding."""
    active = steps[:_ACTIVE] or (_UNKNOWN_STEP,) * _ACTIVE
    # An orthonormal 8 x 8 transform spreads a coefficient's error over 64 pixels; each is rectangular.
    return float(np.sqrt(sum(step**2 for step in active) / 64.0 / 12.0 + _ROUNDING**2))


def edge_noise(luma: NDArray[np.uint8], steps: tuple[int, ...]) -> F32:
    """Noise of luma that blocks with edges have besides, since more of their coefficients were quantised.

    Parameters
    ----------
    luma : ndarray of uint8, shape (rows, columns)
    steps : tuple of int
        A JPEG's quantisation of luma; empty where it is not known.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
    """
    cv2 = load_cv2()
    coarseness = min(float(np.mean(steps)) / _COARSE_STEP, 2.0) if steps else 1.0
    kernel = np.ones((_BLOCK_PX, _BLOCK_PX), np.uint8)
    span = cv2.morphologyEx(luma, cv2.MORPH_GRADIENT, kernel).astype(np.float32)
    return np.asarray(span * np.float32(_EDGE_SHARE * coarseness + _EDGE_LEAST), np.float32)


def chroma_noise(nearby: NDArray[np.uint8], chroma: Chroma, noise: Noise) -> F32:
    """Noise of chroma at every pixel: more where it is mixed from different colours.

    Parameters
    ----------
    nearby : ndarray of uint8, shape (rows, columns)
        Range of chroma around each pixel.
    chroma : {"444", "422", "420"}
    noise : Noise
        Where nothing happens.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
    """
    table = np.hypot(noise.chroma, _MIXED[chroma] * np.arange(256)).astype(np.float32)
    return np.asarray(load_cv2().LUT(nearby, table))


def even_noise(at: F32, noise: Noise, path: ColorPath) -> F32:
    """Noise of places where that of colours is the same everywhere and all channels count alike; see `place_noise`."""
    samples = np.arange(SAMPLES, dtype=np.float32)
    luma, chroma, weight = (np.full(SAMPLES, value, np.float32) for value in (noise.luma, noise.chroma, 1.0))
    return taken(place_noise(samples, luma, chroma, weight, path), at)


def shift_noise(at: F32, square: F32, path: ColorPath) -> F32:
    """Uncertainty of exact places for all channels of the picture being rounded in another way than those of the bar.

    That moves colours by `_TRUNCATION` in every channel alike, so a place by ``shift sum(slope) / sum(slope^2)``. It
    shows in colours that are not the bar's; in a grey bar it never shows.

    Parameters
    ----------
    at : ndarray of float32
        Positions in samples.
    square : ndarray of float32, shape (n,)
        Squared distance from the path.
    path : ColorPath

    Returns
    -------
    ndarray of float32
        In place.
    """
    slopes = [_over_a_while(channel) for channel in (path.slopes.astype(np.float64) / path.spacing).T]
    grey = float(np.ptp(path.colors, axis=1).max()) <= 1.0
    if not grey and (not square.size or np.sqrt(np.median(square)) < _OWN_COLORS):
        return np.zeros_like(at)
    shift = _TRUNCATION * np.abs(sum(slopes)) / (sum(slope**2 for slope in slopes) + 1e-3)
    return taken(shift.astype(np.float32), at)


def end_reach(noise: Noise, path: ColorPath) -> tuple[float, float]:
    """How near an end of the path colours are that cannot be told from the end's own, in place: low end, high end.

    A lossy coding mixes the bar's last colours with what lies beyond, so that they are known less well than others.
    """
    if not path.lossy:
        return 0.0, 0.0
    ends = np.array([0.0, SAMPLES - 1.0], np.float32)
    luma, chroma = np.full(2, _END_LUMA * noise.luma, np.float32), np.full(2, _END_CHROMA * noise.chroma, np.float32)
    low, high = place_noise(ends, luma, chroma, np.ones(2, np.float32), path)
    return min(_END_SIGMAS * float(low), _MOST_REACH), min(_END_SIGMAS * float(high), _MOST_REACH)


def place_noise(at: F32, luma: F32, chroma: F32, weight: F32, path: ColorPath) -> F32:
    """Noise of places, from that of colours and how fast colour changes along the path there.

    Projection moves a place by ``sum(w slope miss) / sum(w slope^2)`` over the channels, slopes in units a place, so
    ``noise^2 = sum(w^2 slope^2 sigma^2) / sum(w slope^2)^2``.

    Parameters
    ----------
    at : ndarray of float32, shape (n,)
        Positions in samples.
    luma, chroma : ndarray of float32, shape (n,)
        Standard deviation of the first and of the other channels.
    weight : ndarray of float32, shape (n,)
        Of the others.
    path : ColorPath

    Returns
    -------
    ndarray of float32, shape (n,)
        Standard deviation, in place, at most that of knowing nothing.
    """
    slopes = path.slopes.astype(np.float64) / path.spacing
    of_first = (_over_a_while(slopes[:, 0]) ** 2).astype(np.float32)
    of_others = (_over_a_while(slopes[:, 1]) ** 2 + _over_a_while(slopes[:, 2]) ** 2).astype(np.float32)
    spread = np.empty(at.shape, np.float32)

    def noise_of(strip: slice) -> None:
        nearest = nearest_samples(at[strip])
        first, others = np.take(of_first, nearest), np.take(of_others, nearest)
        others *= weight[strip]
        pull = first + others
        pull += np.float32(1e-3)
        first *= np.square(luma[strip])
        others *= weight[strip]
        others *= np.square(chroma[strip])
        first += others
        np.sqrt(first, out=first)
        first /= pull
        first += np.float32(1e-6)
        # A rectangular distribution over the whole bar is all that is known at worst.
        np.minimum(first, np.float32(12.0**-0.5), out=spread[strip])

    in_strips(noise_of, at.size)
    return spread


def _over_a_while(slope: NDArray[np.float64]) -> NDArray[np.float64]:
    """Slope over one part in 64 of the path, so that a flat step does not stand for its surroundings."""
    width = SAMPLES // 64
    padded = np.pad(slope, width // 2, mode="edge")
    return np.convolve(padded, np.ones(width + 1) / (width + 1), mode="valid")


def u_decode_k(at: F32, noise_place: F32, path: ColorPath, scale: BarScale) -> F32:
    """Standard uncertainty of decoded temperatures.

    ``u^2 = (step / √12)^2 + noise^2 + ((1 - s)^2 + s^2) u_end^2`` at the place ``s``, each carried through the local
    slope of the bar's numbers: either end of the bar may lie elsewhere by ``u_end``.

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
    places = path.place(np.arange(SAMPLES, dtype=np.float32)).astype(np.float64)
    step = path.widths.astype(np.float64) / (2.0 * RECTANGULAR)
    shared = step**2 + ((1.0 - places) ** 2 + places**2) * path.u_end**2
    slope = np.gradient(scale.degc(places), places)
    of_place, of_slope, u_k = shared.astype(np.float32), slope.astype(np.float32), np.empty(at.size, np.float32)
    place, noise = at.ravel(), noise_place.ravel()

    def u_of(strip: slice) -> None:
        nearest = nearest_samples(place[strip])
        square = np.take(of_place, nearest)
        square += np.square(noise[strip])
        np.sqrt(square, out=square)
        np.multiply(square, np.take(of_slope, nearest), out=u_k[strip])

    in_strips(u_of, at.size)
    return u_k.reshape(at.shape)
