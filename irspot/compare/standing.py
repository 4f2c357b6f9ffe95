"""One board in one ranking: a row of compare.csv."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from irspot.results import NAN, RunLabel
from irspot.uncertain import decimals_of, rounded_down, with_uncertainty

Outcome = Literal["", "pass", "conditional pass", "conditional fail", "fail", "not judged"]
YesNo = Literal["", "yes", "no"]


@dataclass(frozen=True, slots=True)
class Standing:
    """One board under one load, in one role, on one side: a row of compare.csv. What is not known is NaN or empty.

    Parameters
    ----------
    load, role, side, board, batch : str
        `batch` is what the board was bought or measured with.
    entry : str
        What the row is called in its ranking: the board, with batch or set-up where the board alone is not unique.
    board_name : str
        For people.
    zone : str
        The hottest of the role's zones.
    run : str
        The (first) run it rests on.
    runs : tuple of str
        All of them, repeats included.
    rank : int or None
        One more than the longest chain of boards that are certainly cooler, each than the next; None if not ranked.
    tie_group : str
        A set of letters: boards that share one cannot be told apart.
    value_degc, U_value_k : float
        The zone's highest temperature as measured; at least that, where `verdict` is lower bound.
    rise_k, U_rise_k : float
    ranked_rise_k, U_k : float
        The rise that was ranked, with its expanded uncertainty: at the reference ambient, and where so said carried to
        equal power and to the first study's offset.
    normalised_degc, U_normalised_k : float
        `rise_k` on top of the reference ambient.
    verdict : str
        ``usable``, ``lower bound`` or ``retake``.
    limit_degc, limit_kind, limit_zone : float, str, str
        Of the role's zone that has least left to its limit.
    margin_k, U_margin_k : float
        What is left to it; below 0 beyond it.
    guard_band_k : float
        Applied to it.
    p_over_limit : float
        How likely the true value is beyond it, 0 to 1.
    outcome : str
    comparable : {"yes", "no"}
    reasons : tuple of str
        Why it is not ranked with the others.
    notes : tuple of str
        What else is worth knowing: single run, wall power alone, a fact nobody stated.
    price, currency, price_date : float, str, str
    on_frontier : {"yes", "no", ""}
        Whether every cheaper board is certainly hotter; empty without a price.
    repeats, mounts : int
        Runs behind it, and how often the board was mounted for these.
    spread_k : float
        Standard deviation between the runs; NaN for a single one.
    ambient_degc, power_w, power_point, clock_ghz : float, float, str, float
    k_per_w : float
        `rise_k` over `power_w`; secondary to the rise.
    offset_k, U_offset_k : float
        Added to the rise to link its batch to the first study's; NaN where none was.
    projected_k, U_projected_k : float
        Added to the rise to carry it to equal power; NaN where it was not.
    study : str
        Title of the study it comes from.
    """

    load: str
    role: str
    side: str
    board: str
    entry: str
    board_name: str = ""
    batch: str = ""
    zone: str = ""
    run: str = ""
    runs: tuple[str, ...] = ()
    rank: int | None = None
    tie_group: str = ""
    value_degc: float = NAN
    U_value_k: float = NAN
    rise_k: float = NAN
    U_rise_k: float = NAN
    ranked_rise_k: float = NAN
    U_k: float = NAN
    normalised_degc: float = NAN
    U_normalised_k: float = NAN
    verdict: str = "usable"
    limit_degc: float = NAN
    limit_kind: str = ""
    limit_zone: str = ""
    margin_k: float = NAN
    U_margin_k: float = NAN
    guard_band_k: float = NAN
    p_over_limit: float = NAN
    outcome: Outcome = ""
    comparable: YesNo = "yes"
    reasons: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    price: float = NAN
    currency: str = ""
    price_date: str = ""
    on_frontier: YesNo = ""
    repeats: int = 1
    mounts: int = 1
    spread_k: float = NAN
    ambient_degc: float = NAN
    power_w: float = NAN
    power_point: str = ""
    clock_ghz: float = NAN
    k_per_w: float = NAN
    offset_k: float = NAN
    U_offset_k: float = NAN
    projected_k: float = NAN
    U_projected_k: float = NAN
    study: str = ""

    @property
    def label(self) -> RunLabel:
        """The run it rests on, as tables ask for it."""
        return RunLabel(self.run, self.board, self.load, self.side)

    @property
    def reading(self) -> Standing:
        """Itself, as tables ask for it."""
        return self

    @property
    def at_least(self) -> bool:
        """Whether its number is only a lower bound."""
        return self.verdict == "lower bound"

    @property
    def bound_rise_k(self) -> float:
        """What a lower bound's ranked rise is at least; NaN of others."""
        return self.ranked_rise_k - self.U_k if self.at_least else NAN

    @property
    def bound_degc(self) -> float:
        """What a lower bound's temperature is at least; NaN of others."""
        return self.value_degc - self.U_value_k if self.at_least else NAN

    def headline(self, unit: str = "") -> str:
        """Write the measured temperature: ``71.8 ± 1.9``, ``≥ 71.8`` or nothing.

        Examples
        --------
        >>> Standing("stock", "vrm", "front", "k7", "k7", value_degc=71.832, U_value_k=1.94).headline("°C")
        '71.8 ± 1.9 °C'
        """
        return _written(self.value_degc, self.U_value_k, self, unit)

    def rise_headline(self, unit: str = "") -> str:
        """Write the ranked rise in the same way."""
        return _written(self.ranked_rise_k, self.U_k, self, unit)


def _written(value: float, U_k: float, standing: Standing, unit: str) -> str:
    if standing.verdict == "retake" or not math.isfinite(value):
        return ""
    if standing.at_least:
        return f"≥ {rounded_down(value - U_k, decimals_of(U_k))} {unit}".strip()
    return with_uncertainty(value, U_k, unit)
