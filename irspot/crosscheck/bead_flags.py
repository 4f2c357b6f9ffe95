"""Every flag that a bead can carry, defined once: what it means and what to do about it.

Beads have no verdict: they are witnesses. What a zone's reading carries stands in `irspot.flags`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from irspot.flags import FLAGS


@dataclass(frozen=True, slots=True)
class BeadFlag:
    """One thing worth knowing about a bead.

    Parameters
    ----------
    name : str
        As it stands in ``flags`` columns.
    reason : str
        One sentence for people.
    remedy : str
        The cheapest thing to do about it; empty where there is nothing to do.
    """

    name: str
    reason: str
    remedy: str = ""


_ALL: Final[tuple[BeadFlag, ...]] = (
    BeadFlag(
        "ambient-assumed",
        "No ambient temperature was known; 23 °C was taken for what the wires lose and where a loose bead falls to.",
        "Log the air beside the board.",
    ),
    BeadFlag(
        "attachment-unknown",
        "How the bead is held is not stated, or in no word known here; the poorest contact was assumed (200 K/W).",
        "State attachment of the site: solder, adhesive, tape or pressed.",
    ),
    BeadFlag(
        "behind-board",
        "Bead and camera look at different sides of the board: the difference is given and not judged.",
    ),
    BeadFlag(
        "channel-off",
        "With no power this channel differed from the others by more than thermocouples and logger allow.",
        "Check connector, type setting and cold junction of the channel; exchange the bead.",
    ),
    BeadFlag(
        "class-assumed",
        "No tolerance class of the thermocouple is stated; the widest of its type was taken.",
        "State class of the site, from the maker's data.",
    ),
    BeadFlag(
        "clock-offset-given",
        "The offset between the clocks was given, not found in the data.",
    ),
    BeadFlag(
        "clock-offset-unknown",
        "No load step shows in both bead and image: their clocks were not held against one another.",
        "Record through the switching-on of the load, or give clock_offset_s.",
    ),
    BeadFlag(
        "cold-junction-included",
        "No limit of the cold junction is stated; it was taken as part of the logger's limit.",
        "State cold_junction_limit_k where the logger's maker gives it apart.",
    ),
    BeadFlag(
        "detached",
        "The bead fell towards the air faster than any board cools: from then on it was masked.",
        "Attach it again (power off, let the board cool) and repeat the run if its place matters.",
    ),
    BeadFlag(
        "few-ring-pixels",
        "Fewer than nine pixels lie beside the bead on the same surface; their mean may be off.",
        "Move nearer, or use a thinner wire and less tape.",
    ),
    BeadFlag(
        "footprint-assumed",
        "What bead and tape cover is not stated; a disc of 4 mm was taken.",
        "State footprint_mm of the site.",
    ),
    BeadFlag(
        "implausible",
        "The channel showed values that no bead on a board has: from then on it was masked.",
        "Look for a broken wire or a loose connector.",
    ),
    BeadFlag(
        "logger-assumed",
        "No limit of the logger is stated; 2 K for logger and cold junction together was taken.",
        "State logger_limit_k and cold_junction_limit_k.",
    ),
    BeadFlag(
        "lost",
        "The channel stopped giving values before the run ended.",
        "Look for a broken wire or a loose connector.",
    ),
    BeadFlag(
        "noisy",
        "The channel became many times noisier than it had been: from then on it was masked.",
        "Look for a loose connector, or a bead that touches a live pad (power off first).",
    ),
    BeadFlag(
        "sampled-slowly",
        "The log is sampled more slowly than every 15 s: a bead that comes off may look like a board that cools.",
        "Log every second.",
    ),
    BeadFlag(
        "step",
        "The bead stepped as no board heats or cools, and stayed: from then on it was masked.",
        "Look for a bead that moved, or a setting of the logger that was changed.",
    ),
    BeadFlag(
        "wire-gauge-assumed",
        "The gauge of the wire is not stated; 0.3 mm was taken.",
        "State wire_mm of the site.",
    ),
)

BEAD_FLAGS: Final[dict[str, BeadFlag]] = {flag.name: flag for flag in _ALL}
"""Every flag by its name."""


def sorted_bead_flags(names: Iterable[str]) -> tuple[str, ...]:
    """Sort flags by name, each once; those of readings may be among them.

    Raises
    ------
    KeyError
        For a name that neither this module nor `irspot.flags` defines.

    Examples
    --------
    >>> sorted_bead_flags(["detached", "clipped", "detached"])
    ('clipped', 'detached')
    """
    found = set(names)
    for name in found:
        if name not in BEAD_FLAGS and name not in FLAGS:
            raise KeyError(name)
    return tuple(sorted(found))


def reason_and_remedy(name: str) -> tuple[str, str]:
    """Give reason and remedy of a flag of a bead or of a reading.

    Raises
    ------
    KeyError
        For a name that neither this module nor `irspot.flags` defines.
    """
    flag = BEAD_FLAGS.get(name) or FLAGS[name]
    return flag.reason, flag.remedy
