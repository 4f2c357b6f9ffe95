"""Temperature scales: the range a study's pictures share, and round ticks."""

from __future__ import annotations

import math
from collections.abc import Iterable

from irspot.errors import UsageError

LEAST_SPAN_K = 5.0
"""A narrower scale would paint noise in all colours."""
_STEPS_A_SCALE = 20


def auto_scale(extremes: Iterable[tuple[float, float]]) -> tuple[float, float]:
    """Choose one scale that holds every frame of a study: round ends, the same whatever the order.

    Parameters
    ----------
    extremes : iterable of (float, float)
        Lowest and highest temperature of each frame, in °C, robust ones best; NaN ones are passed over.

    Returns
    -------
    tuple of float
        ``(low, high)``, multiples of 1, 2 or 5 times a power of ten.

    Raises
    ------
    UsageError
        If there is no frame to go by.

    Examples
    --------
    >>> auto_scale([(21.4, 71.0), (22.0, 96.3)])
    (20.0, 100.0)
    """
    known = [(low, high) for low, high in extremes if math.isfinite(low) and math.isfinite(high)]
    if not known:
        raise UsageError("no frame holds a temperature to make a colour scale from")
    low, high = min(low for low, _ in known), max(high for _, high in known)
    if high - low < LEAST_SPAN_K:
        middle = 0.5 * (low + high)
        low, high = middle - 0.5 * LEAST_SPAN_K, middle + 0.5 * LEAST_SPAN_K
    step = round_step((high - low) / _STEPS_A_SCALE, least=1.0)
    return math.floor(low / step) * step, math.ceil(high / step) * step


def round_step(wanted: float, least: float = 0.0) -> float:
    """Round a step up to 1, 2 or 5 times a power of ten.

    Examples
    --------
    >>> round_step(4.6), round_step(0.3, least=1.0), round_step(18.7)
    (5.0, 1.0, 20.0)
    """
    wanted = max(wanted, least)
    power = 10.0 ** math.floor(math.log10(wanted))
    # A hair of slack: 0.5 written as 0.05 * 10 may be a rounding above it.
    factor = next(f for f in (1.0, 2.0, 5.0, 10.0) if wanted <= f * power * (1.0 + 1e-9))
    return factor * power


def round_ticks(low: float, high: float, most: int) -> tuple[float, ...]:
    """Round values within a range, both ends included where they are round.

    Parameters
    ----------
    low, high : float
    most : int
        How many there may be, at least two.

    Examples
    --------
    >>> round_ticks(18.0, 61.0, 6)
    (20.0, 30.0, 40.0, 50.0, 60.0)
    """
    step = round_step((high - low) / most)
    while True:
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first + 1 <= most:
            return tuple(number * step for number in range(first, last + 1))
        step = round_step(step * 1.5)


def degc_text(value: float) -> str:
    """Write a round temperature with no more decimals than it needs.

    Examples
    --------
    >>> degc_text(20.0), degc_text(22.5), degc_text(-0.0)
    ('20', '22.5', '0')
    """
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
