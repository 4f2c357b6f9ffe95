"""What a scene's camera gets wrong, in place of one error within its limit; patches of known temperature in view."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from irspot.radiometry.band_table import band_table
from irspot.synthetic.sensor import blurred, pixel_means, radiance
from irspot.synthetic.trust_parts import BAND, SUPERSAMPLE

FloatArray = NDArray[np.float64]
Shown = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class TruePatch:
    """A patch of known temperature beside the board: place and radius in px, true temperature and emissivity."""

    x_px: float
    y_px: float
    radius_px: float
    degc: float
    emissivity: float


@dataclass(frozen=True, slots=True)
class CameraDraw:
    """A camera's error and the patches it sees.

    Parameters
    ----------
    shown_degc : callable
        Radiance temperatures → those the camera shows, noise apart.
    patches : tuple of TruePatch
    """

    shown_degc: Shown
    patches: tuple[TruePatch, ...] = ()


def sensed_degc(samples: FloatArray, blur_px: float) -> FloatArray:
    """Radiance temperatures that an ideal camera shows of a scene's samples."""
    sensed = pixel_means(blurred(samples, blur_px * SUPERSAMPLE), SUPERSAMPLE)
    return np.asarray(band_table(BAND).temperature_degc(sensed), np.float64)


def with_patches(samples: FloatArray, patches: Sequence[TruePatch], reflected_degc: float) -> FloatArray:
    """Put patches into a scene's samples."""
    rows, columns = samples.shape
    x = (np.arange(columns) + 0.5) / SUPERSAMPLE - 0.5
    y = (np.arange(rows) + 0.5)[:, None] / SUPERSAMPLE - 0.5
    changed = samples.copy() if patches else samples
    for patch in patches:
        covered = np.hypot(x - patch.x_px, y - patch.y_px) <= patch.radius_px
        own, emissivity = np.array([patch.degc]), np.array([patch.emissivity])
        changed[covered] = radiance(own, emissivity, reflected_degc, BAND)[0]
    return changed
