"""What changed between two readings of one zone, before and after, with its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from irspot.flags import deciding
from irspot.results import NAN, Reading
from irspot.uncertain import Term, decimals_of, expanded, rounded, rounded_down, with_uncertainty

Kind = Literal["known", "at least", "at most", "unknown"]

_IN_SESSION: Final = "session"


@dataclass(frozen=True, slots=True)
class ZoneChange:
    """How much hotter a zone is afterwards.

    Parameters
    ----------
    before, after : Reading
        Of the same zone.
    change_k, U_change_k : float
        `max_degc` after less before, and its expanded uncertainty (k = 2); NaN where either is missing.
    kind : {"known", "at least", "at most", "unknown"}
        ``at least`` where the later reading is a lower bound, ``at most`` where the earlier one is; where both are, or
        one is to be retaken, the change is not known.
    """

    before: Reading
    after: Reading
    change_k: float = NAN
    U_change_k: float = NAN
    kind: Kind = "unknown"

    @property
    def why(self) -> str:
        """Why the change is not plainly known, in a word or three; empty where it is."""
        flags = deciding(self.after.flags)[:1] or deciding(self.before.flags)[:1]
        return ", ".join(flag.short for flag in flags)

    def headline(self) -> str:
        """Write the change: ``+3.2 ± 1.4 K``, ``≥ +1.8 K``, or nothing.

        Examples
        --------
        >>> reading = Reading("f", "", "z", "", "z", "usable", max_degc=70.0, U_max_k=1.0)
        >>> ZoneChange(reading, reading, 3.21, 1.41, "known").headline()
        '+3.2 ± 1.4 K'
        >>> ZoneChange(reading, reading, 3.21, 1.41, "at most").headline()
        '≤ +4.7 K'
        """
        decimals = decimals_of(self.U_change_k)
        if self.kind == "known":
            return signed(with_uncertainty(self.change_k, self.U_change_k, "K"))
        if self.kind == "at least":
            return f"≥ {signed(rounded_down(self.change_k - self.U_change_k, decimals))} K"
        if self.kind == "at most":
            up = -float(rounded_down(-(self.change_k + self.U_change_k), decimals))
            return f"≤ {signed(rounded(up, decimals))} K"
        return ""


def signed(number: str) -> str:
    """Put a plus before a number that is above zero.

    Examples
    --------
    >>> signed("3.2 K"), signed("-0.4"), signed("0.0 ± 1.0")
    ('+3.2 K', '-0.4', '0.0 ± 1.0')
    """
    first = float(number.split()[0])
    return f"+{number}" if first > 0.0 else number


def changes_of(before: Sequence[Reading], after: Sequence[Reading], *, same_session: bool) -> tuple[ZoneChange, ...]:
    """Hold the readings of two frames of one board against each other, zone by zone.

    Parameters
    ----------
    before, after : sequence of Reading
    same_session : bool
        Whether one camera took both in one session, so that its own error is the same in both.

    Returns
    -------
    tuple of ZoneChange
        Of the zones that both have, in the order of `after`.
    """
    earlier = {reading.zone: reading for reading in before}
    return tuple(_change(earlier[r.zone], r, same_session=same_session) for r in after if r.zone in earlier)


def _change(before: Reading, after: Reading, *, same_session: bool) -> ZoneChange:
    missing = any(r.verdict == "retake" or not math.isfinite(r.max_degc) for r in (before, after))
    bounds = before.verdict == "lower bound", after.verdict == "lower bound"
    if missing or all(bounds):
        return ZoneChange(before, after)
    kind: Kind = "at most" if bounds[0] else "at least" if bounds[1] else "known"
    u_k = u_change_k(before.budget, after.budget, same_session=same_session)
    return ZoneChange(before, after, after.max_degc - before.max_degc, expanded(u_k), kind)


def u_change_k(before: Sequence[Term], after: Sequence[Term], *, same_session: bool) -> float:
    """Standard uncertainty of the difference of two readings.

    Parameters
    ----------
    before, after : sequence of Term
        Their budgets.
    same_session : bool
        Whether what a session shares has the same error in both.

    Returns
    -------
    float
        ``u² = Σ (c_a u_a - c_b u_b)²`` over terms that are fully correlated, ``Σ (c u)²`` over all others
        (JCGM 100:2008, F.1.2.3 and equation 16 with r = 1). Emissivity and reflected temperature count as
        independent, which is never too little for zones of like temperature.
    """
    total = 0.0
    shared: dict[str, list[float]] = {}
    for sign, budget in ((-1.0, before), (1.0, after)):
        for term in budget:
            if same_session and term.shared == _IN_SESSION:
                shared.setdefault(term.name, []).append(sign * term.sensitivity * term.u_input)
            else:
                total += term.u_k**2
    return math.sqrt(total + sum(sum(parts) ** 2 for parts in shared.values()))
