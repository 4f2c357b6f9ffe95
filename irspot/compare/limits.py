"""Values judged against limits by a declared rule, with a guard band."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

from irspot.compare.standing import Outcome
from irspot.compare.values import DecisionRule
from irspot.study import Decision

_G8: Final = "ILAC-G8:09/2019, clause 4.2 (clause and wording from memory); JCGM 106:2012, clause 8"
RULES: Final[Mapping[str, tuple[str, str]]] = {
    "simple": ("pass up to the limit, fail beyond it; no guard band (simple acceptance)", _G8),
    "guarded": ("pass up to the limit less the guard band, else fail", _G8),
    "conditional": (
        "pass up to the limit less the guard band, conditional pass up to the limit, conditional fail up to the limit "
        "plus the guard band, fail beyond",
        _G8,
    ),
}
"""What each rule says, and where it comes from."""


def rule_of(decision: Decision) -> DecisionRule:
    """Give a study's rule in words.

    Examples
    --------
    >>> rule_of(Decision("guarded", 1.5)).guard_band_k
    1.5
    """
    words, source = RULES[decision.rule]
    return DecisionRule(
        decision.rule, words, source, math.nan if decision.guard_band_k is None else decision.guard_band_k
    )


def guard_band_k(rule: DecisionRule, U_k: float) -> float:
    """Width of the guard band: as declared, or the expanded uncertainty itself; 0 for simple acceptance."""
    if rule.name == "simple":
        return 0.0
    return rule.guard_band_k if math.isfinite(rule.guard_band_k) else U_k


def outcome_of(margin_k: float, guard_k: float, rule: str, *, at_least: bool = False) -> Outcome:
    """Judge what is left to a limit.

    Parameters
    ----------
    margin_k : float
        Limit less value.
    guard_k : float
        Guard band, at least 0.
    rule : {"simple", "guarded", "conditional"}
    at_least : bool
        Whether the true value may be higher: it can fail then, and never pass.

    Examples
    --------
    >>> [outcome_of(margin, 1.0, "conditional") for margin in (1.0, 0.5, -0.5, -1.5)]
    ['pass', 'conditional pass', 'conditional fail', 'fail']
    >>> outcome_of(0.5, 1.0, "conditional", at_least=True)
    'not judged'
    """
    if not math.isfinite(margin_k) or not math.isfinite(guard_k):
        return "not judged"
    if at_least and margin_k >= 0.0:
        return "not judged"
    if rule == "conditional":
        if margin_k >= guard_k:
            return "pass"
        if margin_k >= 0.0:
            return "conditional pass"
        return "conditional fail" if margin_k >= -guard_k else "fail"
    return "pass" if margin_k >= guard_k else "fail"


def p_over_limit(margin_k: float, u_k: float) -> float:
    """How likely the true value is beyond the limit: Φ(-margin / u) (JCGM 106:2012, equation 6, clause 7.2).

    Examples
    --------
    >>> p_over_limit(0.0, 1.0), round(p_over_limit(2.0, 1.0), 4)
    (0.5, 0.0228)
    """
    if not math.isfinite(margin_k) or not u_k > 0.0:
        return math.nan
    return 0.5 * math.erfc(margin_k / (u_k * math.sqrt(2.0)))
