"""How much speaks for a motion of a board: the share of its edges that are where the motion puts them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from irspot.registration.held_edges import Anchors, Match

_FEWEST_OF_OUTLINE: Final = 24
"""With fewer edges of the outline in view all edges have to do."""
_PLAIN: Final = 0.75
_PLAIN_OUTLINE: Final = 0.9
_PLAIN_ALONE: Final = 0.9
"""Shares at which nothing else is looked for."""
_LEAST_WORTH: Final = 1.0
_LEAST_OUTLINE: Final = 0.55
_LEAST_ALONE: Final = 0.85
"""Shares at which a motion is believed at all. Where the outline does not speak, what lies over the board could be
taken for the board, so more is asked."""
_CONVINCING: Final = 1.2
_LEAST_MARGIN: Final = 0.2
_MARGIN_SIGMAS: Final = 2.5


@dataclass(frozen=True, slots=True)
class Support:
    """Shares of a board's edges in view that a motion brings onto edges of the frame.

    Parameters
    ----------
    every : float
        Of all.
    outline : float
        Of those of the outline, which nothing else has.
    alone : bool
        Whether too little of the outline is in view to count.
    u : float
        Standard uncertainty that their numbers leave `worth`.
    """

    every: float
    outline: float
    alone: bool
    u: float

    @property
    def worth(self) -> float:
        """From 0 to 2; the outline's edges count by themselves again."""
        return self.every + (self.every if self.alone else self.outline)

    @property
    def plain(self) -> bool:
        """Whether it is so good that nothing else need be looked for."""
        if self.alone:
            return self.every >= _PLAIN_ALONE
        return self.every >= _PLAIN and self.outline >= _PLAIN_OUTLINE

    @property
    def enough(self) -> bool:
        """Whether it is good enough to be believed."""
        if self.alone:
            return self.every >= _LEAST_ALONE
        return self.worth >= _LEAST_WORTH and self.outline >= _LEAST_OUTLINE

    @property
    def convincing(self) -> bool:
        """Whether it is so good that nothing better is to be expected."""
        return self.enough and self.worth >= _CONVINCING

    def beats(self, other: Support) -> bool:
        """Whether it is better than another by more than chance."""
        return self.worth - other.worth >= max(_LEAST_MARGIN, _MARGIN_SIGMAS * self.u)


def support_of(match: Match, anchors: Anchors) -> Support:
    """Count what speaks for a match.

    Parameters
    ----------
    match : Match
    anchors : Anchors
    """
    outline = match.seen & anchors.on_outline
    seen, of_outline = int(match.seen.sum()), int(outline.sum())
    alone = of_outline < _FEWEST_OF_OUTLINE
    u = np.sqrt(0.25 / max(1, seen) + 0.25 / max(1, seen if alone else of_outline))
    return Support(
        float((match.near & match.seen).sum() / max(1, seen)),
        float((match.near & outline).sum() / max(1, of_outline)),
        alone,
        float(u),
    )
