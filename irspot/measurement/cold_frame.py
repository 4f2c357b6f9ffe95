"""The camera's own pattern, taken from a frame of an even scene at room temperature.

What a scene shows besides must not be taken for the camera. A real pattern is smooth over the frame (shading), lies
along rows and columns, or differs from pixel to pixel; a scene has things in it, of some size and with edges. So what
is left without these three, averaged over 5 × 5 pixels, counts as the scene's contrast: too much of it and the cold
frame is refused; the rest bounds what the scene may have added.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera_error import Pattern
from irspot.conditions import Conditions
from irspot.constants import COVERAGE_FACTOR
from irspot.errors import ColdFrameRefused
from irspot.frame import Frame
from irspot.measurement.budget import limit_k
from irspot.measurement.corrections import filled
from irspot.measurement.pixels import Pixels, pixels_of
from irspot.opencv import load_cv2
from irspot.radiometry import band_table

F32 = NDArray[np.float32]
BoolArray = NDArray[np.bool_]

_OFF_AMBIENT_K: Final = 5.0
"""Beyond the camera's own limit: a room is not of one temperature, nor a lens cap that lay on a warm camera."""
_ROOM_DEGC: Final = (10.0, 35.0)
"""For runs that state no ambient temperature."""
_WIDEST_K: Final = 3.0
"""Robust standard deviation of a frame from which it is no even scene, whatever the camera."""
_MOST_SCENE_K: Final = 1.0
"""Contrast that 95 % of a frame keep to: above it a step of some 2.5 K shows, more than an unpowered board at room
temperature has against its bench."""
_STRONG_SHARE: Final = 0.99
_STRONGEST_SCENE_K: Final = 2.0
"""The same for 99 %: a few parts that are still warm, or mirror somebody."""
_LEAST_KNOWN: Final = 0.98
_BOX_PX: Final = 5
_SHARE: Final = 0.95
_NORMAL_95: Final = 1.96
_FAR_OUT: Final = 6.0
_MAD: Final = 1.4826
_ORDER: Final = 4
"""Of the polynomial that shading is: lenses darken towards their corners by the fourth power of a cosine."""
_FITTED_ROWS: Final = 64
_U_OF_SCENE: Final = 2.0
"""What is smooth takes its share of a step: it may be about twice as high as what 95 % keep to."""


def pattern_of(cold: Frame, conditions: Conditions) -> Pattern:
    """Take the camera's pattern from a cold frame.

    Parameters
    ----------
    cold : Frame
        Of an even wall, the lens cap or the unpowered board, at room temperature; a mean of several is better.
    conditions : Conditions
        Its ambient temperature is what a cold frame must be near.

    Returns
    -------
    Pattern

    Raises
    ------
    ColdFrameRefused
        If the frame cannot show a pattern, was not taken at room temperature, or shows a scene.
    """
    if cold.u_decode_k is not None:
        raise _refused(cold, "the steps of a colour-mapped picture hide the camera's pattern", "a radiometric frame")
    pixels = pixels_of(cold)
    known = _known(pixels)
    if float(known.mean()) < _LEAST_KNOWN:
        found = f"{100.0 * float(known.mean()):.1f} % of its pixels measured and not clipped"
        raise _refused(cold, "too little of it is measured", f"{100.0 * _LEAST_KNOWN:g} %", found)
    degc = pixels.radiance_degc
    at_degc = float(np.median(degc[known]))
    _check_room_temperature(cold, at_degc, conditions)
    deviation_k = np.nan_to_num(filled(np.where(known, degc - np.float32(at_degc), np.float32(0.0)), known))
    spread_k = _MAD * float(np.median(np.abs(deviation_k[known])))
    if spread_k > _WIDEST_K:
        found = f"{spread_k:.1f} K about its median"
        raise _refused(cold, "its pixels spread too far for an even scene", f"at most {_WIDEST_K:g} K", found)
    table = band_table(cold.camera.band)
    radiance = table.radiance(at_degc + deviation_k.astype(np.float64)) - table.radiance(at_degc)
    scene_k = _scene(cold, deviation_k)
    return Pattern(radiance.astype(np.float32), at_degc, pixels.noise_k, scene_k, cold.averaged, spread_k)


def check_same_camera(frame: Frame, pattern: Pattern, cold_name: str) -> None:
    """Refuse a pattern for a frame that it cannot belong to.

    Raises
    ------
    ColdFrameRefused
        If their sizes differ, or the frame is a picture.
    """
    if frame.u_decode_k is not None:
        message = "a colour-mapped picture shows no camera's pattern to be taken off"
        raise ColdFrameRefused(message, file=cold_name, hint=f"use the radiometric frame behind '{frame.name}'")
    if frame.shape != pattern.radiance.shape:
        sizes = [f"{shape[1]} x {shape[0]} px" for shape in (pattern.radiance.shape, frame.shape)]
        raise ColdFrameRefused(
            f"it is not of the size of '{frame.name}'", file=cold_name, found=sizes[0], wanted=sizes[1], hint=_AGAIN
        )


