"""What a comparison of boards says: who stands where, what ties, what was left apart and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from irspot.compare.standing import Standing
from irspot.results import NAN

GapKind = Literal["missing", "unusable", "rejected", "repeated"]
Signal = Literal["", "warning", "alarm"]


@dataclass(frozen=True, slots=True)
class Difference:
    """Two boards of one ranking held against each other.

    Parameters
    ----------
    cooler, hotter : str
        Entries, by their values.
    difference_k : float
        Hotter less cooler.
    U_k : float
        Its expanded uncertainty, what both share left out.
    different : bool
        Whether they are told apart.
    negligible : bool
        Whether the difference with its uncertainty lies within the threshold declared beforehand.
    """

    cooler: str
    hotter: str
    difference_k: float
    U_k: float
    different: bool
    negligible: bool


@dataclass(frozen=True, slots=True)
class Ranking:
    """The boards under one load, in one role, on one side.

    Parameters
    ----------
    load, load_name, role, side : str
    rows : tuple of Standing
        Those ranked, coolest first.
    apart : tuple of Standing
        Those that are not compared, with their reasons.
    differences : tuple of Difference
        Of every two rows.
    footing : tuple of str
        What the rows have in common: power, clock, coating, ambient.
    limit_degc, limit_kind : float, str
        Where all rows that have a limit have the same one; else NaN and empty.
    power_exponent, u_power_exponent : float
        n of rise ∝ powerⁿ, where rises were carried to equal power; else NaN.
    equal_power_w : float
        That power; NaN where rises were not carried.
    """

    load: str
    load_name: str
    role: str
    side: str
    rows: tuple[Standing, ...]
    apart: tuple[Standing, ...] = ()
    differences: tuple[Difference, ...] = ()
    footing: tuple[str, ...] = ()
    limit_degc: float = NAN
    limit_kind: str = ""
    power_exponent: float = NAN
    u_power_exponent: float = NAN
    equal_power_w: float = NAN


@dataclass(frozen=True, slots=True)
class ControlledPair:
    """Two boards that differ in one declared thing.

    Parameters
    ----------
    load, role, side : str
    fact : str
        What they differ in.
    entry_a, value_a, entry_b, value_b : str
    difference_k, U_k : float
        B less A.
    different, negligible : bool
        As of a `Difference`.
    """

    load: str
    role: str
    side: str
    fact: str
    entry_a: str
    value_a: str
    entry_b: str
    value_b: str
    difference_k: float
    U_k: float
    different: bool
    negligible: bool


@dataclass(frozen=True, slots=True)
class ControlPoint:
    """The reference board in one session; its runs there are joined.

    Parameters
    ----------
    run, batch, session, time : str
        Of its first run.
    rise_k, u_k : float
        With the standard uncertainty of what differs from session to session.
    deviation_k : float
        From the chart's centre.
    warning_k, action_k : float
        Half widths of the limits about the centre for this point.
    signal : {"", "warning", "alarm"}
    """

    run: str
    batch: str
    session: str
    time: str
    rise_k: float
    u_k: float
    deviation_k: float
    warning_k: float
    action_k: float
    signal: Signal = ""


@dataclass(frozen=True, slots=True)
class ControlChart:
    """The reference board over its sessions.

    Parameters
    ----------
    board, load, role, side : str
    center_k : float
        Weighted mean of the rises.
    points : tuple of ControlPoint
        In order of time.
    signals : tuple of str
        What is out of the ordinary, in sentences.
    """

    board: str
    load: str
    role: str
    side: str
    center_k: float
    points: tuple[ControlPoint, ...]
    signals: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Gap:
    """A cell of the boards × loads matrix that is not one run.

    Parameters
    ----------
    study, board, load, side : str
    kind : {"missing", "unusable", "rejected", "repeated"}
    runs : tuple of str
        That there are.
    note : str
        Why, where something says so.
    """

    study: str
    board: str
    load: str
    side: str
    kind: GapKind
    runs: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class BatchLink:
    """How an earlier study's batch is linked to the first study's by the reference board.

    Parameters
    ----------
    study, load, role, side : str
    offset_k, U_k : float
        The reference board in the first study less in that one.
    different : bool
        Whether the offset is more than its uncertainty.
    applied : bool
        Whether it was added to that batch's rises before ranking.
    reason : str
        Why, or why not.
    """

    study: str
    load: str
    role: str
    side: str
    offset_k: float
    U_k: float
    different: bool
    applied: bool
    reason: str


@dataclass(frozen=True, slots=True)
class Change:
    """A number that earlier results state otherwise.

    Parameters
    ----------
    study, run, frame, zone, column : str
    old, new : float
        NaN where there was, or is, none.
    reason : str
    """

    study: str
    run: str
    frame: str
    zone: str
    column: str
    old: float
    new: float
    reason: str


@dataclass(frozen=True, slots=True)
class SetupDifference:
    """A fact of the set-up that is not the same for all boards compared.

    Parameters
    ----------
    load, fact : str
    values : tuple of (str, tuple of str)
        Each value with the entries that have it; an empty value where nobody stated it.
    """

    load: str
    fact: str
    values: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class DecisionRule:
    """How values are judged against limits.

    Parameters
    ----------
    name : str
    words, source : str
    guard_band_k : float
        NaN for the value's own expanded uncertainty.
    """

    name: str
    words: str
    source: str
    guard_band_k: float = NAN


@dataclass(frozen=True, slots=True)
class Comparison:
    """Everything a comparison says.

    Parameters
    ----------
    titles : tuple of str
        Of the studies, the first one's first.
    rankings : tuple of Ranking
        By load, role and side.
    rule : DecisionRule
    negligible_k : float
        Threshold declared beforehand; NaN without.
    reference_ambient_degc, ambient_tolerance_k : float
        NaN without.
    equal_power : bool
        Whether rises were carried to equal power.
    pairs : tuple of ControlledPair
    charts : tuple of ControlChart
    gaps : tuple of Gap
    links : tuple of BatchLink
    changes : tuple of Change
    setups : tuple of SetupDifference
    """

    titles: tuple[str, ...]
    rankings: tuple[Ranking, ...]
    rule: DecisionRule
    negligible_k: float = NAN
    reference_ambient_degc: float = NAN
    ambient_tolerance_k: float = NAN
    equal_power: bool = False
    pairs: tuple[ControlledPair, ...] = ()
    charts: tuple[ControlChart, ...] = ()
    gaps: tuple[Gap, ...] = ()
    links: tuple[BatchLink, ...] = ()
    changes: tuple[Change, ...] = ()
    setups: tuple[SetupDifference, ...] = ()

    @property
    def rows(self) -> tuple[Standing, ...]:
        """All rows of compare.csv: each ranking's, then those left apart."""
        return tuple(row for ranking in self.rankings for row in (*ranking.rows, *ranking.apart))
