"""One clock for logger and camera: the offset between them, from the load step that a bead and the image both see.

Model: ``bead(t) = a + b image(t - offset) + c ∫ image + d ∫∫ image + e ∫∫∫ image``, t on the logger's clock; behind the
board the image is first lagged by a first-order element of time constant `lag`, because the heat has to come through.
a to e are solved for at every trial (separable least squares), so that neither emissivity nor wire loss moves the
clock; the integrals let the bead's place warm up with other time constants than the zone's hottest place, from the same
moment on. Only as many as the data ask for are kept, and what one fewer would change is part of the uncertainty.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.crosscheck.even_steps import Grid, Pair, noise_of, paired
from irspot.series import Series

FloatArray = NDArray[np.floating[Any]]

MOST_OFFSET_S: Final = 600.0
"""How far apart clocks are sought; clocks further apart are set wrong, and a day's pattern would be matched at will."""
WORST_U_S: Final = 15.0
"""An offset less certain than this says nothing."""
BEAD_LAG_S: Final = 2.0
"""A bead with its tape follows its surface by nothing to this late (our assumption): no offset can be told from it."""
_LEAST_STEP_K: Final = 3.0
_LEAST_STEP_SIGMAS: Final = 20.0
_LEAST_SHARE: Final = 0.9
"""Of the bead's variance that the image has to explain."""
_RIVAL: Final = 4.0
"""Another offset is a rival where its sum of squares is not so many times as large."""
_ROOMS_S: Final = (60.0, 20.0, 10.0)
"""How far an offset may be refined in each round: times that any of these leaves without a partner are left out."""
_SMOOTHINGS: Final = (2.0, 5.0, 12.0, 30.0)
_NOISE_SHARE: Final = 0.05
"""Of what seems to hold the clock, that noise of the image may be: smoothing goes on until it is no more."""
_NOT_HELD: Final = "no load step shows sharply enough in both to hold the offset"
_RIVAL_S: Final = 10.0
_LEAST_SCORE: Final = 0.8
_MOST_STARTS: Final = 4
_INTEGRALS: Final = 3
_LEAST_SAMPLES: Final = 12
_LAGS_S: Final = (0.0, 5.0, 15.0, 40.0, 100.0, 250.0)
_MOST_LAG_S: Final = 1200.0
_DERIVATIVE_S: Final = 0.5


@dataclass(frozen=True, slots=True)
class ClockOffset:
    """How the clocks stand to one another.

    Parameters
    ----------
    offset_s : float
        The logger's clock less the camera's.
    u_s : float
        Standard uncertainty; behind the board with all that the lag leaves open.
    lag_s, u_lag_s : float
        Time constant of the heat's way through the board; 0 on the imaged side.
    given : bool
        Whether the offset was given rather than found.
    """

    offset_s: float
    u_s: float
    lag_s: float = 0.0
    u_lag_s: float = 0.0
    given: bool = False


@dataclass(frozen=True, slots=True)
class NoClock:
    """Why no offset was found."""

    reason: str


def clock_offset(image: Series, bead: Series, *, same_side: bool) -> ClockOffset | NoClock:
    """Find the offset between the clocks of logger and camera.

    Parameters
    ----------
    image : Series
        A zone, or the image at the bead, on the camera's clock.
    bead : Series
        On the logger's clock, masked from the moment on that it came off.
    same_side : bool
        Whether the camera sees the side that the bead sits on; if not a lag is fitted with the offset.

    Returns
    -------
    ClockOffset or NoClock
    """
    image, bead = image.known, bead.known
    reason = _no_step(image, "the image") or _no_step(bead, "the bead")
    if reason:
        return NoClock(reason)
    made = paired(image, bead, _SMOOTHINGS[0])
    lags = (0.0,) if same_side else _LAGS_S
    starts = _starts(made, lags)
    if not starts:
        return NoClock("bead and image have too little time in common")
    tried = [_refined(image, bead, start, same_side) for start in _apart(starts)]
    held = [each for each in tried if isinstance(each, _Fit)]
    if not held:
        return next(each for each in tried if isinstance(each, NoClock))
    best = min(held, key=lambda fit: fit.misfit)
    for other in held:
        clear_s = max(_RIVAL_S, 4.0 * math.hypot(best.offset.u_s, other.offset.u_s))
        if abs(other.offset.offset_s - best.offset.offset_s) > clear_s and other.misfit < _RIVAL * best.misfit:
            places = f"{best.offset.offset_s:.0f} s as at {other.offset.offset_s:.0f} s"
            return NoClock(f"the series fit about as well at {places}: loads that repeat do not tell them apart")
    return best.offset


