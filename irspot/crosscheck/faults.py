"""Beads that came off or failed: found by what no board does, and masked from that moment on, never deleted.

A board cools with time constants of half a minute and more (`COOLS_S`), a bead in the air with seconds. A fall is put
down to the bead only if it is faster than the first, outdoes noise, and nothing else falls with it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from irspot.crosscheck.bead_budget import ASSUMED_AMBIENT_DEGC
from irspot.series import Series

FloatArray = NDArray[np.floating[Any]]
BoolArray = NDArray[np.bool_]
FaultKind = Literal["detached", "step", "noisy", "implausible", "lost"]

COOLS_S: Final = 30.0
"""No board, and no part with a bead on it, cools with a shorter time constant (common practice: minutes)."""
COOLS_UNLOADED_S: Final = 10.0
"""The same where power was seen to fall: what is then allowed for a small part."""
PLAUSIBLE_DEGC: Final = (-60.0, 400.0)
SLOW_SAMPLES_S: Final = 15.0
_SIGMAS: Final = 6.0
_FALL_SIGMAS: Final = 4.0
"""Two samples have to pass it against one before: by noise alone that happens once in some millions."""
_LEAST_FALL_K: Final = 0.2
_LEAST_STEP_K: Final = 3.0
_NOISE_TIMES: Final = 8.0
_LEAST_NOISE_K: Final = 1.0
_NOISE_SAMPLES: Final = 6
_LEARNING: Final = 20
"""Samples from which on a channel's own noise is known."""
_WITNESSED: Final = 0.5
"""A fall that another series shows by so much of it is none of the bead's."""
_POWER_FALLS: Final = 0.3
_COOLING_ON_S: Final = 60.0
"""Power that fell so long ago still has small parts cooling."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What happened to a bead.

    Parameters
    ----------
    kind : {"detached", "step", "noisy", "implausible", "lost"}
        As flags of `irspot.crosscheck.bead_flags`.
    from_s : float
        The first sample that is not to be believed.
    found_s : float
        The sample by which it could be told.
    found_after : int
        Samples between the two, the first counted.
    detail : str
        In words.
    """

    kind: FaultKind
    from_s: float
    found_s: float
    found_after: int
    detail: str


@dataclass(frozen=True, slots=True)
class Witnesses:
    """What else is known of the time: a load that is switched off is no fault of a bead's.

    Parameters
    ----------
    ambient_degc : Series, float or None
        Air beside the board; None has 23 °C, or the lowest the bead showed, taken.
    temperatures : tuple of Series
        Other beads and zones of the image, on the same clock.
    power : Series or None
    """

    ambient_degc: Series | float | None = None
    temperatures: tuple[Series, ...] = ()
    power: Series | None = None


NO_WITNESSES: Final = Witnesses()


def bead_fault(bead: Series, witnesses: Witnesses = NO_WITNESSES) -> Fault | None:
    """Find the first moment from which a bead is not to be believed.

    Parameters
    ----------
    bead : Series
        As logged. Single samples that are missing or implausible are only lost samples.
    witnesses : Witnesses

    Returns
    -------
    Fault or None
    """
    wild = _wild(bead)
    found = [fault for fault in (_implausible(bead, wild), _lost(bead)) if fault is not None]
    kept = ~wild & np.isfinite(bead.value)
    sound = Series(bead.name, bead.kind, bead.unit, bead.time_s[kept], bead.value[kept], bead.u[kept], bead.u_shared)
    if sound.value.size >= 4:
        course = _Course(sound.time_s, sound.value, _air(sound, witnesses), _noise_before(sound.value))
        found += [fault for fault in (_detached(course, witnesses), _step(course, witnesses)) if fault is not None]
        noisy = _noisy(course)
        found += [] if noisy is None else [noisy]
    return min(found, key=lambda fault: (fault.from_s, fault.found_s), default=None)


def masked(bead: Series, fault: Fault | None) -> Series:
    """Give a bead with NaN for what it showed from a fault on, and for single implausible values, at the same times."""
    off = _wild(bead)
    if fault is not None:
        off |= bead.time_s >= fault.from_s
    value = np.where(off, np.nan, bead.value)
    return Series(bead.name, bead.kind, bead.unit, bead.time_s, value, bead.u, bead.u_shared)


def sampled_slowly(bead: Series) -> bool:
    """Say whether a log is too slow to tell a bead in the air from a board that cools."""
    known = bead.known.time_s
    return bool(known.size > 1 and np.median(np.diff(known)) > SLOW_SAMPLES_S)


