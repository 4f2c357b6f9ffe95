"""The rows of a frame's table, and what stands behind each reading."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from irspot.board import ELSEWHERE
from irspot.flags import deciding
from irspot.rendering.report.shown import ShownFrame
from irspot.rendering.report.values import ReportFrame
from irspot.results import Reading
from irspot.uncertain import Term, decimals_of, expanded, rounded, with_uncertainty

NONE = "–"
"""Stands where there is no value."""


@dataclass(frozen=True, slots=True)
class ZoneRow:
    """One row as text.

    Parameters
    ----------
    number : int
        Of the zone in the shown frame, 0 where it is not shown.
    zone, name : str
    maximum, rise, pixel, mean, place : str
        With units left to the heads.
    verdict, sign : str
        And its sign, so that it does not rest on colour.
    limit : str
        What is left to the limit; empty without one.
    short, why : str
        Reason of a verdict other than usable, in a word or three, and with its remedy in sentences.
    """

    number: int
    zone: str
    name: str
    maximum: str
    rise: str
    pixel: str
    mean: str
    place: str
    verdict: str
    sign: str
    limit: str
    short: str
    why: str


SIGNS = {"usable": "●", "lower bound": "▲", "retake": "✕"}


def zone_rows(frame: ReportFrame) -> tuple[ZoneRow, ...]:
    """Write a frame's readings as rows, in the order of results.csv."""
    numbers = _numbers(frame.shown)
    return tuple(_row(row.reading, numbers.get(row.reading.zone, 0)) for row in frame.rows)


def _numbers(shown: ShownFrame | None) -> dict[str, int]:
    return {} if shown is None else {zone.zone: number for number, zone in enumerate(shown.zones, start=1)}


def _row(reading: Reading, number: int) -> ZoneRow:
    return ZoneRow(
        number,
        reading.zone,
        name_of(reading),
        reading.headline() or NONE,
        reading.rise_headline() or NONE,
        one_decimal(reading.pixel_max_degc),
        one_decimal(reading.mean_degc),
        f"{one_decimal(reading.hot_x_mm)}, {one_decimal(reading.hot_y_mm)}" if known(reading.hot_x_mm) else NONE,
        reading.verdict,
        SIGNS[reading.verdict],
        limit_text(reading),
        ", ".join(flag.short for flag in deciding(reading.flags) if flag.short),
        f"{reading.verdict_reason} {reading.verdict_remedy}".strip(),
    )


def name_of(reading: Reading) -> str:
    """Name a zone for people."""
    return "elsewhere on the board" if reading.zone == ELSEWHERE else reading.zone_name or reading.zone


def limit_text(reading: Reading) -> str:
    """Say what is left to a zone's limit."""
    if not known(reading.limit_degc):
        return ""
    limit = f"{reading.limit_kind} limit {rounded(reading.limit_degc, 1)} °C"
    if reading.verdict == "retake" or not known(reading.margin_k):
        return f"{limit}: not comparable"
    size = with_uncertainty(abs(reading.margin_k), reading.U_margin_k, "K")
    return f"{limit}: {size} left" if reading.margin_k >= 0.0 else f"{limit}: over by {size}"


def known(value: float) -> bool:
    """Whether there is a value."""
    return math.isfinite(value)


def one_decimal(value: float) -> str:
    """Write a value to 0.1, as the pointer does."""
    return rounded(value, 1) if known(value) else NONE


def details(reading: Reading) -> dict[str, Any]:
    """Give what stands behind a reading: verdict, flags, further figures, and the budget of its uncertainty."""
    return {
        "verdict": reading.verdict,
        "why": f"{reading.verdict_reason} {reading.verdict_remedy}".strip(),
        "advice": reading.advice,
        "flags": list(reading.flags),
        "facts": [[name, value] for name, value in _figures(reading) if value],
        "terms": [_term(term, sum(each.u_k**2 for each in reading.budget)) for term in _sorted(reading.budget)],
        "sum": _sum(reading),
    }


def _figures(reading: Reading) -> list[tuple[str, str]]:
    def degc(value: float) -> str:
        return f"{rounded(value, 1)} °C" if known(value) else ""

    def count(value: float, unit: str) -> str:
        return f"{rounded(value, 1)} {unit}" if known(value) else ""

    return [
        ("place", f"{reading.hot_x_mm:.1f}, {reading.hot_y_mm:.1f} mm" if known(reading.hot_x_mm) else ""),
        ("hottest 3 × 3 pixels", degc(reading.peak3x3_degc)),
        ("95th percentile", degc(reading.p95_degc)),
        ("mean", degc(reading.mean_degc)),
        ("pixels", f"{reading.pixels}, {count(reading.across_px, 'px across')}" if reading.pixels else ""),
        ("hot spot", count(reading.hot_width_px, "px wide")),
        ("emissivity applied", rounded(reading.emissivity, 3) if known(reading.emissivity) else ""),
        ("reflected temperature", degc(reading.reflected_degc)),
        ("ambient", degc(reading.ambient_degc)),
        ("at the reference ambient", with_uncertainty(reading.normalised_degc, reading.U_normalised_k, "°C")),
        ("junction", with_uncertainty(reading.junction_degc, reading.U_junction_k, "°C")),
        ("surface", reading.measures),
        ("cover", "" if reading.cover == "bare" else reading.cover),
        ("frames averaged", str(reading.averaged) if reading.averaged > 1 else ""),
    ]


def _sorted(budget: tuple[Term, ...]) -> list[Term]:
    return sorted((term for term in budget if term.u_k > 0.0), key=lambda term: -term.u_k)


def _term(term: Term, total: float) -> list[Any]:
    share = 100.0 * term.u_k**2 / total if total > 0.0 else 0.0
    return [term.name, f"{rounded(term.u_k, max(2, decimals_of(term.u_k)))}", round(share), term.shared]


def _sum(reading: Reading) -> str:
    u = math.sqrt(sum(term.u_k**2 for term in reading.budget))
    return f"{rounded(expanded(u), decimals_of(expanded(u)))} K" if u > 0.0 else ""
