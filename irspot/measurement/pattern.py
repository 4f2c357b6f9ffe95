"""The camera's own pattern taken off a frame, and what that leaves uncertain.

Detectors of one camera differ by what they add to the radiance they receive, and so does the lens from its middle to
its corners. The deviation of each pixel from a cold frame's median is taken off in in-band radiance: 1 K at 23 °C is
0.6 K at 90 °C (8-14 µm), by the ratio of dL/dT.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Band
from irspot.camera_error import Pattern
from irspot.constants import RECTANGULAR
from irspot.radiometry import band_table
from irspot.uncertain import Term

F32 = NDArray[np.float32]


def without_pattern(radiance_degc: F32, pattern: Pattern, band: Band) -> F32:
    """Radiance temperatures without the camera's pattern.

    Parameters
    ----------
    radiance_degc : ndarray of float32, shape (rows, columns)
    pattern : Pattern
        Of that shape.
    band : Band

    Returns
    -------
    ndarray of float32, that shape
        T with L(T) = L(T_shown) - (L(T_cold) - L(median)); NaN where not measured.
    """
    table = band_table(band)
    with np.errstate(invalid="ignore"):
        radiance = table.radiance(radiance_degc) - pattern.radiance
        return np.asarray(table.temperature_degc(radiance), np.float32)


def shrinks_to(pattern: Pattern, radiance_degc: float, band: Band) -> float:
    """Ratio of a difference at a radiance temperature to the same radiance's difference in the cold frame, in K/K.

    Examples
    --------
    >>> even = np.zeros((1, 1), np.float32)
    >>> round(shrinks_to(Pattern(even, 23.0, 0.05, even, 1, 0.0), 90.0, Band(8.0, 14.0)), 3)
    0.611
    """
    table = band_table(band)
    return float(table.slope(pattern.at_degc) / table.slope(radiance_degc))


def noise_with_k(noise_k: float, pattern: Pattern | None, radiance_degc: float, band: Band) -> float:
    """Noise of one pixel at a radiance temperature: the frame's, and what the cold frame's adds."""
    if pattern is None:
        return noise_k
    return float(np.hypot(noise_k, pattern.noise_k * shrinks_to(pattern, radiance_degc, band)))


def pattern_terms(
    pattern: Pattern | None, x_px: float, y_px: float, radiance_degc: float, band: Band
) -> Iterator[Term]:
    """Give the term of a budget for what a cold frame leaves uncertain at one pixel, on its radiance temperature.

    Parameters
    ----------
    pattern : Pattern or None
    x_px, y_px : float
        Within half a pixel of the one that was read.
    radiance_degc : float
    band : Band
    """
    if pattern is None or not np.isfinite(x_px):
        return
    scene_k = float(pattern.scene_k[round(y_px), round(x_px)])
    u_cold_k = float(np.hypot(pattern.noise_k, scene_k / RECTANGULAR))
    yield Term("cold frame", u_cold_k * shrinks_to(pattern, radiance_degc, band), 1.0)
