"""From stored numbers to radiance temperature, whatever the camera stores."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Band, Camera, Signal
from irspot.constants import ZERO_DEGC_KELVIN
from irspot.errors import IrspotError
from irspot.frame import Frame
from irspot.radiometry.band_table import band_table
from irspot.radiometry.settings import undone
from irspot.radiometry.stored_table import look_up, tabulated, tabulates

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]
AnyFloatArray = NDArray[np.floating[Any]]

_KELVINS_PER_UNIT: Final = {"degC": 1.0, "K": 1.0, "degF": 5.0 / 9.0}
_ZERO_OF_UNIT_DEGC: Final = {"degC": 0.0, "K": -ZERO_DEGC_KELVIN, "degF": -32.0 * 5.0 / 9.0}


def radiance_temperature(frame: Frame) -> Float32Array:
    """Radiance temperature of every pixel of a frame: its signal converted, the camera's own settings undone.

    Parameters
    ----------
    frame : Frame

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        [°C], a new array; NaN where nothing was measured or the camera's settings are physically impossible.

    Raises
    ------
    IrspotError
        If the camera's counts have no usable calibration.
    """
    return radiance_temperature_of(frame.stored, frame.camera)


def radiance_temperature_of(stored: NDArray[Any], camera: Camera) -> Float32Array:
    """Radiance temperature of stored numbers of a camera; see `radiance_temperature`.

    Parameters
    ----------
    stored : ndarray, any shape
        In the machine's byte order.
    camera : Camera

    Returns
    -------
    ndarray of float32, that shape
        [°C]

    Raises
    ------
    IrspotError
        If the camera's counts have no usable calibration.
    """
    if tabulates(stored.dtype):
        return look_up(signal_table(camera.signal, camera.band, stored.dtype), stored)
    return _converted_single(stored, camera.signal, camera.band)


def signal_table(signal: Signal, band: Band, dtype: np.dtype[Any]) -> Float32Array:
    """Radiance temperature of every number an integer type of 8 or 16 bits can store, built once.

    Parameters
    ----------
    signal : Signal
    band : Band
    dtype : numpy.dtype
        Of the stored numbers.

    Returns
    -------
    ndarray of float32, read-only
        For `irspot.radiometry.stored_table.look_up`. [°C]
    """
    return tabulated(converted, (signal, band), dtype)


def converted(stored: NDArray[Any], signal: Signal, band: Band) -> FloatArray:
    """Radiance temperature of stored numbers, in float64.

    Parameters
    ----------
    stored : ndarray
    signal : Signal
    band : Band

    Returns
    -------
    ndarray of float64
        [°C]; NaN where nothing was measured or the radiance belongs to no temperature.

    Raises
    ------
    IrspotError
        If counts have no usable calibration.
    """
    numbers = np.asarray(stored, dtype=np.float64)
    if signal.radiance:
        degc = band_table(band).temperature_degc(numbers * signal.scale + signal.offset)
    elif signal.unit == "counts":
        degc = band_table(band).temperature_degc(_calibrated_radiance(numbers, signal.points_degc, band))
    else:
        factor, summand = linear_degc(signal)
        degc = numbers * factor + summand
    return np.asarray(undone(degc, signal.settings, band), dtype=np.float64)


def linear_degc(signal: Signal) -> tuple[float, float]:
    """Factor and summand that take a stored number to °C, for signals linear in temperature.

    Examples
    --------
    >>> linear_degc(Signal(unit="K", scale=0.01))
    (0.01, -273.15)
    """
    kelvins = _KELVINS_PER_UNIT[signal.unit]
    return signal.scale * kelvins, signal.offset * kelvins + _ZERO_OF_UNIT_DEGC[signal.unit]


def falls(signal: Signal) -> bool:
    """Say whether larger stored numbers mean colder places.

    Examples
    --------
    >>> falls(Signal(unit="counts", points_degc=((9000.0, 120.0), (16500.0, 10.0)))), falls(Signal(scale=0.01))
    (True, False)
    """
    if signal.points_degc and not signal.radiance:
        return signal.points_degc[0][1] > signal.points_degc[-1][1]
    return signal.scale < 0.0


def range_degc(camera: Camera) -> tuple[float, float] | None:
    """Radiance temperatures the camera is good for: its declared range, else the ends of its calibration points.

    Parameters
    ----------
    camera : Camera

    Returns
    -------
    tuple of float or None
        Lowest and highest. [°C]
    """
    if camera.accuracy.range_degc is not None:
        return camera.accuracy.range_degc
    temperatures = [degc for _, degc in camera.signal.points_degc]
    return (min(temperatures), max(temperatures)) if temperatures and not camera.signal.radiance else None


def _converted_single(stored: NDArray[Any], signal: Signal, band: Band) -> Float32Array:
    """Convert numbers too many to tabulate; float32 stays float32 where the signal is linear in temperature."""
    if signal.unit == "counts" or signal.radiance or stored.dtype.itemsize > 4 or stored.dtype.kind != "f":
        with np.errstate(over="ignore"):
            return converted(stored, signal, band).astype(np.float32)
    factor, summand = linear_degc(signal)
    with np.errstate(over="ignore", invalid="ignore"):
        degc = np.multiply(stored, np.float32(factor), dtype=np.float32)
        degc += np.float32(summand)
    return np.asarray(undone(degc, signal.settings, band), dtype=np.float32)


def _calibrated_radiance(counts: FloatArray, points: tuple[tuple[float, float], ...], band: Band) -> FloatArray:
    """Radiance of counts: straight lines between the black-body points, the outer ones carried on beyond the ends.

    A detector's counts are linear in radiance, so the outer lines hold a little further; `range_degc` says where
    the calibration ends.
    """
    at, radiance = _checked(points, band)
    piece = np.clip(np.searchsorted(at, counts, side="right") - 1, 0, len(at) - 2)
    rise = np.diff(radiance) / np.diff(at)
    return np.asarray(radiance[piece] + rise[piece] * (counts - at[piece]))


def _checked(points: tuple[tuple[float, float], ...], band: Band) -> tuple[FloatArray, FloatArray]:
    """Counts and radiances of calibration points that can be interpolated."""
    if len(points) < 2:
        raise IrspotError(
            "counts need a calibration",
            key="signal.points",
            found=f"{len(points)} points",
            wanted="two or more [count, degC] points, or radiance = true with scale and offset",
        )
    at, degc = np.array(points, dtype=np.float64).T
    radiance = band_table(band).radiance(degc)
    if not (np.all(np.diff(at) > 0.0) and np.all(np.isfinite(radiance))):
        raise IrspotError(
            "these calibration points cannot be interpolated",
            key="signal.points",
            found=str([list(point) for point in points]),
            wanted="counts that rise from point to point, and temperatures a camera can see",
        )
    return at, radiance