def given_offset(offset_s: float, u_s: float = 0.0) -> ClockOffset:
    """Take an offset that was stated.

    Parameters
    ----------
    offset_s : float
        The logger's clock less the camera's.
    u_s : float
    """
    return ClockOffset(offset_s, u_s, given=True)


def on_camera_clock(bead: Series, offset: ClockOffset) -> Series:
    """Give a bead's series on the camera's clock."""
    return Series(bead.name, bead.kind, bead.unit, bead.time_s - offset.offset_s, bead.value, bead.u, bead.u_shared)


@dataclass(frozen=True, slots=True)
class _Start:
    offset_s: float
    lag_s: float
    score: float


def _no_step(series: Series, name: str) -> str:
    """Say why a series holds nothing to go by; empty where it does."""
    if series.time_s.size < 8:
        return f"{name} has fewer than eight values"
    low, high = np.percentile(series.value, [2.0, 98.0])
    least_k = max(_LEAST_STEP_K, _LEAST_STEP_SIGMAS * noise_of(series.value))
    if high - low < least_k:
        return f"{name} shows no load step: it spans {high - low:.1f} K, wanted {least_k:.1f} K"
    return ""


def _starts(pair: Pair, lags: tuple[float, ...]) -> list[_Start]:
    """Offsets at which the slopes of bead and image go together, best first.

    Slopes outside what the two have in common count as not explained: an offset must not win by leaving the step out.
    """
    from scipy.signal import correlate

    found = []
    for lag_s in lags:
        image, bead = _slopes(pair.image.lagged(lag_s)), _slopes(pair.bead)
        energy = math.sqrt(float(image @ image) * float(bead @ bead))
        if energy == 0.0:
            continue
        together = correlate(bead, image, mode="full", method="fft") / energy
        shifts = (np.arange(together.size) - (image.size - 1)) * pair.bead.step_s
        offsets = shifts + pair.bead.first_s - pair.image.first_s
        within = np.abs(offsets) <= MOST_OFFSET_S
        peak = within & (together >= np.maximum(np.roll(together, 1), np.roll(together, -1))) & (together > 0.0)
        found += [_Start(float(offsets[i]), lag_s, float(together[i])) for i in np.flatnonzero(peak)]
    return sorted(found, key=lambda start: -start.score)


def _slopes(grid: Grid) -> FloatArray:
    return np.nan_to_num(np.diff(grid.value))


def _apart(starts: list[_Start]) -> list[_Start]:
    """Thin starts, which come best first: one for each stretch of offsets."""
    kept: list[_Start] = []
    for start in starts:
        if start.score < _LEAST_SCORE * starts[0].score or len(kept) == _MOST_STARTS:
            break
        if all(abs(start.offset_s - other.offset_s) > _ROOMS_S[0] / 2.0 for other in kept):
            kept.append(start)
    return kept


@dataclass(frozen=True, slots=True)
class _Fit:
    offset: ClockOffset
    misfit: float
    """Share of the bead's variance that is left."""


