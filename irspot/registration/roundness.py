"""How much every place of an image looks like the middle of a small round thing of one temperature.

Around a place the image is taken for a plane plus a blurred disc of unknown contrast, warm or cool. What counts is the
share of the variance around the plane that the disc explains: the squared correlation of image and disc. It says little
of how strong a thing is and much of how round; noise and texture lower it alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.opencv import load_cv2

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]

RADII_MM: Final = (1.0, 1.3, 1.7, 2.2, 2.9, 3.8, 5.0)
_MOST_CELLS: Final = 4.5
"""Larger discs are sought in an image that is reduced."""
_AROUND_RADII: Final = 1.6
_AROUND_BLURS: Final = 1.5
_BACKGROUND_RADII: Final = 2.5
_NOISE_FLOOR: Final = 0.35
"""Share of the noise that the variance has at least; smoothing takes the rest."""


@dataclass(frozen=True, slots=True, eq=False)
class Roundness:
    """Of every place of an image.

    Parameters
    ----------
    share : ndarray of float32, shape (rows, columns)
        Share of the variance that the best disc explains, 0 to 1.
    radius : ndarray of float32, shape (rows, columns)
        Of that disc.
    contrast_k : ndarray of float32, shape (rows, columns)
        Of that disc against its surround.
    """

    share: F32
    radius: F32
    contrast_k: F32


def roundness(degc: F32, step: float, blur: float, noise_k: float, radii: tuple[float, ...]) -> Roundness:
    """Judge every place of an image.

    Parameters
    ----------
    degc : ndarray of float32, shape (rows, columns)
    step : float
        From one column to the next, in any unit of length (mm on the board, or px).
    blur : float
        Standard deviation of the blur, in that unit.
    noise_k : float
        Standard deviation of one pixel.
    radii : tuple of float
        To be tried, in that unit.

    Returns
    -------
    Roundness
    """
    flat = degc - _background(degc, _BACKGROUND_RADII * max(radii) / step)
    best = Roundness(*(np.zeros_like(flat) for _ in range(3)))
    for radius in radii:
        share, contrast = _of_radius(flat, step, blur, noise_k, radius)
        better = share > best.share
        best = Roundness(
            np.where(better, share, best.share),
            np.where(better, np.float32(radius), best.radius),
            np.where(better, contrast, best.contrast_k),
        )
    return best


def _background(degc: F32, sigma: float) -> F32:
    """What changes slowly; taken away, so that squares of what is left keep their digits."""
    cv2 = load_cv2()
    fold = max(1, int(sigma / 4.0))
    size = (max(1, degc.shape[1] // fold), max(1, degc.shape[0] // fold))
    small = cv2.GaussianBlur(cv2.resize(degc, size, interpolation=cv2.INTER_AREA), (0, 0), sigma / fold)
    return np.asarray(cv2.resize(small, degc.shape[::-1], interpolation=cv2.INTER_LINEAR))


def _of_radius(degc: F32, step: float, blur: float, noise_k: float, radius: float) -> tuple[F32, F32]:
    cv2 = load_cv2()
    fold = 1
    while radius / step / fold > _MOST_CELLS:
        fold *= 2
    size = (degc.shape[1] // fold, degc.shape[0] // fold)
    if min(size) < 3:
        return np.zeros_like(degc), np.zeros_like(degc)
    small = degc if fold == 1 else np.asarray(cv2.resize(degc, size, interpolation=cv2.INTER_AREA))
    share, contrast = _explained(small, step * fold, blur, noise_k / fold, radius)
    if fold == 1:
        return share, contrast
    unfold = np.array([[fold, 0.0, (fold - 1) / 2.0], [0.0, fold, (fold - 1) / 2.0]], np.float32)
    large = [
        cv2.warpAffine(plane, unfold, degc.shape[::-1], flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        for plane in (share, contrast)
    ]
    return np.asarray(large[0], np.float32), np.asarray(large[1], np.float32)


def _explained(degc: F32, step: float, blur: float, noise_k: float, radius: float) -> tuple[F32, F32]:
    """Fit plane and disc by least squares around every pixel: share explained by the disc, and its contrast.

    The window is symmetric, so that the plane's slopes and the disc are orthogonal, and sums over it are filters.
    """
    spread = float(np.hypot(blur, 0.3 * step))
    reach = _AROUND_RADII * radius + _AROUND_BLURS * spread + 0.5 * step
    half = int(np.ceil(reach / step))
    y, x = (axis * step for axis in np.mgrid[-half : half + 1, -half : half + 1].astype(np.float64))
    distance = np.hypot(x, y)
    window = np.clip((reach - distance) / step + 0.5, 0.0, 1.0)
    disc = soft_disc(distance, radius, spread)
    disc = disc - np.sum(disc * window) / np.sum(window)
    count, own = float(window.sum()), float(np.sum(window * disc * disc))
    level, along_x, along_y, like_disc = (
        _filtered(degc, window * shape) for shape in (np.ones_like(x), x, y, disc)
    )  # fmt: skip
    squares = _filtered(degc * degc, window)
    slopes = (along_x * along_x + along_y * along_y) / np.float32(np.sum(window * x * x))
    variance = squares - level * level / np.float32(count) - slopes
    explained = like_disc * like_disc / np.float32(own)
    variance = np.maximum(variance, explained + np.float32(count * (_NOISE_FLOOR * noise_k) ** 2))
    return np.asarray(explained / np.maximum(variance, np.float32(1e-12)), np.float32), like_disc / np.float32(own)


def soft_disc(distance: FloatArray, radius: float, blur: float) -> FloatArray:
    """Height of a blurred disc at distances from its middle: an edge blurred by a Gaussian, bent around.

    Parameters
    ----------
    distance : ndarray
    radius, blur : float
        In the unit of `distance`.

    Examples
    --------
    >>> soft_disc(np.array([0.0, 2.0, 9.0]), 2.0, 0.5).round(3).tolist()
    [0.999, 0.5, 0.0]
    """
    # The logistic curve nearest to the normal distribution, which needs no SciPy: off by 0.0095 at most.
    with np.errstate(over="ignore"):
        return np.asarray(1.0 / (1.0 + np.exp(1.702 * (distance - radius) / max(blur, 1e-9))))


def _filtered(plane: F32, kernel: FloatArray) -> F32:
    cv2 = load_cv2()
    return np.asarray(
        cv2.filter2D(plane, cv2.CV_32F, kernel.astype(np.float32), borderType=cv2.BORDER_REPLICATE), np.float32
    )
