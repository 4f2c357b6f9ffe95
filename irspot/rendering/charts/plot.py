"""Axes with numbers on a sheet, for what is not bars."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.rendering.charts.look import Sheet, ticks


@dataclass(frozen=True, slots=True)
class Span:
    """Values along an axis.

    Parameters
    ----------
    low, high : float
    label : str
        With the unit.
    """

    low: float
    high: float
    label: str


class Plot:
    """A field on a sheet in which places are values.

    Parameters
    ----------
    sheet : Sheet
    box : tuple of float
        ``(left, top, right, bottom)`` in px.
    across, up : Span
    """

    def __init__(self, sheet: Sheet, box: tuple[float, float, float, float], across: Span, up: Span) -> None:
        self.sheet, self.box, self.across, self.up = sheet, box, across, up

    def x(self, value: float) -> float:
        """Place of a value across."""
        left, _, right, _ = self.box
        return left + (right - left) * (value - self.across.low) / (self.across.high - self.across.low)

    def y(self, value: float) -> float:
        """Place of a value upwards."""
        _, top, _, bottom = self.box
        return bottom - (bottom - top) * (value - self.up.low) / (self.up.high - self.up.low)

    def xs(self, values: Sequence[float] | NDArray[np.floating[Any]]) -> list[float]:
        """Places of values across."""
        return [self.x(float(value)) for value in values]

    def ys(self, values: Sequence[float] | NDArray[np.floating[Any]]) -> list[float]:
        """Places of values upwards."""
        return [self.y(float(value)) if math.isfinite(value) else math.nan for value in values]

    def grid(self) -> None:
        """Draw lines and numbers of both axes, with their labels."""
        sheet, theme = self.sheet, self.sheet.theme
        left, top, right, bottom = self.box
        small = sheet.type_px()
        thin = max(1.0, 0.0012 * sheet.unit)
        for tick in ticks(self.across.low, self.across.high, max(2, min(9, int((right - left) / (4.0 * small))))):
            sheet.line([self.x(tick)] * 2, [top, bottom], theme.rule, thin)
            sheet.text((self.x(tick), bottom + 0.9 * small), f"{tick:g}", small, color=theme.muted, align="center")
        for tick in ticks(self.up.low, self.up.high, max(2, min(8, int((bottom - top) / (2.2 * small))))):
            sheet.line([left, right], [self.y(tick)] * 2, theme.rule, thin)
            sheet.text((left - 0.5 * small, self.y(tick)), f"{tick:g}", small, color=theme.muted, align="right")
        sheet.text(
            ((left + right) / 2.0, bottom + 2.3 * small), self.across.label, small, color=theme.muted, align="center"
        )
        sheet.text((left, top - 0.9 * small), self.up.label, small, color=theme.muted)


def spanning(
    values: Sequence[float] | NDArray[np.floating[Any]], label: str, *, least: float, zero: bool = False
) -> Span:
    """Give an axis that holds all finite values with some room, at least so long; from zero where asked."""
    finite = np.asarray(values, float)
    finite = finite[np.isfinite(finite)]
    low, high = (float(finite.min()), float(finite.max())) if finite.size else (0.0, 1.0)
    if zero:
        return Span(0.0, max(1.08 * high, least), label)
    room = max(0.06 * (high - low), 0.5 * max(least - (high - low), 0.0))
    return Span(low - room, high + room, label)
