"""When a soak counts as steady: published criteria by name, with their numbers and source, or numbers of one's own."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

RuleKind = Literal["slope", "interval", "readings", "end"]
ValueAt = Callable[[float], float]

_SLOPE_OVER_S: Final = 600.0
_SEEN_K: Final = 0.1
"""Smallest change that counts as one where a criterion asks for none (readings to a tenth of a kelvin)."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One criterion.

    Parameters
    ----------
    name : str
        As ``steady_rule`` names it.
    kind : {"slope", "interval", "readings", "end"}
        Rate of change; change over the last interval; several successive readings; distance from the end value.
    limit_k : float
        In kelvins; of a slope, kelvins an hour.
    interval_s : float
        Over which, or between readings.
    words : str
        The criterion in our own words.
    source, certainty : str
        Where its numbers were read, and how sure they are.
    readings : int
        How many, of ``readings``.
    rising : bool
        Whether only a rise counts against it.
    share : float
        A limit as a share of the temperature in °C, where that is more than `limit_k`.
    interval_share : float
        An interval as a share of the time run, where that is more than `interval_s`.
    least_s : float
        Time that has to pass before it can be met.
    or_k, or_s : float
        A second change and interval that will do where the reading is at least a tenth below its limit.
    """

    name: str
    kind: RuleKind
    limit_k: float
    interval_s: float
    words: str
    source: str = "own numbers"
    certainty: str = ""
    readings: int = 3
    rising: bool = False
    share: float = 0.0
    interval_share: float = 0.0
    least_s: float = 0.0
    or_k: float = math.nan
    or_s: float = math.nan

    def needs_s(self, run_s: float) -> float:
        """Give how much time before a reading the rule looks at, in a run that has lasted so long."""
        if self.kind == "end":
            return 0.0
        if self.kind == "slope":
            return _SLOPE_OVER_S
        step_s = max(self.interval_s, self.interval_share * run_s)
        return step_s * (self.readings - 1 if self.kind == "readings" else 1)

    def met(self, value_at: ValueAt, time_s: float, run_s: float, end_degc: float, limit_degc: float) -> bool | None:
        """Judge a curve at a time.

        Parameters
        ----------
        value_at : callable
            Time [s] → temperature [°C], NaN before the first sample.
        time_s : float
            When.
        run_s : float
            How long the run has lasted then.
        end_degc, limit_degc : float
            Its end value, and the place's limit; NaN where unknown.

        Returns
        -------
        bool or None
            None where the curve does not say.
        """
        if run_s < self.least_s:
            return None
        if self.kind == "end":
            return None if math.isnan(end_degc) else abs(value_at(time_s) - end_degc) <= self.limit_k
        back_s = self.needs_s(run_s)
        now, before = value_at(time_s), value_at(time_s - back_s)
        if self.kind == "slope":
            change, limit = 3600.0 / back_s * (now - before), self.limit_k
        elif self.kind == "interval":
            change, limit = now - before, max(self.limit_k, self.share * abs(now))
        else:
            step_s = back_s / (self.readings - 1)
            read = [value_at(time_s - n * step_s) for n in range(self.readings)]
            change = max(read) - min(read) if not self.rising or read[0] > read[-1] else 0.0
            limit = max(self.limit_k, _SEEN_K)
        second = self._second(value_at, time_s, limit_degc)
        if second or math.isnan(change):
            return second or None
        return (change if self.rising else abs(change)) <= limit

    def _second(self, value_at: ValueAt, time_s: float, limit_degc: float) -> bool:
        if math.isnan(self.or_k) or not value_at(time_s) <= 0.9 * limit_degc:
            return False
        return abs(value_at(time_s) - value_at(time_s - self.or_s)) <= self.or_k


_LIST: Final = "public mailing-list quotation of the IEC glossary entry"
_ALL: Final[tuple[Rule, ...]] = (
    Rule("iec-60034-1", "slope", 2.0, 3600.0, "no more than 2 K an hour", f"IEC 60034-1:2010, {_LIST}", "high"),
    Rule(
        "iec-62368-1",
        "interval",
        3.0,
        1800.0,
        "no more than 3 K in 30 min, or 1 K in 5 min where the reading is at least 10 % below its limit",
        "IEC 62368-1 clause B.1.6, two independent quotations in a public mailing list",
        "high",
        rising=True,
        or_k=1.0,
        or_s=300.0,
    ),
    Rule(
        "iec-60335-2-6",
        "interval",
        1.0,
        900.0,
        "less than 1 K in 15 min",
        "IEC 60335-2-6, one user's statement in a public mailing list (2012)",
        "medium",
    ),
    Rule(
        "iec-60598-1",
        "slope",
        1.0,
        3600.0,
        "less than 1 K an hour",
        "IEC 60598-1 clause 12.4.1 f, quoted in a public forum and in a mailing list",
        "high",
    ),
    Rule(
        "iec-61010-1",
        "interval",
        2.0,
        3600.0,
        "a rise of no more than 2 K in 1 h",
        "IEC 61010-1, CTL decision 23 (2000), its text in a public forum",
        "high",
        rising=True,
    ),
    Rule(
        "iec-60601-1",
        "interval",
        2.0,
        3600.0,
        "a rise of no more than 2 K in 1 h",
        "IEC 60601-1 (UL 2601-1 clause 42.3.3), quoted in a public mailing list",
        "medium",
        rising=True,
    ),
    Rule(
        "iec-61810-7",
        "readings",
        1.0,
        300.0,
        "three successive readings 5 min apart within 1 K of one another",
        f"IEC 61810-7:2006, {_LIST}",
        "high",
    ),
    Rule(
        "iec-62282-2",
        "interval",
        3.0,
        900.0,
        "no more than 3 K, or 1 % of the temperature if that is more, between two readings 15 min apart",
        f"IEC 62282-2:2004, {_LIST}",
        "high",
        share=0.01,
    ),
    Rule(
        "iec-62135-1",
        "slope",
        2.0,
        3600.0,
        "a rise of no more than 2 K an hour",
        f"IEC 62135-1:2008, {_LIST}",
        "high",
        rising=True,
    ),
    Rule(
        "bs-1363-1",
        "interval",
        1.0,
        3600.0,
        "a rise of less than 1 K within 1 h",
        "BS 1363-1, one user's statement in a public mailing list (2012)",
        "medium",
        rising=True,
    ),
    Rule(
        "ul-1278",
        "readings",
        0.0,
        300.0,
        "three successive readings, a tenth of the time run and at least 5 min apart, show no change (of 0.1 K)",
        "UL 1278 clause 39.1.8, quoted in a public forum",
        "high",
        interval_share=0.1,
    ),
    Rule(
        "ul-1029",
        "readings",
        0.0,
        900.0,
        "three successive readings 15 min apart show no rise (of 0.1 K)",
        "UL 1029 clause 21.1.6, quoted in a public forum",
        "high",
        rising=True,
    ),
    Rule(
        "ul-1993",
        "readings",
        1.0,
        900.0,
        "after 3 h or more, three successive readings 15 min apart within 1 K of one another",
        "UL 1993 clause 8.5.8, public preview of the standard",
        "high",
        least_s=10800.0,
    ),
    Rule(
        "iec-60068-1",
        "end",
        3.0,
        0.0,
        "within 3 K of the end value",
        "IEC 60068-1 and 60068-5-2, from memory",
        "medium",
    ),
    Rule(
        "mil-std-810",
        "slope",
        2.0,
        3600.0,
        "changes by no more than 2 K an hour",
        "MIL-STD-810, Part One, 5.4, from memory",
        "medium",
    ),
)

RULES: Final[dict[str, Rule]] = {rule.name: rule for rule in _ALL}
"""Published criteria by name. None of the standards was read itself: `source` says where the numbers were found."""

DEFAULT_RULE: Final = "1 K in 15 min"
"""Used, flagged, where none is chosen (common practice)."""

_NUMBER = r"(\d+(?:\.\d+)?)"
_RATE = re.compile(rf"{_NUMBER}\s*K\s*(?:/|per )\s*h")
_INTERVAL = re.compile(rf"{_NUMBER}\s*K in {_NUMBER}\s*(s|min|h)")
_READINGS = re.compile(rf"{_NUMBER}\s*K over (\d+) readings {_NUMBER}\s*(s|min|h) apart")
_END = re.compile(rf"{_NUMBER}\s*K of (?:the )?end")
_SECONDS: Final = {"s": 1.0, "min": 60.0, "h": 3600.0}


def rule_of(text: str) -> Rule:
    """Read ``steady_rule``: a name of `RULES`, or own numbers.

    Raises
    ------
    ValueError
        With what is wanted, and the nearest names.

    Examples
    --------
    >>> rule_of("2 K/h").kind, rule_of("1 K in 15 min").interval_s, rule_of("iec-62368-1").limit_k
    ('slope', 900.0, 3.0)
    """
    text = text.strip()
    if text.lower() in RULES:
        return RULES[text.lower()]
    if match := _RATE.fullmatch(text):
        return _own(text, "slope", float(match[1]), 3600.0)
    if match := _INTERVAL.fullmatch(text):
        return _own(text, "interval", float(match[1]), float(match[2]) * _SECONDS[match[3]])
    if (match := _READINGS.fullmatch(text)) and int(match[2]) > 1:
        every_s = float(match[3]) * _SECONDS[match[4]]
        return _own(text, "readings", float(match[1]), every_s, readings=int(match[2]))
    if match := _END.fullmatch(text):
        return _own(text, "end", float(match[1]), 0.0)
    near = difflib.get_close_matches(text.lower(), RULES, n=1)
    raise ValueError(
        (f"did you mean '{near[0]}'? " if near else "")
        + "wanted '2 K/h', '1 K in 15 min', '1 K over 3 readings 5 min apart', '1 K of end', or one of "
        + ", ".join(sorted(RULES))
    )


def _own(text: str, kind: RuleKind, limit_k: float, interval_s: float, readings: int = 3) -> Rule:
    if limit_k <= 0.0 or (kind != "end" and interval_s <= 0.0):
        raise ValueError("wanted numbers above 0")
    return Rule(text, kind, limit_k, interval_s, text, readings=readings)
