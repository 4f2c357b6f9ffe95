"""A run's zones over time: samples, the end value projected for the hottest, when it was steady, the air."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from irspot.rendering.charts.look import Chart, Sheet, checked_size, file_name, theme_of
from irspot.rendering.charts.plot import Plot, spanning
from irspot.series import Series
from irspot.soak.judge import SoakReading
from irspot.uncertain import with_uncertainty

MOST_ZONES: Final = 5
"""Shown by name: the hottest."""


@dataclass(frozen=True, slots=True, eq=False)
class SoakShown:
    """A run's soak.

    Parameters
    ----------
    run, title : str
    zones : tuple of Series
    readings : tuple of SoakReading
        What was concluded of each.
    ambient : Series or None
    """

    run: str
    title: str
    zones: tuple[Series, ...]
    readings: tuple[SoakReading, ...]
    ambient: Series | None = None


def soak_chart(soak: SoakShown, *, size: tuple[int, int] = (1920, 1080), theme: str = "dark") -> Chart:
    """Draw the soak of a run.

    Parameters
    ----------
    soak : SoakShown
    size : tuple of int
    theme : {"dark", "light"}

    Raises
    ------
    UsageError
        For a size or theme there is not.
    """
    sheet = Sheet(checked_size(size), theme_of(theme))
    shown = _hottest(soak)
    margin, small = sheet.margin, sheet.type_px()
    names = 0.27 * sheet.width + 1.6 * small
    minutes = [series.time_s / 60.0 for series, _ in shown]
    ends = [value for _, reading in shown for value in (reading.end_degc, reading.last_degc) if math.isfinite(value)]
    values = np.concatenate(
        [series.value for series, _ in shown] + ([soak.ambient.known.value] if soak.ambient else [])
    )
    last = max(float(times[-1]) for times in minutes)
    box = (margin + 3.2 * small, 0.17 * sheet.unit, sheet.width - margin - names, sheet.height - 0.12 * sheet.unit)
    across = spanning([0.0, 1.12 * last], "minutes from the first frame", least=1.0)
    plot = Plot(sheet, box, across, spanning([*values, *ends], "°C", least=5.0))
    air = _air(soak)
    said = "line: measured · dashed: projected end value" + (f" · dotted: air, last {air}" if air else "")
    sheet.heading(soak.title, said)
    plot.grid()
    if soak.ambient is not None:
        known = soak.ambient.known
        inside = (known.time_s / 60.0 >= across.low) & (known.time_s / 60.0 <= across.high)
        sheet.line(
            plot.xs(known.time_s[inside] / 60.0),
            plot.ys(known.value[inside]),
            sheet.theme.third,
            0.002 * sheet.unit,
            ":",
        )
    for (series, reading), times in zip(shown, minutes, strict=True):
        color = sheet.theme.now if reading is shown[0][1] else sheet.theme.before
        sheet.line(plot.xs(times), plot.ys(series.value), color, 0.0035 * sheet.unit)
        if math.isfinite(reading.end_degc):
            sheet.line(
                [plot.x(float(times[-1])), plot.x(across.high)],
                [plot.y(reading.end_degc)] * 2,
                color,
                0.003 * sheet.unit,
                "--",
            )
    _names(plot, shown, sheet.width - margin)
    return sheet.chart(file_name("soak", soak.run), soak.title, alt_of(soak))


def _hottest(soak: SoakShown) -> list[tuple[Series, SoakReading]]:
    by_name = {reading.zone: reading for reading in soak.readings if reading.kind == "zone"}
    pairs = [
        (series, by_name[series.name])
        for series in soak.zones
        if series.name in by_name and np.isfinite(series.value).any()
    ]
    return sorted(pairs, key=lambda pair: -float(np.nanmax(pair[0].value)))[:MOST_ZONES]


def has_curve(soak: SoakShown) -> bool:
    """Say whether there is anything to draw."""
    return bool(_hottest(soak))


def line_of(reading: SoakReading) -> tuple[str, str]:
    """What stands beside a curve: last and projected value, and how steady it is."""
    last = (
        with_uncertainty(reading.last_degc, reading.U_last_k, "°C")
        if math.isfinite(reading.last_degc)
        else "no last value"
    )
    end = (
        f"end {with_uncertainty(reading.end_degc, reading.U_end_k, '°C')}"
        if math.isfinite(reading.end_degc)
        else "end unknown"
    )
    steady = {"yes": "steady", "no": "not steady"}.get(reading.steady, "steadiness unknown")
    if reading.steady == "no" and math.isfinite(reading.steady_in_s):
        steady = f"steady in {math.ceil(reading.steady_in_s / 60.0 - 1e-9)} min"
    return f"{reading.zone}: {last}", f"{end}, {steady}"


def alt_of(soak: SoakShown) -> str:
    """Say the soak in words, from the rows."""
    lines = ["; ".join(line_of(reading)) for _, reading in _hottest(soak)]
    air = _air(soak)
    return f"{soak.title}. " + ". ".join([*lines, *([f"air, last: {air}"] if air else [])]) + "."


def _air(soak: SoakShown) -> str:
    """Give the air's temperature when the zones were seen last; empty where it is not known over time."""
    if soak.ambient is None or not soak.zones:
        return ""
    air, last_s = soak.ambient.known, max(float(series.time_s[-1]) for series in soak.zones)
    seen = np.flatnonzero(air.time_s <= last_s)
    if not seen.size:
        return ""
    at = int(seen[-1])
    return with_uncertainty(float(air.value[at]), 2.0 * math.hypot(float(air.u[at]), air.u_shared), "°C")


def _names(plot: Plot, shown: Sequence[tuple[Series, SoakReading]], right: float) -> None:
    """Write names and values beside the curves' ends, one below the other without overlap, each led to its own."""
    sheet, small = plot.sheet, plot.sheet.type_px()
    left, step = plot.box[2] + 2.2 * small, 3.1 * small
    ends = sorted(((*_end(plot, series, reading), reading) for series, reading in shown), key=lambda end: end[1])
    places: list[float] = []
    for _, y, _ in ends:
        places.append(max(y, places[-1] + step) if places else y)
    lowest = plot.box[3] - 0.5 * small
    for at in reversed(range(len(places))):
        places[at] = min(places[at], lowest)
        lowest = places[at] - step
    for y, (x, end, reading) in zip(places, ends, strict=True):
        sheet.line([x, plot.box[2], left - 0.4 * small], [end, end, y], sheet.theme.muted, 0.0015 * sheet.unit)
        first, second = line_of(reading)
        sheet.text((left, y - 0.65 * small), first, small, bold=True, width_px=right - left)
        sheet.text((left, y + 0.65 * small), second, small, color=sheet.theme.muted, width_px=right - left)


def _end(plot: Plot, series: Series, reading: SoakReading) -> tuple[float, float]:
    """Give the place where a curve ends: its projection where it has one."""
    if math.isfinite(reading.end_degc):
        return plot.box[2], plot.y(reading.end_degc)
    return plot.x(float(series.known.time_s[-1]) / 60.0), plot.y(float(series.known.value[-1]))
