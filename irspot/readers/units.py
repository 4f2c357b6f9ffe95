"""Whether a frame's numbers can be what the camera file declares them to be.

A unit is declared, never guessed; numbers that cannot be in it are refused with the declaration that would fit. The
bounds are wide (common sense about boards in rooms, not measurement): a frame that could be right is never refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Camera, Signal
from irspot.constants import STEFAN_BOLTZMANN_W_PER_M2_K4, ZERO_DEGC_KELVIN
from irspot.errors import UnitImplausible

COLDEST_DEGC: Final = -80.0
"""No scene with half its pixels below this holds a board under load (clear sky reads about -60 °C)."""
HOTTEST_DEGC: Final = 2000.0
"""Far above anything a board survives."""
SCATTERED_DEGC: Final = (-200.0, 250.0)
"""No scene has a hundredth of its pixels below the one and a hundredth above the other."""
ROOM_KELVIN: Final = (263.0, 333.0)
"""-10 to 60 °C, in kelvin: where the coldest part of a frame lies, if its numbers are kelvin."""
SAMPLE: Final = 4096
"""Pixels looked at; enough for percentiles of the accuracy needed here, and cheap for every frame of a recording."""

_UNITS: Final = ("degC", "K", "degF")
_SCALES: Final = (1.0, 0.1, 0.01, 0.04, 0.001)
"""Scales that integer formats commonly use (common practice)."""


@dataclass(frozen=True, slots=True)
class Spread:
    """What the numbers of a frame are like: single dead or hot pixels do not count.

    Parameters
    ----------
    cold, middle, hot : float
        1st, 50th and 99th percentile.
    """

    cold: float
    middle: float
    hot: float

    def scaled(self, scale: float, offset: float) -> Spread:
        """Apply ``number * scale + offset``; a negative scale turns the order round."""
        ends = sorted((self.cold * scale + offset, self.hot * scale + offset))
        return Spread(ends[0], self.middle * scale + offset, ends[1])

    def degc(self, unit: str) -> Spread:
        """Convert to °C from degC, K or degF."""
        if unit == "K":
            return self.scaled(1.0, -ZERO_DEGC_KELVIN)
        if unit == "degF":
            return self.scaled(1.0 / 1.8, -32.0 / 1.8)
        return self


def spread_of(stored: NDArray[Any]) -> Spread | None:
    """Sample a frame.

    Parameters
    ----------
    stored : ndarray, shape (rows, columns)

    Returns
    -------
    Spread or None
        None for a frame that holds not one finite number.
    """
    numbers = _finite(stored.ravel()[:: _step(stored.size)])
    if not numbers.size:
        numbers = _finite(stored.ravel())
    if not numbers.size:
        return None
    numbers = np.sort(numbers)
    last = numbers.size - 1
    return Spread(*(float(numbers[round(share * last)]) for share in (0.01, 0.5, 0.99)))


def _step(size: int) -> int:
    # Odd, so that a stride over even-sized rows does not keep to the same columns.
    return max(1, size // SAMPLE) | 1


def _finite(numbers: NDArray[Any]) -> NDArray[Any]:
    return numbers[np.isfinite(numbers)] if numbers.dtype.kind == "f" else numbers


def check_declared(spread: Spread, camera: Camera, file: str) -> None:
    """Refuse numbers that cannot be what the camera file declares.

    Raises
    ------
    UnitImplausible
        With the declaration that would fit, where there is one.
    """
    signal = camera.signal
    if signal.points_degc:
        _check_counts(spread, signal, file)
    elif signal.radiance:
        _check_radiance(spread.scaled(signal.scale, signal.offset), file)
    elif signal.unit != "counts":
        _check_temperature(spread, camera, file)


def check_self_described(spread: Spread, file: str) -> None:
    """Refuse a frame whose own description says °C and whose numbers cannot be that.

    Raises
    ------
    UnitImplausible
        If they are outlandish.
    """
    if _outlandish(spread, None):
        raise UnitImplausible("the file says its numbers are °C, but they cannot be", file=file, found=_range(spread))


def _check_temperature(spread: Spread, camera: Camera, file: str) -> None:
    signal, allowed = camera.signal, camera.accuracy.range_degc
    declared = spread.scaled(signal.scale, signal.offset)
    degc = declared.degc(signal.unit)
    if reason := (_outlandish(degc, allowed) or _kelvin_room(declared, signal, allowed) or _far_above(degc, allowed)):
        raise UnitImplausible(
            f"numbers declared as {_declaration(signal)} make {reason}",
            file=file,
            found=_range(degc),
            hint=_hint(spread, signal),
        )


def _outlandish(degc: Spread, allowed: tuple[float, float] | None) -> str:
    low, high = allowed or (COLDEST_DEGC, HOTTEST_DEGC)
    if degc.middle < min(low, COLDEST_DEGC):
        return f"half the frame colder than {COLDEST_DEGC:g} °C"
    if degc.hot > max(high, HOTTEST_DEGC):
        return f"parts hotter than {HOTTEST_DEGC:g} °C"
    # What swapped bytes look like: numbers scattered over all there are.
    if degc.cold < SCATTERED_DEGC[0] and degc.hot > SCATTERED_DEGC[1]:
        return f"parts colder than {SCATTERED_DEGC[0]:g} °C beside parts hotter than {SCATTERED_DEGC[1]:g} °C"
    return ""


def _kelvin_room(declared: Spread, signal: Signal, allowed: tuple[float, float] | None) -> str:
    """Say whether kelvin were declared as something else: then even the coldest part of a room seems to glow."""
    starts_hot = allowed is not None and allowed[0] > 100.0
    low, high = ROOM_KELVIN
    if signal.unit == "K" or starts_hot or not low <= declared.cold <= high:
        return ""
    return f"even the coldest part of the frame {Spread(declared.cold, 0, 0).degc(signal.unit).cold:.0f} °C"


def _far_above(degc: Spread, allowed: tuple[float, float] | None) -> str:
    if allowed is None:
        return ""
    low, high = allowed
    span = max(high - low, 50.0)
    # Cameras go on a little above their range, but not by half of it for half of the frame.
    if degc.middle > high + 0.5 * span or degc.hot > high + span:
        return f"the frame far hotter than the camera's declared range, {low:g} to {high:g} °C"
    return ""


def _check_counts(spread: Spread, signal: Signal, file: str) -> None:
    (low, low_degc), (high, high_degc) = min(signal.points_degc), max(signal.points_degc)
    # A narrow calibration says little about what lies outside it, so the margin is kelvins as well as a share.
    per_k = (high - low) / max(abs(high_degc - low_degc), 1.0)
    below = low - max(0.5 * (high - low), 60.0 * per_k)
    above = high + max(0.5 * (high - low), 100.0 * per_k)
    if not below <= spread.middle <= above or (spread.cold < below and spread.hot > above):
        raise UnitImplausible(
            "the stored counts lie far outside the calibration points of the camera file",
            file=file,
            found=f"{spread.cold:g} to {spread.hot:g}, middle {spread.middle:g}",
            wanted=f"about {low:g} to {high:g}",
            hint="check [signal] points, and for a raw dump dtype, byte_order and skip_bytes under [raw]",
        )


def _check_radiance(radiance: Spread, file: str) -> None:
    highest = STEFAN_BOLTZMANN_W_PER_M2_K4 / np.pi * (HOTTEST_DEGC + ZERO_DEGC_KELVIN) ** 4
    if not 0.0 < radiance.middle <= highest:
        raise UnitImplausible(
            "scale and offset of the camera file give a radiance that nothing has",
            file=file,
            found=f"middle of the frame {radiance.middle:.6g} W m⁻² sr⁻¹",
            wanted=f"above 0 and below {highest:.3g}",
            hint="check scale and offset under [signal]",
        )


def likely_declaration(spread: Spread) -> str:
    """Name the declaration under which stored numbers are a room with something warm in it; empty for none.

    Examples
    --------
    >>> likely_declaration(Spread(29400.0, 29600.0, 34000.0))
    'unit = "K", scale = 0.01'
    """
    fitting = []
    for unit in _UNITS:
        for scale in _SCALES:
            degc = spread.scaled(scale, 0.0).degc(unit)
            if -40.0 <= degc.cold <= 60.0 and degc.middle <= 150.0 and degc.hot <= 400.0:
                # Of several, the one whose coldest part is nearest to room temperature.
                fitting.append((abs(degc.cold - 22.0), unit, scale))
    if not fitting:
        return ""
    _, unit, scale = min(fitting)
    return f'unit = "{unit}"' + (f", scale = {scale:g}" if scale != 1.0 else "")


def _hint(spread: Spread, signal: Signal) -> str:
    likely = likely_declaration(spread)
    if likely and likely != _declaration(signal):
        if signal.scale != 1.0 and "scale" not in likely:
            likely += ", scale = 1"
        return f"the camera file most likely wants [signal] {likely}"
    return "check unit, scale and offset under [signal] of the camera file, and byte_order under [raw] for a raw dump"


def _declaration(signal: Signal) -> str:
    text = f'unit = "{signal.unit}"'
    text += f", scale = {signal.scale:g}" if signal.scale != 1.0 else ""
    return text + (f", offset = {signal.offset:g}" if signal.offset else "")


def _range(degc: Spread) -> str:
    return f"{degc.cold:.1f} to {degc.hot:.1f} °C, middle {degc.middle:.1f} °C"
