"""From true temperatures to the numbers a camera stores: radiance, optics, offset, noise, faults, counts."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Accuracy, Band, Optics
from irspot.constants import ZERO_DEGC_KELVIN
from irspot.opencv import load_cv2
from irspot.radiometry.band_table import band_table
from irspot.synthetic.canvas import paint
from irspot.synthetic.scene import Scene
from irspot.synthetic.surface import Surface
from irspot.synthetic.view import rays, sample_directions

FloatArray = NDArray[np.float64]


def photograph(scene: Scene, surface: Surface) -> NDArray[np.uint16]:
    """Take the frame of a scene as the camera stores it.

    Parameters
    ----------
    scene : Scene
    surface : Surface
        Of the scene's side and load.

    Returns
    -------
    ndarray of uint16, shape (rows, columns)
    """
    view = scene.view
    seen = seen_radiance(scene, surface)
    blur_px = view.camera.optics.blur_px or 0.0
    sensed = pixel_means(blurred(seen, blur_px * view.supersample), view.supersample)
    reading = np.asarray(band_table(view.camera.band).temperature_degc(sensed), np.float64)
    reading = reading + scene.error_share * limit_at(view.camera.accuracy, reading)
    reading = with_noise(reading, view.camera.accuracy, scene.seed)
    for x, y, degc in view.faults:
        reading[y, x] = degc
    return counts(reading, view.camera.signal.scale, view.camera.signal.offset)


def seen_radiance(scene: Scene, surface: Surface) -> FloatArray:
    """In-band radiance of every sample: e L(T) + (1 - e) L(T_reflected), nothing between board and camera.

    Returns
    -------
    ndarray, shape (rows * supersample, columns * supersample)
    """
    view = scene.view
    directions = _directions(view.camera.optics, view.size_px, view.supersample)
    canvas = paint(scene, surface, rays(directions, scene.pose, scene.side))
    return radiance(canvas.degc, canvas.emissivity, scene.reflected_degc, view.camera.band)


def radiance(degc: FloatArray, emissivity: FloatArray, reflected_degc: float, band: Band) -> FloatArray:
    """Radiance that leaves an opaque surface: e L(T) + (1 - e) L(T_reflected).

    Parameters
    ----------
    degc, emissivity : ndarray, any one shape
    reflected_degc : float
    band : Band

    Returns
    -------
    ndarray, that shape
        W m⁻² sr⁻¹.
    """
    table = band_table(band)
    own = np.asarray(table.radiance(degc), np.float64)
    reflected = float(table.radiance(np.array([reflected_degc]))[0])
    return np.asarray(emissivity * own + (1.0 - emissivity) * reflected)


@lru_cache(maxsize=4)
def _directions(optics: Optics, size_px: tuple[int, int], supersample: int) -> FloatArray:
    directions = sample_directions(optics, size_px, supersample)
    directions.flags.writeable = False
    return directions


def blurred(image: FloatArray, sigma: float) -> FloatArray:
    """Blur by a Gaussian point spread; the border repeats outwards.

    Parameters
    ----------
    image : ndarray, shape (rows, columns)
    sigma : float
        Standard deviation in samples; 0 leaves the image as it is.
    """
    cv2 = load_cv2()

    if sigma == 0.0:
        return image
    return np.asarray(cv2.GaussianBlur(image, (0, 0), sigma, borderType=cv2.BORDER_REPLICATE))


def pixel_means(samples: FloatArray, supersample: int) -> FloatArray:
    """Average the samples of each pixel: a detector without gaps."""
    rows, columns = samples.shape[0] // supersample, samples.shape[1] // supersample
    blocks = samples.reshape(rows, supersample, columns, supersample)
    return np.asarray(blocks.mean(axis=(1, 3)))


def limit_at(accuracy: Accuracy, reading_degc: FloatArray) -> FloatArray:
    """The maker's bound at a reading: the larger of the fixed and the relative one."""
    return np.maximum(accuracy.limit_k, accuracy.limit_relative * reading_degc)


def with_noise(reading_degc: FloatArray, accuracy: Accuracy, seed: int) -> FloatArray:
    """Add one error of the whole frame (repeatability) and one of each pixel (noise)."""
    random = np.random.default_rng(seed)
    whole_frame = accuracy.repeatability_k * random.standard_normal()
    return reading_degc + whole_frame + accuracy.noise_k * random.standard_normal(reading_degc.shape)


def counts(reading_degc: NDArray[np.floating[Any]], scale: float, offset: float) -> NDArray[np.uint16]:
    """Quantise to what is stored: ``kelvin = stored * scale + offset``, kept within 16 bits."""
    stored = np.rint((reading_degc + ZERO_DEGC_KELVIN - offset) / scale)
    return np.asarray(np.clip(stored, 0, 65535), np.uint16)
