"""Rises carried to equal power by rise ∝ powerⁿ: a projection, and refused beyond a tenth."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from irspot.compare.entries import Entry
from irspot.compare.estimates import Estimate, combination, difference, weighted_mean

MOST_OFF: Final = 0.10
"""Share of the power beyond which nothing is carried: the law is an approximation (our choice)."""
LEAST_RATIO: Final = 1.15
"""Of the powers of two loads that n is fitted from; closer ones leave it to the noise (our choice)."""


@dataclass(frozen=True, slots=True)
class Exponent:
    """n of rise ∝ powerⁿ."""

    n: float
    u_n: float
    fitted: bool = False


ASSUMED: Final = Exponent(1.5, 0.3)
"""Between losses that grow with the current (n = 1) and with its square (n = 2), less what convection gains."""


def exponent_between(rise_1: Estimate, power_1: float, rise_2: Estimate, power_2: float) -> Exponent:
    """Fit n from one board under two loads: ``n = ln(r2 / r1) / ln(P2 / P1)``.

    Parameters
    ----------
    rise_1, rise_2 : Estimate
        Above 0. [K]
    power_1, power_2 : float
        [W]

    Examples
    --------
    >>> round(exponent_between(Estimate(30.0), 200.0, Estimate(60.0), 400.0).n, 6)
    1.0
    """
    ratio = math.log(power_2 / power_1)
    relative = combination([(1.0 / rise_2.value, rise_2), (-1.0 / rise_1.value, rise_1)])
    return Exponent(math.log(rise_2.value / rise_1.value) / ratio, relative.u_k / abs(ratio), fitted=True)


def exponent_of(by_board: Mapping[str, Sequence[Entry]]) -> Exponent:
    """Join what the boards of one role say of n; where they say less than is assumed, that is assumed.

    Parameters
    ----------
    by_board : mapping of str to sequence of Entry
        The same board under several loads.
    """
    found = [fit for entries in by_board.values() for fit in _fits(entries)]
    if not found:
        return ASSUMED
    joined = weighted_mean([fit.n for fit in found], [max(fit.u_n, 1e-3) for fit in found])
    # Errors that the fits share make the mean no better than the best of them.
    u_n = max(joined.u_inflated, min(fit.u_n for fit in found))
    return Exponent(joined.value, u_n, fitted=True) if u_n <= ASSUMED.u_n else ASSUMED


def _fits(entries: Sequence[Entry]) -> Iterable[Exponent]:
    known = [(entry, power_of(entry)) for entry in entries if not entry.at_least and entry.rise.value > 0.0]
    usable = sorted((each for each in known if each[1] > 0.0), key=lambda each: each[1])
    if len(usable) >= 2 and usable[-1][1] / usable[0][1] >= LEAST_RATIO:
        yield exponent_between(usable[0][0].rise, usable[0][1], usable[-1][0].rise, usable[-1][1])


def power_of(entry: Entry) -> float:
    """Mean power in watts of an entry's runs; NaN where one states none."""
    powers = [case.run.power_w for case in entry.cases if case.run.power_w is not None]
    return math.fsum(powers) / len(powers) if len(powers) == len(entry.cases) else math.nan


def why_not_carried(entry: Entry, power_w: float | None) -> str:
    """Say why an entry cannot be carried to a power; empty where it can."""
    own = power_of(entry)
    if power_w is None or math.isnan(own):
        return "power not stated, so not carried to equal power"
    off = own / power_w - 1.0
    if abs(off) > MOST_OFF + 1e-9:
        return f"power {own:g} W, {100 * off:+.1f} % off {power_w:g} W: not carried beyond {100 * MOST_OFF:g} %"
    return ""


def at_power(entry: Entry, power_w: float, exponent: Exponent) -> Entry:
    """Carry an entry to a power: ``rise (P0 / P)ⁿ``, with the uncertainty of n, which all boards share.

    Parameters
    ----------
    entry : Entry
        Less than `MOST_OFF` off.
    power_w : float
    exponent : Exponent
    """
    ratio = power_w / power_of(entry)
    factor = ratio**exponent.n
    carried = combination([(factor, entry.ranked)])
    of_n = entry.ranked.value * factor * math.log(ratio) * exponent.u_n
    carried = carried.with_part(("power exponent", entry.first.role, entry.first.run.side), of_n)
    return replace(entry, ranked=carried, projected=difference(carried, entry.ranked))
