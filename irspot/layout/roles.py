"""Which parts are meant, and what role each has: by patterns of designators."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Final

from irspot.layout.part import Part

# Class letters in common use, after IEEE 315 / ASME Y14.44 (from memory); who needs others states roles.
BY_LETTER: Final = {
    "BT": "battery",
    "C": "capacitor",
    "D": "diode",
    "F": "fuse",
    "FB": "ferrite-bead",
    "IC": "integrated-circuit",
    "J": "connector",
    "K": "relay",
    "L": "inductor",
    "LED": "diode",
    "P": "connector",
    "Q": "transistor",
    "R": "resistor",
    "SW": "switch",
    "T": "transformer",
    "U": "integrated-circuit",
    "X": "crystal",
    "Y": "crystal",
}
"""Letters before a designator's number → role."""


@dataclass(frozen=True, slots=True)
class RoleRules:
    """Who gets which role.

    Parameters
    ----------
    given : tuple of (str, str)
        Patterns of designators and their roles; the first that matches counts.
    by_letter : bool
        Whether the others go by their class letters.
    """

    given: tuple[tuple[str, str], ...] = ()
    by_letter: bool = False

    def role_of(self, ref: str) -> str:
        """Give a part's role; empty for none.

        Examples
        --------
        >>> RoleRules((("Q1?", "power-stage"),), by_letter=True).role_of("Q12")
        'power-stage'
        >>> RoleRules(by_letter=True).role_of("LED7"), RoleRules().role_of("L1")
        ('diode', '')
        """
        role = next((role for pattern, role in self.given if matches(ref, (pattern,))), "")
        if role or not self.by_letter:
            return role
        letters = re.match(r"[A-Za-z]*", ref)
        return BY_LETTER.get(letters[0].upper() if letters else "", "")


def matches(ref: str, patterns: Sequence[str]) -> bool:
    """Say whether a designator matches any pattern, ignoring case."""
    return any(fnmatchcase(ref.casefold(), pattern.casefold()) for pattern in patterns)


def selected(parts: Sequence[Part], only: Sequence[str], leave_out: Sequence[str]) -> tuple[Part, ...]:
    """Give the parts that are meant: those of `only` (all, where it is empty), without those of `leave_out`."""
    return tuple(part for part in parts if (not only or matches(part.ref, only)) and not matches(part.ref, leave_out))
