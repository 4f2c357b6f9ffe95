"""From stored numbers to surface temperature in one look-up, where the settings are the same for all pixels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Band, Signal
from irspot.frame import Frame
from irspot.radiometry.model import surface_temperature
from irspot.radiometry.signal import converted, radiance_temperature
from irspot.radiometry.stored_table import look_up, tabulated, tabulates

Float32Array = NDArray[np.float32]


def stored_to_surface(
    frame: Frame,
    *,
    emissivity: float,
    reflected_degc: float,
    transmission: float = 1.0,
    window_degc: float = 20.0,
    out: Float32Array | None = None,
) -> Float32Array:
    """Surface temperature of every pixel of a frame under uniform settings.

    Parameters
    ----------
    frame : Frame
        With 8- or 16-bit integers a table of all of them is built at the first frame and read for it and all others.
    emissivity, reflected_degc, transmission, window_degc : float
        As in `irspot.radiometry.model.surface_temperature`.
    out : ndarray of float32, optional
        Where to write, of the frame's shape and contiguous.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        [°C]; NaN where nothing was measured or the inputs are physically impossible.

    Raises
    ------
    IrspotError
        If the camera's counts have no usable calibration.
    """
    camera, stored = frame.camera, frame.stored
    how = (float(emissivity), float(reflected_degc), float(transmission), float(window_degc))
    if tabulates(stored.dtype):
        return look_up(tabulated(_surface, (camera.signal, camera.band, *how), stored.dtype), stored, out)
    return _modelled(radiance_temperature(frame), camera.band, *how, out=out)


def _surface(
    numbers: NDArray[np.float64],
    signal: Signal,
    band: Band,
    emissivity: float,
    reflected_degc: float,
    transmission: float,
    window_degc: float,
) -> Float32Array:
    # Through float32 on purpose: the table then says to the last bit what the two steps say one after the other.
    single = converted(numbers, signal, band).astype(np.float32)
    return _modelled(single, band, emissivity, reflected_degc, transmission, window_degc)


def _modelled(
    radiance_temp_degc: Float32Array,
    band: Band,
    emissivity: float,
    reflected_degc: float,
    transmission: float,
    window_degc: float,
    out: Float32Array | None = None,
) -> Float32Array:
    surface = surface_temperature(
        radiance_temp_degc,
        emissivity=emissivity,
        reflected_degc=reflected_degc,
        transmission=transmission,
        window_degc=window_degc,
        band=band,
        out=out,
    )
    return np.asarray(surface, dtype=np.float32)
