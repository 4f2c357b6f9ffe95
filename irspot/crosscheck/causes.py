"""Why bead and image differ: causes ranked by how far each would have to be off to explain the difference alone."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from irspot.crosscheck.at_bead import ImageAtBead
from irspot.crosscheck.bead_budget import BeadValue
from irspot.crosscheck.clock import ClockOffset
from irspot.crosscheck.faults import Fault
from irspot.uncertain import Term

CauseName = Literal[
    "detached",
    "failing bead",
    "emissivity",
    "reflection",
    "wire loss",
    "poor attachment",
    "clock",
    "wrong place",
    "thermocouple or logger",
    "camera",
]

WRONG_PLACE_MM: Final = 2.0
"""How far off a bead may sit from where it was noted: its standard deviation for this question (our choice)."""
POOR_SHARE: Final = 0.1
"""Of the rise that a poorly held bead may read low by, as a standard deviation (published: 2 to 10 K)."""
_OF_BEAD: Final = frozenset({"thermocouple class", "logger limit", "cold junction"})


@dataclass(frozen=True, slots=True)
class Cause:
    """One explanation.

    Parameters
    ----------
    name : str
    sigmas : float
        How many of its own standard uncertainties the input would have to be off: the fewer, the likelier; 0 where it
        was found to be so.
    detail : str
        What it would have to be, in words.
    """

    name: CauseName
    sigmas: float
    detail: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a ranking starts from.

    Parameters
    ----------
    difference_k : float
        Bead less image.
    bead : BeadValue
    image : ImageAtBead
    rise_k : float
        Of the image over ambient.
    drift_k_per_s : float
        How fast the bead's temperature changes.
    clock : ClockOffset or None
        None where no offset is known: 60 s is then taken for its standard uncertainty.
    fault : Fault or None
    """

    difference_k: float
    bead: BeadValue
    image: ImageAtBead
    rise_k: float = math.nan
    drift_k_per_s: float = 0.0
    clock: ClockOffset | None = None
    fault: Fault | None = None


_UNKNOWN_CLOCK_S: Final = 60.0


def ranked_causes(evidence: Evidence) -> tuple[Cause, ...]:
    """Rank what may explain a difference, likeliest first.

    Parameters
    ----------
    evidence : Evidence

    Returns
    -------
    tuple of Cause
        Those that could explain it at all; a fault that was found comes first.

    Notes
    -----
    To first order the input of standard uncertainty u_i and sensitivity c_i alone explains a difference D if it is off
    by ``|D| / (|c_i| u_i)`` of its standard uncertainties.
    """
    if not math.isfinite(evidence.difference_k):
        return () if evidence.fault is None else (_found(evidence.fault),)
    causes = sorted(_explaining(evidence), key=lambda cause: cause.sigmas)
    return tuple(causes) if evidence.fault is None else (_found(evidence.fault), *causes)


def likely_cause(evidence: Evidence, agrees: bool | None) -> str:
    """Name the likeliest cause; empty where bead and image agree, or cannot be judged, and no fault was found."""
    if evidence.fault is None and agrees is not False:
        return ""
    return next((cause.name for cause in ranked_causes(evidence)), "")


def _found(fault: Fault) -> Cause:
    return Cause("detached" if fault.kind == "detached" else "failing bead", 0.0, fault.detail)


def _explaining(evidence: Evidence) -> Iterator[Cause]:
    difference_k = evidence.difference_k
    terms = {term.name: term for term in evidence.image.terms}
    for name, of in (("emissivity", "emissivity"), ("reflected temperature", "reflection")):
        if (term := terms.get(name)) is not None and term.u_k > 0.0:
            # The image would have to read higher by D: the input moves by D / c.
            yield Cause(of, abs(difference_k) / term.u_k, _off_by(term, difference_k))  # type: ignore[arg-type]
    yield from _of_bead(evidence)
    yield from _of_time_and_place(evidence)
    limit = terms.get("camera limit")
    if limit is not None and limit.u_k > 0.0:
        yield Cause(
            "camera", abs(difference_k) / limit.u_k, f"its scale off by {difference_k / limit.sensitivity:+.1f} K"
        )


def _off_by(term: Term, difference_k: float) -> str:
    change = difference_k / term.sensitivity
    if term.name == "emissivity":
        return f"emissivity {change:+.2f} from what was applied"
    return f"{term.name} {change:+.0f} K from what was applied"


def _of_bead(evidence: Evidence) -> Iterator[Cause]:
    difference_k, wire = evidence.difference_k, evidence.bead.wire
    if wire.u_k > 0.0:
        taken_k = wire.correction_k - difference_k
        # Wires only ever take: a bead that reads too high even without any correction has another cause.
        if difference_k < 0.0 or taken_k >= 0.0:
            detail = f"wires taking {taken_k:.1f} K, {wire.correction_k:.1f} K was corrected for"
            yield Cause("wire loss", abs(difference_k) / wire.u_k, detail)
    if difference_k < 0.0 < evidence.rise_k:
        share = -difference_k / evidence.rise_k
        yield Cause("poor attachment", share / POOR_SHARE, f"the bead showing {100.0 * share:.0f} % less of the rise")
    u_k = math.sqrt(sum(term.u_k**2 for term in evidence.bead.terms if term.name in _OF_BEAD))
    if u_k > 0.0:
        yield Cause("thermocouple or logger", abs(difference_k) / u_k, f"the channel off by {difference_k:+.1f} K")


def _of_time_and_place(evidence: Evidence) -> Iterator[Cause]:
    difference_k = evidence.difference_k
    u_s = _UNKNOWN_CLOCK_S if evidence.clock is None else evidence.clock.u_s
    drift_k = abs(evidence.drift_k_per_s) * u_s
    if drift_k > 0.0:
        off_s = abs(difference_k / evidence.drift_k_per_s)
        yield Cause("clock", abs(difference_k) / drift_k, f"clocks {off_s:.0f} s further apart")
    slope_k = evidence.image.gradient_k_per_mm * WRONG_PLACE_MM
    if slope_k > 0.0:
        off_mm = abs(difference_k) / evidence.image.gradient_k_per_mm
        yield Cause("wrong place", abs(difference_k) / slope_k, f"the bead {off_mm:.1f} mm from where it was noted")
