"""What a flag is, and the verdicts it can leave."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Verdict = Literal["usable", "lower bound", "retake"]

VERDICTS: Final[tuple[Verdict, ...]] = ("usable", "lower bound", "retake")
"""From best to worst."""


@dataclass(frozen=True, slots=True)
class Flag:
    """One thing worth knowing about a reading.

    Parameters
    ----------
    name : str
        As it stands in ``flags`` columns.
    verdict : {"usable", "lower bound", "retake"}
        The best verdict a reading with this flag can have.
    reason : str
        One sentence for people.
    remedy : str
        The cheapest thing to do about it; empty where there is nothing to do.
    short : str
        Why the verdict is not usable, in a word or three, for pictures; empty where it is.
    """

    name: str
    verdict: Verdict
    reason: str
    remedy: str = ""
    short: str = ""
