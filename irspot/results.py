"""What was measured: one reading per zone and frame, and the run it belongs to."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from irspot.conditions import Conditions
from irspot.flags import Verdict, deciding, sorted_flags, verdict_of
from irspot.uncertain import Term, decimals_of, dominant, rounded_down, with_uncertainty

NAN = float("nan")
UNKNOWN_CONDITIONS = Conditions()


@dataclass(frozen=True, slots=True)
class Reading:
    """One zone in one frame or readout. What could not be measured is NaN, and a flag says why.

    Parameters
    ----------
    frame, time : str
        The frame's name and its UTC time (empty if unknown).
    zone, role, zone_name : str
    verdict : {"usable", "lower bound", "retake"}
    flags : tuple of str
        Sorted names of `irspot.flags`.
    max_degc, U_max_k : float
        The headline and its expanded uncertainty (k = 2).
    pixel_max_degc, peak3x3_degc, mean_degc, p95_degc : float
        Hottest sound pixel, hottest mean of a full block of 3 × 3 sound pixels, mean, 95th percentile.
    hot_x_mm, hot_y_mm, hot_x_px, hot_y_px : float
        Place of the maximum, sub-pixel.
    pixels : int
        Sound pixels in the zone.
    across_px : float
        Diameter of the zone's largest inscribed circle.
    emissivity, reflected_degc : float
        As applied.
    ambient_degc, rise_k, U_rise_k : float
        Rise is `max_degc` less ambient.
    budget : tuple of Term
        The terms behind `U_max_k`.
    measures, cover : str
        What the zone's surface is, and whether something covers the part.
    averaged : int
        Frames averaged into the reading's frame.
    place_off_mm : float
        How far from its true place a raised zone may have been looked for, its height not being corrected.
    hot_width_px : float
        Width of the hot spot itself, in its narrowest direction, at half of its height above what lies around.
    advice : str
        What would make the maximum more certain, and by how much; empty where nothing simple would.
    drawn_mean_degc, drawn_u_k, drawn_low_degc, drawn_high_degc : float
        Mean, standard deviation and ends of the 95 % interval of the maximum where its inputs were drawn one by one.
    junction_degc, U_junction_k : float
        Of the part whose case the zone is, where its psi_JT and power are known.
    limit_degc : float
    limit_kind : str
        Of the board file.
    normalised_degc, U_normalised_k : float
        The maximum carried to the study's reference ambient.
    margin_k, U_margin_k : float
        The limit less the like quantity; NaN where that is not known.
    conditions : Conditions
        As used.
    """

    frame: str
    time: str
    zone: str
    role: str
    zone_name: str
    verdict: Verdict
    flags: tuple[str, ...] = ()
    max_degc: float = NAN
    U_max_k: float = NAN
    peak3x3_degc: float = NAN
    mean_degc: float = NAN
    p95_degc: float = NAN
    hot_x_mm: float = NAN
    hot_y_mm: float = NAN
    hot_x_px: float = NAN
    hot_y_px: float = NAN
    pixels: int = 0
    across_px: float = NAN
    emissivity: float = NAN
    reflected_degc: float = NAN
    ambient_degc: float = NAN
    rise_k: float = NAN
    pixel_max_degc: float = NAN
    U_rise_k: float = NAN
    budget: tuple[Term, ...] = ()
    measures: str = ""
    cover: str = ""
    averaged: int = 1
    place_off_mm: float = NAN
    hot_width_px: float = NAN
    advice: str = ""
    drawn_mean_degc: float = NAN
    drawn_u_k: float = NAN
    drawn_low_degc: float = NAN
    drawn_high_degc: float = NAN
    junction_degc: float = NAN
    U_junction_k: float = NAN
    limit_degc: float = NAN
    limit_kind: str = ""
    margin_k: float = NAN
    U_margin_k: float = NAN
    normalised_degc: float = NAN
    U_normalised_k: float = NAN
    conditions: Conditions = UNKNOWN_CONDITIONS

    @property
    def dominant_term(self) -> str:
        """The budget's largest term; empty without a budget."""
        return dominant(self.budget)

    @property
    def bound_degc(self) -> float:
        """What the zone's highest temperature is at least, of a lower bound; NaN of any other reading.

        The maximum less its uncertainty, which one error in forty exceeds (a normal one, k = 2).
        """
        if self.verdict != "lower bound":
            return NAN
        return self.max_degc - (self.U_max_k if math.isfinite(self.U_max_k) else 0.0)

    @property
    def verdict_reason(self) -> str:
        """Why the reading is not usable, in sentences; empty where it is."""
        return " ".join(flag.reason for flag in deciding(self.flags))

    @property
    def verdict_remedy(self) -> str:
        """What to do about that, in sentences; empty where there is nothing to do."""
        return " ".join(dict.fromkeys(flag.remedy for flag in deciding(self.flags) if flag.remedy))

    def headline(self, unit: str = "") -> str:
        """Write the maximum as every table and picture does: ``71.8 ± 1.9``, ``≥ 71.8``, or nothing.

        Parameters
        ----------
        unit : str
            Written behind the number.

        Examples
        --------
        >>> Reading("f", "", "z", "", "z", "lower bound", max_degc=73.77, U_max_k=1.94).headline("°C")
        '≥ 71.8 °C'
        """
        if self.verdict == "retake" or not math.isfinite(self.max_degc):
            return ""
        if self.verdict == "lower bound":
            return f"≥ {rounded_down(self.bound_degc, decimals_of(self.U_max_k))} {unit}".strip()
        return with_uncertainty(self.max_degc, self.U_max_k, unit)

    def rise_headline(self, unit: str = "") -> str:
        """Write the rise over ambient as `headline` writes the maximum."""
        if self.verdict == "retake" or not math.isfinite(self.rise_k):
            return ""
        if self.verdict == "lower bound":
            return f"≥ {rounded_down(self.rise_k - self.U_rise_k, decimals_of(self.U_rise_k))} {unit}".strip()
        return with_uncertainty(self.rise_k, self.U_rise_k, unit)


def flagged(reading: Reading, flags: Iterable[str]) -> Reading:
    """Give a reading further flags, and the verdict that follows from all it has."""
    names = sorted_flags((*reading.flags, *flags))
    return replace(reading, flags=names, verdict=verdict_of(names))


@dataclass(frozen=True, slots=True)
class RunLabel:
    """Which run a reading belongs to."""

    run: str
    board: str
    load: str
    side: str


@dataclass(frozen=True, slots=True)
class Row:
    """One row of results: a reading with its run, and with its time in a table over time.

    Parameters
    ----------
    label : RunLabel
    reading : Reading
    time_s : float
        Since the run's first frame; NaN outside such tables.
    """

    label: RunLabel
    reading: Reading
    time_s: float = NAN


def hottest(rows: Sequence[Row], count: int) -> tuple[Row, ...]:
    """Give the hottest rows, the hottest first; those to be retaken have no temperature and come last, in their order.

    Parameters
    ----------
    rows : sequence of Row
    count : int
        How many at most.

    Returns
    -------
    tuple of Row
        By ``max_degc``, of lower bounds too: their best estimate ranks them.
    """

    def degc(row: Row) -> float:
        return row.reading.max_degc if row.reading.headline() else -math.inf

    return tuple(sorted(rows, key=lambda row: -degc(row))[:count])
