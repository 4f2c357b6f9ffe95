"""Quantities over time as a drawing inside the page: lines told apart by dashes and by names at their ends."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from irspot.rendering.report.values import Curve, Curves
from irspot.rendering.scale import degc_text, round_ticks

WIDTH: Final = 720
HEIGHT: Final = 300
_LEFT, _RIGHT, _TOP, _BOTTOM = 52.0, 500.0, 14.0, 258.0
_NAMES: Final = 512.0
_LEAST_APART: Final = 15.0
"""Of names at the ends of lines, px."""
MOST_POINTS: Final = 240
MOST_LINES: Final = 16
"""That have room for their names; of more the highest at the end are drawn."""
DASHES: Final = ("", "7 3", "2 3", "9 3 2 3", "4 4", "12 4", "1 2")
TONES: Final = 4
"""Colours of the style sheet: fewer than dashes, so that 28 lines differ in one or the other."""


@dataclass(frozen=True, slots=True)
class Line:
    """A drawn line: its path, its dashes, its tone, and its name with the height that stands at."""

    path: str
    dash: str
    tone: int
    name: str
    name_y: float


@dataclass(frozen=True, slots=True)
class Drawing:
    """What a template needs to draw curves.

    Parameters
    ----------
    title, alt, unit : str
    lines : tuple of Line
    x_ticks, y_ticks : tuple of (float, str)
        Places and texts.
    """

    title: str
    alt: str
    unit: str
    lines: tuple[Line, ...]
    x_ticks: tuple[tuple[float, str], ...]
    y_ticks: tuple[tuple[float, str], ...]


def drawing_of(curves: Curves) -> Drawing | None:
    """Lay curves out; None where there is nothing to draw.

    Parameters
    ----------
    curves : Curves
    """
    known = [curve for curve in curves.curves if any(math.isfinite(value) for value in curve.value)]
    if not known:
        return None
    kept = sorted(known, key=_last, reverse=True)[:MOST_LINES]
    shown = [curve for curve in known if curve in kept]
    times = [at for curve in shown for at in curve.time_s]
    values = [value for curve in shown for value in curve.value if math.isfinite(value)]
    (t0, t1), (low, high) = _span(min(times), max(times), 60.0), _span(min(values), max(values), 1.0)
    x_of = _Axis(t0, t1, _LEFT, _RIGHT)
    y_of = _Axis(low, high, _BOTTOM, _TOP)
    heights = _apart([y_of(_last(curve)) for curve in shown])
    lines = tuple(
        Line(_path(curve, x_of, y_of), DASHES[i % len(DASHES)], i % TONES, curve.name, height)
        for i, (curve, height) in enumerate(zip(shown, heights, strict=True))
    )
    x_ticks = tuple((x_of(60.0 * tick), degc_text(tick)) for tick in round_ticks(t0 / 60.0, t1 / 60.0, 8))
    y_ticks = tuple((y_of(tick), degc_text(tick)) for tick in round_ticks(low, high, 7))
    left_out = len(known) - len(shown)
    title = f"{curves.title} (the {MOST_LINES} highest of {len(known)})" if left_out else curves.title
    return Drawing(title, _in_words(curves, shown), curves.unit, lines, x_ticks, y_ticks)


def _in_words(curves: Curves, shown: list[Curve]) -> str:
    ends = ", ".join(f"{curve.name} {_first(curve):.1f} to {_last(curve):.1f}" for curve in shown)
    return f"{curves.title}: first and last value, {curves.unit}: {ends}"


@dataclass(frozen=True, slots=True)
class _Axis:
    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


def _span(low: float, high: float, least: float) -> tuple[float, float]:
    return (low, high) if high - low >= least else (0.5 * (low + high - least), 0.5 * (low + high + least))


def _first(curve: Curve) -> float:
    return next(value for value in curve.value if math.isfinite(value))


def _last(curve: Curve) -> float:
    return next(value for value in reversed(curve.value) if math.isfinite(value))


def _path(curve: Curve, x_of: _Axis, y_of: _Axis) -> str:
    """Draw at most `MOST_POINTS` samples, the last one among them; where there is no value the line breaks."""
    step = max(1, math.ceil(len(curve.time_s) / MOST_POINTS))
    chosen = sorted({*range(0, len(curve.time_s), step), len(curve.time_s) - 1})
    pieces, drawing = [], False
    for i in chosen:
        if not math.isfinite(curve.value[i]):
            drawing = False
            continue
        pieces.append(f"{'L' if drawing else 'M'}{x_of(curve.time_s[i]):.1f} {y_of(curve.value[i]):.1f}")
        drawing = True
    return " ".join(pieces)


def _apart(heights: list[float]) -> list[float]:
    """Move names apart that would lie over one another, keeping their order."""
    order = sorted(range(len(heights)), key=lambda i: heights[i])
    placed = [heights[i] for i in order]
    for before, after in pairwise(range(len(placed))):
        placed[after] = max(placed[after], placed[before] + _LEAST_APART)
    overhang = max(0.0, placed[-1] - _BOTTOM)
    result = [0.0] * len(heights)
    for i, height in zip(order, placed, strict=True):
        result[i] = round(height - overhang, 1)
    return result
