"""The look: page colours and type sizes. Lengths are px of a picture 1080 px high and scale with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

Color = tuple[int, int, int]

PAGE: Final[Color] = (16, 20, 27)
INK: Final[Color] = (243, 244, 246)
MUTED: Final[Color] = (170, 178, 190)
WARNING: Final[Color] = (255, 158, 128)
HAIRLINE: Final[Color] = (66, 74, 88)
LIGHT_STROKE: Final[Color] = (255, 255, 255)
DARK_STROKE: Final[Color] = (10, 12, 16)
HATCH: Final[tuple[Color, Color]] = ((92, 98, 104), (138, 144, 150))
"""Stripes of pixels that were not measured: a pattern, so that no colour map can be mistaken for it."""

MARGIN: Final = 40.0
TITLE: Final = 44.0
FACT: Final = 29.0
FACT_LABEL: Final = 23.0
TICK: Final = 27.0
SMALL: Final = 22.0
STRIP: Final = 24.0
STRIP_ROW: Final = 34.0

CHANNEL: Final = 40.0
"""Between the frame's edge and the callouts."""
CHIP: Final = 9.0
"""Width of the strip of the value's own colour beside a callout."""
CHIP_GAP: Final = 15.0
GUTTER: Final = (300.0, 470.0)
"""Narrowest and widest callout."""
RING: Final = 11.0
"""Radius of a hot spot's ring."""


@dataclass(frozen=True, slots=True)
class Tier:
    """One type size of callouts.

    Parameters
    ----------
    name, value, tail : float
        Type sizes of the zone's name, of the value, and of what follows the value.
    gap : float
        Least distance between callouts.
    lines : int
        2 sets the name above the value, 1 beside it.
    """

    name: float
    value: float
    tail: float
    gap: float
    lines: int = 2

    @property
    def height(self) -> float:
        """Height of a callout."""
        if self.lines == 1:
            return 1.3 * self.value
        return 1.22 * self.name + 1.12 * self.value


TIERS: Final[tuple[Tier, ...]] = (
    Tier(name=30, value=46, tail=32, gap=26),
    Tier(name=28, value=40, tail=30, gap=18),
    Tier(name=26, value=35, tail=28, gap=12),
    Tier(name=24, value=30, tail=26, gap=8),
    Tier(name=20, value=26, tail=23, gap=3),
    Tier(name=22, value=26, tail=23, gap=4, lines=1),
)
"""From the largest to the smallest; the first that has room for every zone is taken."""
