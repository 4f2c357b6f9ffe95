"""The measurement model, both ways, and how its result depends on each of its inputs.

S = t [e L(T) + (1 - e) L(T_reflected)] + (1 - t) L(T_window), with e the emissivity of the surface and t the
transmission of window and path together; S is what the camera receives, its *radiance temperature* that of a black
body giving S in the camera's band.

Legend: S, L with a subscript are in-band radiances [W m⁻² sr⁻¹]; `background` = t L(T_reflected) + (1 - t) L(T_window).
The model then reads S - background = t e (L(T) - L(T_reflected)), which keeps its digits where e is small.

What cannot be gives NaN: emissivity or transmission outside (0, 1], a surface that would have to send no or negative
radiance. float32 temperatures give float32 ones, everything else float64.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from irspot.camera import Band
from irspot.radiometry.band_table import BandTable, band_table
from irspot.radiometry.carrying import carry

AnyFloatArray = NDArray[np.floating[Any]]
FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]


def surface_temperature(
    radiance_temp_degc: ArrayLike,
    *,
    emissivity: ArrayLike,
    reflected_degc: ArrayLike,
    transmission: ArrayLike = 1.0,
    window_degc: ArrayLike = 20.0,
    band: Band,
    out: Float32Array | None = None,
) -> AnyFloatArray:
    """Temperature of the surface behind a radiance temperature.

    Parameters
    ----------
    radiance_temp_degc : array_like
        [°C]
    emissivity : array_like
        Over 0, up to 1; broadcast against the temperatures, as all that follow.
    reflected_degc : array_like
        [°C]
    transmission : array_like
        Over 0, up to 1.
    window_degc : array_like
        [°C]; of no account where the transmission is 1.
    band : Band
    out : ndarray of float32, optional
        Where to write; for float32 temperatures, of their shape and contiguous.

    Returns
    -------
    ndarray
        [°C]; NaN where not measured and where the inputs are physically impossible (`impossible` tells which).

    Notes
    -----
    L(T) = L(T_reflected) + (S - background) / (t e).

    Examples
    --------
    >>> t = surface_temperature(80.001367, emissivity=0.9, reflected_degc=25.0, band=Band(8.0, 14.0))
    >>> float(t.round(4))
    85.0
    """
    table = band_table(band)
    shared = _uniform(table, reflected_degc, transmission, window_degc)
    if _is_float32(radiance_temp_degc) and shared is not None:
        return _frame_way("divide", radiance_temp_degc, emissivity, shared, table, out)
    reflected, background, passed = _terms(table, emissivity, reflected_degc, transmission, window_degc)
    with np.errstate(all="ignore"):
        radiance = reflected + (table.radiance(radiance_temp_degc) - background) / passed
    return _like(radiance_temp_degc, table.temperature_degc(radiance), out)


def apparent_temperature(
    surface_degc: ArrayLike,
    *,
    emissivity: ArrayLike,
    reflected_degc: ArrayLike,
    transmission: ArrayLike = 1.0,
    window_degc: ArrayLike = 20.0,
    band: Band,
    out: Float32Array | None = None,
) -> AnyFloatArray:
    """Radiance temperature at which a surface appears: the model forwards.

    Parameters
    ----------
    surface_degc : array_like
        [°C]
    emissivity, reflected_degc, transmission, window_degc, band, out
        As in `surface_temperature`.

    Returns
    -------
    ndarray
        [°C]; NaN where not known and where the inputs are physically impossible.

    Notes
    -----
    S = background + t e (L(T) - L(T_reflected)).

    Examples
    --------
    >>> t = apparent_temperature(85.0, emissivity=0.9, reflected_degc=25.0, band=Band(8.0, 14.0))
    >>> float(t.round(6))
    80.001367
    """
    table = band_table(band)
    shared = _uniform(table, reflected_degc, transmission, window_degc)
    if _is_float32(surface_degc) and shared is not None:
        return _frame_way("multiply", surface_degc, emissivity, shared, table, out)
    reflected, background, passed = _terms(table, emissivity, reflected_degc, transmission, window_degc)
    with np.errstate(all="ignore"):
        radiance = background + (table.radiance(surface_degc) - reflected) * passed
    return _like(surface_degc, table.temperature_degc(radiance), out)


def impossible(radiance_temp_degc: ArrayLike, surface_degc: ArrayLike) -> NDArray[np.bool_]:
    """Say where the model had a number to work on and no surface can explain it.

    Parameters
    ----------
    radiance_temp_degc, surface_degc : array_like
        What went into `surface_temperature` and what came out.

    Returns
    -------
    ndarray of bool
    """
    return np.asarray(np.isfinite(radiance_temp_degc) & np.isnan(surface_degc))


@dataclass(frozen=True, slots=True, eq=False)
class Sensitivities:
    """First derivatives of the surface temperature, for an uncertainty budget.

    Parameters
    ----------
    to_radiance_temperature : ndarray
        [K/K]
    to_emissivity : ndarray
        [K per unit]
    to_reflected : ndarray
        [K/K]
    to_transmission : ndarray
        [K per unit]
    to_window : ndarray
        [K/K]
    """

    to_radiance_temperature: FloatArray
    to_emissivity: FloatArray
    to_reflected: FloatArray
    to_transmission: FloatArray
    to_window: FloatArray


def sensitivities(
    radiance_temp_degc: ArrayLike,
    *,
    emissivity: ArrayLike,
    reflected_degc: ArrayLike,
    transmission: ArrayLike = 1.0,
    window_degc: ArrayLike = 20.0,
    band: Band,
) -> Sensitivities:
    """Derivatives of `surface_temperature` with respect to each of its inputs.

    Parameters
    ----------
    radiance_temp_degc, emissivity, reflected_degc, transmission, window_degc, band
        As in `surface_temperature`.

    Returns
    -------
    Sensitivities
        float64 arrays of the inputs' common shape; NaN where the surface temperature is NaN.

    Notes
    -----
    With L' = dL/dT, from L(T) = (S - (1 - t) L(T_w) - t (1 - e) L(T_r)) / (t e):
    ∂T/∂T_rad = L'(T_rad) / (t e L'(T)); ∂T/∂e = (L(T_r) - L(T)) / (e L'(T)); ∂T/∂T_r = -(1 - e) L'(T_r) / (e L'(T));
    ∂T/∂t = (L(T_w) - S) / (t² e L'(T)); ∂T/∂T_w = -(1 - t) L'(T_w) / (t e L'(T)).

    Examples
    --------
    >>> s = sensitivities(80.001367, emissivity=0.9, reflected_degc=25.0, band=Band(8.0, 14.0))
    >>> float(s.to_radiance_temperature.round(5)), float(s.to_emissivity.round(3))
    (1.07827, -54.72)
    """
    table = band_table(band)
    degc = np.asarray(radiance_temp_degc, dtype=np.float64)
    reflected, background, passed = _terms(table, emissivity, reflected_degc, transmission, window_degc)
    received = table.radiance(degc)
    e, t = _share(emissivity), _share(transmission)
    with np.errstate(all="ignore"):
        surface = reflected + (received - background) / passed
        per_radiance = 1.0 / (passed * table.slope(table.temperature_degc(surface)))
        return Sensitivities(
            to_radiance_temperature=table.slope(degc) * per_radiance,
            to_emissivity=(reflected - surface) * t * per_radiance,
            to_reflected=-(1.0 - e) * t * table.slope(reflected_degc) * per_radiance,
            to_transmission=(table.radiance(window_degc) - received) / t * per_radiance,
            to_window=-(1.0 - t) * np.where(t == 1.0, 0.0, table.slope(window_degc)) * per_radiance,
        )


def _terms(
    table: BandTable, emissivity: ArrayLike, reflected_degc: ArrayLike, transmission: ArrayLike, window_degc: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """L(T_reflected), background and t e."""
    e, t = _share(emissivity), _share(transmission)
    reflected = table.radiance(reflected_degc)
    # Where there is no window its temperature, even an unknown one, is of no account.
    window = np.where(t == 1.0, reflected, table.radiance(window_degc))
    return reflected, reflected + (1.0 - t) * (window - reflected), e * t


def _share(values: ArrayLike) -> FloatArray:
    """Emissivity or transmission, NaN outside (0, 1]."""
    share = np.asarray(values, dtype=np.float64)
    return np.where((share > 0.0) & (share <= 1.0), share, np.nan)


@dataclass(frozen=True, slots=True)
class _Uniform:
    """What all pixels share."""

    reflected: float
    background: float
    transmission: float


def _uniform(
    table: BandTable, reflected_degc: ArrayLike, transmission: ArrayLike, window_degc: ArrayLike
) -> _Uniform | None:
    """Terms of the model without the emissivity, if they are the same for all pixels."""
    values = [np.asarray(value, dtype=np.float64) for value in (reflected_degc, transmission, window_degc)]
    return _shared(table, *(value.item() for value in values)) if all(value.size == 1 for value in values) else None


@lru_cache(maxsize=64)
def _shared(table: BandTable, reflected_degc: float, transmission: float, window_degc: float) -> _Uniform:
    # Kept, since the zones of a frame mostly share their surroundings.
    reflected, background, passed = _terms(table, 1.0, reflected_degc, transmission, window_degc)
    return _Uniform(reflected.item(), background.item(), passed.item())


def _frame_way(
    how: Literal["multiply", "divide"],
    degc: ArrayLike,
    emissivity: ArrayLike,
    shared: _Uniform,
    table: BandTable,
    out: Float32Array | None,
) -> Float32Array:
    """The model on float32 pixels, in float32, for anything uniform but the emissivity."""
    pixels = np.asarray(degc, dtype=np.float32)
    passed = _passed_single(emissivity, shared.transmission)
    shape = np.broadcast_shapes(pixels.shape, np.shape(passed))
    target = np.empty(shape, np.float32) if out is None else out
    _check_out(target, shape)
    offset, shift = shared.background, shared.reflected
    if how == "multiply":
        offset, shift = shift, offset
    carry(
        _flat(pixels, shape),
        table,
        offset=offset,
        how=how,
        factor=_flat(passed, shape) if isinstance(passed, np.ndarray) else passed,
        shift=shift,
        out=target.reshape(-1),
    )
    return target


def _passed_single(emissivity: ArrayLike, transmission: float) -> float | Float32Array:
    """The product t e: a number where all pixels share it, else float32 pixels; NaN where impossible."""
    if np.size(emissivity) == 1:
        return _share(emissivity).item() * transmission
    e = np.asarray(emissivity, dtype=np.float32)
    with np.errstate(invalid="ignore"):
        # Two quick scans spare a copy of a map that is in order throughout, as nearly all are.
        if not (np.fmin.reduce(e, axis=None, initial=1.0) > 0.0 and np.fmax.reduce(e, axis=None, initial=1.0) <= 1.0):
            e = np.where((e > 0.0) & (e <= 1.0), e, np.float32(np.nan))
    return e if transmission == 1.0 else e * np.float32(transmission)


def _flat(pixels: Float32Array, shape: tuple[int, ...]) -> Float32Array:
    return np.ascontiguousarray(np.broadcast_to(pixels, shape)).reshape(-1)


def _is_float32(values: ArrayLike) -> bool:
    return isinstance(values, np.ndarray | np.generic) and values.dtype == np.float32


def _like(given: ArrayLike, result: FloatArray, out: Float32Array | None) -> AnyFloatArray:
    """Give the result in the precision of what was given."""
    if out is not None:
        _check_out(out, result.shape)
        out[...] = result
        return out
    return result.astype(np.float32) if _is_float32(given) else result


def _check_out(out: Float32Array, shape: tuple[int, ...]) -> None:
    if out.shape != shape or out.dtype != np.float32 or not out.flags.c_contiguous:
        raise ValueError(f"out must be contiguous float32 of shape {shape}, not {out.dtype} of {out.shape}")
