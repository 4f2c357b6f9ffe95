"""Every flag a run's soak can carry, defined once: what it means, whether the run may still be compared, what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class RunFlag:
    """One thing worth knowing about a run.

    Parameters
    ----------
    name : str
        As it stands in ``flags`` columns.
    comparable : bool
        Whether a run with this flag may stand beside others in a comparison.
    reason : str
        One sentence for people.
    remedy : str
        The cheapest thing to do about it; empty where there is nothing to do.
    """

    name: str
    comparable: bool
    reason: str
    remedy: str = ""


_ALL: Final[tuple[RunFlag, ...]] = (
    RunFlag(
        "ambient-assumed-steady",
        True,
        "The air's temperature was not recorded over time, so it was taken to stay as it was.",
        "Record the air beside the board, and give ambient_log.",
    ),
    RunFlag(
        "end-unknown",
        True,
        "The samples are too few, span too little time, or follow no soak: no end value is foretold.",
        "Watch the run for at least ten minutes, with a sample every ten seconds or so.",
    ),
    RunFlag(
        "interrupted",
        False,
        "The load was interrupted, or the board cooled, during the run; what was fitted begins after that.",
        "Repeat the run without interruption.",
    ),
    RunFlag(
        "power-elsewhere",
        False,
        "Power was measured at another point than the load intends it, so the two cannot be held against each other.",
        "Measure power at the load's power_point.",
    ),
    RunFlag(
        "power-off-intended",
        False,
        "The power is off its intended value by more than the load's tolerance.",
        "Set the load as intended and repeat.",
    ),
    RunFlag(
        "projected-far",
        True,
        "The samples span less than one and a half of the time constants found; the end value rests on the belief that "
        "boards seldom take longer than 25 min, and may be off by more than its uncertainty on one that does.",
        "Watch the run for longer before trusting the projection.",
    ),
    RunFlag(
        "rule-assumed",
        True,
        "The study states no steady_rule; steadiness was judged by 1 K in 15 min.",
        "State steady_rule in the study.",
    ),
    RunFlag(
        "rule-not-judged",
        True,
        "The samples span less than the rule needs, so steadiness was not judged.",
        "Watch the run for longer, or choose another steady_rule.",
    ),
    RunFlag(
        "stopped-early",
        True,
        "The samples end before the zone is within 1 K of its end value; last_degc is what was measured, end_degc a "
        "projection.",
        "Soak for longer, or use the projection with its uncertainty, named as one.",
    ),
    RunFlag(
        "throttled",
        False,
        "Power or clock fell from its plateau during the run by more than the load's tolerance.",
        "Cool the board better, or choose a load that it holds.",
    ),
)

RUN_FLAGS: Final[dict[str, RunFlag]] = {flag.name: flag for flag in _ALL}
"""Every run flag by name."""


def sorted_run_flags(names: Iterable[str]) -> tuple[str, ...]:
    """Order flags for a table, each once.

    Raises
    ------
    KeyError
        For a flag that is not in `RUN_FLAGS`.
    """
    return tuple(RUN_FLAGS[name].name for name in sorted(set(names)))


def not_comparable(names: Iterable[str]) -> tuple[str, ...]:
    """Name those flags that keep a run from being compared.

    Examples
    --------
    >>> not_comparable(["rule-assumed", "throttled"])
    ('throttled',)
    """
    return tuple(name for name in sorted_run_flags(names) if not RUN_FLAGS[name].comparable)