@dataclass(frozen=True, slots=True, eq=False)
class _Course:
    """A bead's samples that can be believed so far, with the air and the noise at each."""

    time_s: FloatArray
    value: FloatArray
    air: FloatArray
    noise_k: FloatArray


def _wild(bead: Series) -> BoolArray:
    low, high = PLAUSIBLE_DEGC
    with np.errstate(invalid="ignore"):
        return np.asarray((bead.value < low) | (bead.value > high))


def _implausible(bead: Series, wild: BoolArray) -> Fault | None:
    """Two values in a row that no bead shows, or one that is the last."""
    after = np.append(wild[1:], True)
    at = np.flatnonzero(wild & after)
    if not at.size:
        return None
    first = int(at[0])
    last = min(first + 1, wild.size - 1)
    detail = f"{bead.value[first]:g} °C"
    return Fault("implausible", float(bead.time_s[first]), float(bead.time_s[last]), last - first + 1, detail)


def _lost(bead: Series) -> Fault | None:
    """Three samples or more without a value to the end."""
    known = np.flatnonzero(np.isfinite(bead.value))
    if not known.size or bead.value.size - 1 - known[-1] < 3:
        return None
    first = int(known[-1]) + 1
    return Fault("lost", float(bead.time_s[first]), float(bead.time_s[first + 2]), 3, "no more values")


def _air(sound: Series, witnesses: Witnesses) -> FloatArray:
    ambient = witnesses.ambient_degc
    if isinstance(ambient, Series):
        known = ambient.known
        if known.time_s.size:
            return np.interp(sound.time_s, known.time_s, known.value)
        ambient = None
    if ambient is None:
        ambient = min(ASSUMED_AMBIENT_DEGC, float(sound.value.min()))
    return np.full(sound.time_s.shape, ambient)


def _noise_before(value: FloatArray) -> FloatArray:
    """Standard deviation of noise, of the samples before each (of all where these are few), by second differences.

    Never below what a display of tenths makes of it.
    """
    second = np.abs(np.diff(value, 2))
    scale = 1.4826 / math.sqrt(6.0)
    overall = float(np.median(second)) if second.size else 0.0
    noise = np.full(value.shape, overall)
    # Learnt anew now and then only: medians of all before each sample would cost the square of their number.
    for begin in range(_LEARNING, value.size, _LEARNING):
        noise[begin : begin + _LEARNING] = np.median(second[max(0, begin - 400) : begin - 2])
    return np.maximum(noise * scale, 0.1 / math.sqrt(12.0))


def _detached(course: _Course, witnesses: Witnesses) -> Fault | None:
    """A fall towards the air that two samples in a row show to be faster than any board's."""
    time_s, value = course.time_s, course.value
    for begin in np.flatnonzero(
        _too_fast(course, 1) & _too_fast(course, 2) | _too_fast(course, 2) & _too_fast(course, 3)
    ):
        end = min(int(begin) + 3, value.size - 1)
        if value[end] < course.air[end] - 5.0 * _floor(course, end):
            continue  # beyond the air: no fall towards it, `_step` looks at it
        if _excused(course, int(begin), end, witnesses):
            continue
        first = _first_off(course, int(begin), end)
        found = int(begin) + (2 if _too_fast(course, 1)[begin] else 3)
        detail = f"fell from {value[begin]:.1f} to {value[end]:.1f} °C in {time_s[end] - time_s[begin]:.0f} s"
        return Fault("detached", float(time_s[first]), float(time_s[found]), max(1, found - first + 1), detail)
    return None


def _floor(course: _Course, at: int) -> float:
    return max(1.0, _SIGMAS * float(course.noise_k[at]))


def _too_fast(course: _Course, later: int) -> BoolArray:
    """Say from which samples on a bead has fallen, so many samples later, by more than boards cool and noise makes."""
    off = np.zeros(course.value.size, bool)
    if course.value.size <= later:
        return off
    fall = course.value[:-later] - course.value[later:]
    bound = _cooling_k(course, later, COOLS_S) + _LEAST_FALL_K
    bound += _FALL_SIGMAS * math.sqrt(2.0) * course.noise_k[:-later]
    off[:-later] = fall > bound
    return off


def _cooling_k(course: _Course, later: int, tau_s: float) -> FloatArray:
    """The most that a board of a time constant falls by within so many samples: ``(T - T_air) (1 - exp(-t / tau))``."""
    since = course.time_s[later:] - course.time_s[:-later]
    over = np.maximum(course.value[:-later] - course.air[:-later], 0.0)
    return np.asarray(over * -np.expm1(-since / tau_s))