def _refined(image: Series, bead: Series, start: _Start, same_side: bool) -> _Fit | NoClock:
    """Solve for the offset, and for the lag, from a start on; smoothed until noise no longer holds the clock."""
    place = np.array([start.offset_s] if same_side else [start.offset_s, max(start.lag_s, 3.0)])
    for smoothing in _SMOOTHINGS:
        pair = paired(image, bead, smoothing)
        for room_s in _ROOMS_S[:-1] if smoothing == _SMOOTHINGS[0] else ():
            near = _solved(pair, place, room_s, 1)
            if isinstance(near, NoClock):
                return near
            place = near.place
        chosen = _simplest(pair, place)
        if isinstance(chosen, NoClock):
            return chosen
        best = chosen
        place = best.solved.place
        held_by_noise = pair.slope_noise * best.solved.left.size / max(best.solved.information, 1e-300)
        if held_by_noise < _NOISE_SHARE:
            break
    return _judged(best, _covariance(best.solved.left, best.solved.slopes, pair.correlated), held_by_noise)


@dataclass(frozen=True, slots=True, eq=False)
class _Chosen:
    """What the model found that is as simple as the data allow, and how far off one integral fewer is."""

    solved: _Solved
    by_model: FloatArray


def _simplest(pair: Pair, place: FloatArray) -> _Chosen | NoClock:
    """Solve with more and more integrals, and keep as many as the data ask for: least ``n ln S + k ln n`` (BIC)."""
    found: list[_Solved] = []
    cost: list[float] = []
    for integrals in range(_INTEGRALS + 1):
        solved = _solved(pair, place, _ROOMS_S[-1], integrals)
        if isinstance(solved, NoClock):
            return solved
        count = max(solved.left.size / pair.correlated, 2.0)
        found.append(solved)
        cost.append(count * math.log(max(solved.misfit, 1e-12)) + integrals * math.log(count))
    at = int(np.argmin(cost))
    if abs(float(found[at].place[0] - place[0])) > 0.9 * _ROOMS_S[-1]:
        return NoClock(_NOT_HELD)
    return _Chosen(found[at], found[at].place - found[at - 1].place if at else np.zeros(len(place)))


def _judged(chosen: _Chosen, covariance: FloatArray | None, held_by_noise: float) -> _Fit | NoClock:
    misfit, place = chosen.solved.misfit, chosen.solved.place
    if misfit > 1.0 - _LEAST_SHARE:
        return NoClock(f"the bead does not follow the image: {100.0 * (1.0 - misfit):.0f} % of its course is explained")
    if covariance is None or held_by_noise > 0.5:
        return NoClock(_NOT_HELD)
    # The model is no law: what a simpler one finds elsewhere counts as a standard uncertainty of its own.
    covariance = covariance / (1.0 - held_by_noise) + np.diag(chosen.by_model**2)
    u_s = math.hypot(math.sqrt(covariance[0, 0]), BEAD_LAG_S / math.sqrt(12.0))
    if u_s > WORST_U_S:
        return NoClock(f"{_NOT_HELD}: it is known to {u_s:.0f} s only")
    lag = (float(place[1]), math.sqrt(covariance[1, 1])) if len(place) > 1 else (0.0, 0.0)
    return _Fit(ClockOffset(float(place[0]), u_s, *lag), misfit)


@dataclass(frozen=True, slots=True, eq=False)
class _Solved:
    """What least squares found.

    Parameters
    ----------
    place : ndarray
        Offset, and lag where one was fitted.
    left : ndarray, shape (n,)
        Of the bead.
    slopes : ndarray, shape (n, 1 or 2)
        Derivatives of what is left.
    misfit : float
        Share of the bead's variance that is left.
    """

    place: FloatArray
    left: FloatArray
    slopes: FloatArray
    misfit: float

    @property
    def information(self) -> float:
        """What holds the offset once a lag has taken its share: the sum of squares of its slopes beside the lag's."""
        of_offset = self.slopes[:, 0]
        for other in self.slopes.T[1:]:
            of_offset = of_offset - other * float(other @ of_offset) / max(float(other @ other), 1e-300)
        return float(of_offset @ of_offset)


