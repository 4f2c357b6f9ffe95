"""What the flags of a report mean, in the words of the registries that define them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from irspot.crosscheck.bead_flags import BEAD_FLAGS, BeadFlag
from irspot.flag import Flag
from irspot.flags import FLAGS
from irspot.rendering.report.values import Facts
from irspot.run_flags import RUN_FLAGS, RunFlag

_ALL: Final[dict[str, Flag | RunFlag | BeadFlag]] = {**RUN_FLAGS, **BEAD_FLAGS, **FLAGS}


def flags_explained(names: Iterable[str]) -> Facts:
    """Explain flags of readings, soaks and beads, each once, by name.

    Raises
    ------
    KeyError
        For a name that none of them defines.
    """
    flags = [_ALL[name] for name in sorted(set(names))]
    return tuple((flag.name, f"{flag.reason} {flag.remedy}".strip()) for flag in flags)