def _first_off(course: _Course, begin: int, end: int) -> int:
    """Find the first sample of a fall that is lower than cooling and noise would have it."""
    cooled = _cooling_k(course, 1, COOLS_S)
    for at in range(begin + 1, end + 1):
        if course.value[at - 1] - course.value[at] > cooled[at - 1] + course.noise_k[at - 1]:
            return at
    return begin + 1


def _excused(course: _Course, begin: int, end: int, witnesses: Witnesses) -> bool:
    """Say whether something else moved with the bead."""
    start_s, end_s = float(course.time_s[begin]), float(course.time_s[end])
    change_k = float(course.value[end] - course.value[begin])
    if any(_moves_along(series, start_s, end_s, change_k) for series in witnesses.temperatures):
        return True
    if witnesses.power is None or change_k > 0.0:
        return False
    lately = witnesses.power.at(np.linspace(start_s - _COOLING_ON_S, start_s, 25))
    before, after = np.nanmax(lately, initial=0.0), witnesses.power.at(np.array([end_s]))[0]
    if not after < (1.0 - _POWER_FALLS) * before:
        return False
    over_k = float(course.value[begin] - course.air[begin])
    return -change_k < over_k * -math.expm1(-(end_s - start_s) / COOLS_UNLOADED_S) + _floor(course, begin)


def _moves_along(series: Series, start_s: float, end_s: float, change_k: float) -> bool:
    before, after = series.at(np.array([start_s, end_s]))
    return bool((after - before) / change_k > _WITNESSED) if change_k != 0.0 else False


def _step(course: _Course, witnesses: Witnesses) -> Fault | None:
    """A jump in one sample after which the course goes on as if nothing were, at another level.

    What heats or cools goes on doing so: after a change J by a first-order answer of `COOLS_S` the next sample adds
    ``J exp(-t / COOLS_S)``; a jump adds nothing.
    """
    time_s, value = course.time_s, course.value
    if value.size < 5:
        return None
    jump = np.diff(value)
    least = np.maximum(_LEAST_STEP_K, 2.0 * _SIGMAS * course.noise_k[:-1])
    for at in np.flatnonzero(np.abs(jump) > least):
        if at < 1 or at + 3 >= value.size:
            continue
        apart_s = float(time_s[at + 2] - time_s[at + 1])
        goes_on = math.exp(-apart_s / COOLS_S)
        after = np.array([value[at + 2] - value[at + 1], (value[at + 3] - value[at + 1]) / 2.0])
        noise_k = _SIGMAS * float(course.noise_k[at])
        alone = np.all(np.abs(after) < 0.3 * abs(jump[at]) * goes_on + noise_k / 4.0)
        if not alone or abs(value[at] - value[at - 1]) > 0.3 * abs(jump[at]):
            continue
        if goes_on < 0.5 or _excused(course, int(at), int(at) + 1, witnesses):
            continue
        detail = f"stepped by {jump[at]:+.1f} K"
        return Fault("step", float(time_s[at + 1]), float(time_s[at + 3]), 3, detail)
    return None


def _noisy(course: _Course) -> Fault | None:
    """Second differences, of six in a row, many times as large as they had been."""
    second = np.abs(np.diff(course.value, 2))
    if second.size < _LEARNING + _NOISE_SAMPLES:
        return None
    windows = np.lib.stride_tricks.sliding_window_view(second, _NOISE_SAMPLES)
    # Nearly all of them, so that neither a step nor a fall, which make three, is taken for noise.
    now = np.quantile(windows, 0.25, axis=1) * 1.4826 / math.sqrt(6.0)
    signs = np.sign(np.lib.stride_tricks.sliding_window_view(np.diff(course.value, 2), _NOISE_SAMPLES))
    # A fall by an exponential has second differences of one sign.
    zigzag = np.count_nonzero(signs[:, 1:] * signs[:, :-1] < 0.0, axis=1) >= 3
    most = np.maximum(_NOISE_TIMES * course.noise_k[: now.size], _LEAST_NOISE_K)
    at = np.flatnonzero((now > most) & zigzag)
    at = at[at >= _LEARNING]
    if not at.size:
        return None
    first, last = int(at[0]) + 1, int(at[0]) + _NOISE_SAMPLES + 1
    detail = f"noise of {now[at[0]]:.1f} K, {course.noise_k[at[0]]:.2f} K before"
    return Fault("noisy", float(course.time_s[first]), float(course.time_s[last]), _NOISE_SAMPLES + 1, detail)


def witnesses_of(bead: Series, beads: Sequence[Series], zones: Sequence[Series]) -> tuple[Series, ...]:
    """Give the other beads, and zones, that can witness for one."""
    return (*(other for other in beads if other is not bead and other.name != bead.name), *zones)