_AGAIN: Final = "take the cold frame with the same camera, range and settings, in the same session"


def _refused(cold: Frame, message: str, wanted: str, found: str = "") -> ColdFrameRefused:
    hint = "fill the frame with an even wall, the lens cap or the unpowered board, at room temperature"
    return ColdFrameRefused(message, file=cold.name, found=found, wanted=wanted, hint=hint)


def _known(pixels: Pixels) -> BoolArray:
    known = pixels.sound.copy()
    for clipped in (pixels.clipped.high, pixels.clipped.low):
        if clipped is not None:
            known &= ~clipped
    # One that only looks dead may be a pixel far off that works: its deviation is what is wanted.
    return known | (pixels.found & pixels.measured)


def _check_room_temperature(cold: Frame, at_degc: float, conditions: Conditions) -> None:
    ambient_degc = conditions.ambient_degc
    if ambient_degc is None:
        if not _ROOM_DEGC[0] <= at_degc <= _ROOM_DEGC[1]:
            wanted = f"{_ROOM_DEGC[0]:g} to {_ROOM_DEGC[1]:g} °C, as no ambient temperature is given"
            raise _refused(cold, "it was not taken at room temperature", wanted, f"{at_degc:.1f} °C")
        return
    allowed_k = limit_k(cold.camera.accuracy, at_degc) + _OFF_AMBIENT_K + COVERAGE_FACTOR * conditions.u_ambient_k
    if abs(at_degc - ambient_degc) > allowed_k:
        wanted = f"within {allowed_k:.1f} K of the ambient {ambient_degc:g} °C"
        raise _refused(cold, "it was not taken at room temperature", wanted, f"{at_degc:.1f} °C")


def _scene(cold: Frame, deviation_k: F32) -> F32:
    """Bound, pixel by pixel, what may be the scene's contrast; refuse too much of it."""
    local_k, white_k = scene_contrast_k(deviation_k)
    most_k = float(np.quantile(np.abs(local_k), _SHARE))
    own_k = _NORMAL_95 * white_k / _BOX_PX
    # How far most of it is from even, less what pixels that differ make of means of so many.
    general_k = float(np.sqrt(max(0.0, most_k**2 - own_k**2)))
    strong_k = float(np.quantile(np.abs(local_k), _STRONG_SHARE))
    if general_k > _MOST_SCENE_K or strong_k > _STRONGEST_SCENE_K:
        found = f"things in it that differ by {max(general_k, strong_k):.1f} K and more"
        raise _refused(cold, "it shows a scene besides the camera's pattern", f"at most {_MOST_SCENE_K:g} K", found)
    return np.asarray(np.maximum(np.abs(local_k), np.float32(_U_OF_SCENE * general_k)), np.float32)


def scene_contrast_k(deviation_k: F32) -> tuple[F32, float]:
    """Tell what things in a scene add to a cold frame from what cameras do.

    Parameters
    ----------
    deviation_k : ndarray of float32, shape (rows, columns)
        From the frame's median, a number everywhere.

    Returns
    -------
    ndarray of float32, that shape
        Means of 5 × 5 pixels of what is left without shading, rows and columns.
    float
        Standard deviation of what differs from pixel to pixel.
    """
    cv2 = load_cv2()
    calm = cv2.medianBlur(deviation_k, 3)
    alone = deviation_k - calm
    white_k = _MAD * float(np.median(np.abs(alone)))
    own = np.where(np.abs(alone) > _FAR_OUT * white_k + 1e-3, calm, deviation_k).astype(np.float32)
    left = own - shading_k(own)
    left = left - np.median(left, axis=1, keepdims=True)
    left = left - np.median(left, axis=0, keepdims=True)
    return np.asarray(cv2.blur(left.astype(np.float32), (_BOX_PX, _BOX_PX), borderType=cv2.BORDER_REFLECT)), white_k


def shading_k(deviation_k: F32) -> F32:
    """Fit what varies smoothly over a frame: a polynomial of fourth order in x and y, by least squares.

    Parameters
    ----------
    deviation_k : ndarray of float32, shape (rows, columns)

    Returns
    -------
    ndarray of float32, that shape
    """
    rows, columns = deviation_k.shape
    step = max(1, min(rows, columns) // _FITTED_ROWS)
    x, y = np.linspace(-1.0, 1.0, columns), np.linspace(-1.0, 1.0, rows)
    powers = [(i, j) for i in range(_ORDER + 1) for j in range(_ORDER + 1 - i)]
    some = np.stack([np.outer(y[::step] ** j, x[::step] ** i).ravel() for i, j in powers], axis=1)
    factors = np.zeros((_ORDER + 1, _ORDER + 1))
    found = np.linalg.lstsq(some, deviation_k[::step, ::step].ravel().astype(np.float64), rcond=None)[0]
    for (i, j), factor in zip(powers, found, strict=True):
        factors[j, i] = factor
    return np.asarray(
        np.vander(y, _ORDER + 1, increasing=True) @ factors @ np.vander(x, _ORDER + 1, increasing=True).T, np.float32
    )