Residual = Callable[[FloatArray], tuple[FloatArray, FloatArray]]


def _residual_near(pair: Pair, offset_s: float, room_s: float, integrals: int) -> Residual | None:
    """Make the function that says what a trial leaves of the bead, and the bead less its mean, at times that all share.

    Where the common time is short the room shrinks.
    """
    known = np.isfinite(pair.image.value)
    if not known.any():
        return None
    first, last = pair.image.time_s[known][[0, -1]]
    time_s = pair.bead.time_s
    for room in (room_s, room_s / 4.0):
        keep = np.isfinite(pair.bead.value) & (time_s - offset_s - room >= first)
        keep &= time_s - offset_s + room <= last
        if np.count_nonzero(keep) >= _LEAST_SAMPLES:
            break
    else:
        return None
    kept_s, bead = time_s[keep], pair.bead.value[keep]

    def residual(place: FloatArray) -> tuple[FloatArray, FloatArray]:
        lagged = pair.image.lagged(float(place[1])) if len(place) > 1 else pair.image
        then_s = np.clip(kept_s - place[0], first, last)
        seen = [lagged.at(then_s)]
        for _ in range(integrals):
            lagged = lagged.integral()
            seen.append(lagged.at(then_s))
        columns = np.column_stack(seen)
        columns, course = columns - columns.mean(axis=0), bead - bead.mean()
        basis = np.linalg.qr(columns / np.maximum(np.abs(columns).max(axis=0), 1e-300))[0]
        return course - basis @ (basis.T @ course), course

    return residual


def _solved(pair: Pair, start: FloatArray, room_s: float, integrals: int) -> _Solved | NoClock:
    from scipy.optimize import least_squares

    residual = _residual_near(pair, float(start[0]), room_s, integrals)
    if residual is None:
        return NoClock("bead and image have too little time in common")

    def slopes(place: FloatArray) -> FloatArray:
        steps = np.eye(len(place)) * _DERIVATIVE_S
        columns = [(residual(place + step)[0] - residual(place - step)[0]) / (2.0 * _DERIVATIVE_S) for step in steps]
        return np.column_stack(columns)

    low = np.array([start[0] - room_s, 2.0 * _DERIVATIVE_S])[: len(start)]
    high = np.array([start[0] + room_s, _MOST_LAG_S])[: len(start)]
    start = np.clip(start, low + 1e-6, high - 1e-6)
    done = least_squares(
        lambda place: residual(place)[0], start, jac=slopes, bounds=(low, high), xtol=1e-6, max_nfev=40
    )
    left, course = residual(done.x)
    misfit = float(left @ left) / max(float(course @ course), 1e-300)
    return _Solved(np.asarray(done.x), left, slopes(done.x), misfit)


def _covariance(left: FloatArray, slopes: FloatArray, correlated: float) -> FloatArray | None:
    """Covariance of what was solved for, for residuals that go together over time.

    ``C = s² n_c (JᵀJ)⁻¹`` with n_c the samples that count as one: what smoothing makes them, or what they show
    (``1 + 2 Σ ρ_k`` up to the first ρ that is not positive).
    """
    count = left.size
    freedom = max(count / correlated - 2.0 - slopes.shape[1], 1.0)
    variance = float(left @ left) / count * (count / correlated) / freedom
    together = max(correlated, _going_together(left))
    information = slopes.T @ slopes
    if np.linalg.cond(information) > 1e12:
        return None
    return np.asarray(variance * together * np.linalg.inv(information))


def _going_together(left: FloatArray) -> float:
    from scipy.signal import correlate

    centred = left - left.mean()
    power = float(centred @ centred)
    if power == 0.0:
        return 1.0
    rho = correlate(centred, centred, mode="full", method="fft")[centred.size :] / power
    end = int(np.argmax(rho <= 0.0)) if np.any(rho <= 0.0) else rho.size
    return 1.0 + 2.0 * float(rho[:end].sum())
