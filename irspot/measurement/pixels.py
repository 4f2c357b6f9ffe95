"""A frame made ready for measuring: its radiance temperatures, and which of its pixels count."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.frame import Frame
from irspot.measurement.clipping import Clipped, clipped_pixels, declared_clipped
from irspot.measurement.dead_pixels import declared_dead, found_dead
from irspot.measurement.on_the_line import on_the_line
from irspot.measurement.pattern import noise_with_k, without_pattern
from irspot.radiometry import falls, radiance_temperature, range_degc

BoolArray = NDArray[np.bool_]

_NOISY_SHARE: Final = 0.95
"""Pixels of a picture differ in how surely they were decoded; nearly all of them are no noisier than this quantile."""


@dataclass(frozen=True, slots=True, eq=False)
class Pixels:
    """What each pixel of a frame says, and whether it may.

    Parameters
    ----------
    radiance_degc : ndarray of float32, shape (rows, columns)
        NaN where nothing was measured.
    measured : ndarray of bool
        False where the frame holds no number.
    declared, found : ndarray of bool
        Dead by the camera file; dead by the looks of it.
    sound : ndarray of bool
        Measured and not dead.
    clipped : Clipped
    noise_k : float
        Standard deviation of one pixel, at the frame's median temperature.
    frame_noise_k : float
        The frame's part of it, without what a cold frame adds.
    """

    radiance_degc: NDArray[np.float32]
    measured: BoolArray
    declared: BoolArray
    found: BoolArray
    sound: BoolArray
    clipped: Clipped
    noise_k: float
    frame_noise_k: float


@lru_cache(maxsize=1)
def pixels_of(frame: Frame) -> Pixels:
    """Make a frame ready.

    Parameters
    ----------
    frame : Frame
        Kept by identity: its table and its picture are made one after the other, from the same pixels.
    """
    camera = frame.camera
    stored_degc = radiance_temperature(frame)
    degc = _corrected(frame, stored_degc)
    measured = np.isfinite(degc)
    declared = declared_dead(camera.dead_px, frame.shape)
    trusted = measured & ~declared
    frame_noise_k = camera.accuracy.noise_k if frame.noise_k is None else frame.noise_k
    noise_k = _noise_k(frame, degc, trusted, frame_noise_k)
    found = _found_dead(frame, degc, trusted, noise_k)
    sound = trusted & ~found
    clipped = _clipped(frame, stored_degc, sound)
    for array in (degc, measured, declared, found, sound):
        array.flags.writeable = False
    return Pixels(degc, measured, declared, found, sound, clipped, noise_k, frame_noise_k)


def _corrected(frame: Frame, degc: NDArray[np.float32]) -> NDArray[np.float32]:
    """Take off what is known of the camera's error: its pattern, then what known temperatures in view say."""
    if frame.pattern is not None:
        degc = without_pattern(degc, frame.pattern, frame.camera.band)
    if frame.held is not None and frame.held.line is not None:
        degc = on_the_line(degc, frame.held.line)
    return degc


def _noise_k(frame: Frame, degc: NDArray[np.float32], trusted: BoolArray, frame_noise_k: float) -> float:
    if frame.pattern is None or not trusted.any():
        return frame_noise_k
    return noise_with_k(frame_noise_k, frame.pattern, float(np.median(degc[trusted])), frame.camera.band)


def _found_dead(frame: Frame, degc: NDArray[np.float32], trusted: BoolArray, noise_k: float) -> BoolArray:
    """Seek dead pixels where the pixels are the sensor's own: a picture of another size was scaled, as far as known."""
    optics = frame.camera.optics
    if frame.u_decode_k is None:
        return found_dead(degc, trusted, noise_k=noise_k, blur_px=optics.blur_px)
    if optics.size_px != (frame.shape[1], frame.shape[0]) or not trusted.any():
        return np.zeros_like(trusted)
    decoding_k = float(np.quantile(frame.u_decode_k[trusted], _NOISY_SHARE))
    return found_dead(degc, trusted, noise_k=float(np.hypot(noise_k, decoding_k)), blur_px=optics.blur_px)


def _clipped(frame: Frame, degc: NDArray[np.float32], sound: BoolArray) -> Clipped:
    if frame.u_decode_k is not None:
        return declared_clipped(frame.clipped, frame.clipped_low, sound)
    # By what the camera recorded, not by what it is corrected to.
    falling = falls(frame.camera.signal)
    span = range_degc(frame.camera)
    return clipped_pixels(frame.stored, degc, sound, span, frame.clipped, frame.clipped_low, falling=falling)
