"""How a colour-mapped picture is drawn: its colours, its bar with everything around it, and what lies over it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from irspot.color_picture import Box, End

Color = tuple[int, int, int]

BLACK: Color = (0, 0, 0)
WHITE: Color = (255, 255, 255)


@dataclass(frozen=True, slots=True)
class BarPlace:
    """Where the bar stands.

    Parameters
    ----------
    side : {"left", "right", "top", "bottom", "inside"}
        The edge of the picture it keeps to; an inside bar stands where `along` and `across` say.
    length : float
        Share of the picture's height (a vertical bar) or width.
    thickness_px : int
    margin_px : int
        Between the bar's colours and the edge.
    along, across : float
        Share of the room left over before the bar, along and across it; `across` counts for inside bars only.
    panel_px : int
        Width of a plain strip that covers the picture along `side`; 0 for a bar drawn over the picture.
    """

    side: Literal["left", "right", "top", "bottom", "inside"] = "right"
    length: float = 0.7
    thickness_px: int = 16
    margin_px: int = 10
    along: float = 0.5
    across: float = 0.5
    panel_px: int = 0


@dataclass(frozen=True, slots=True)
class Labels:
    """The numbers at the bar.

    Parameters
    ----------
    count : int
        0 for none, 2 for the ends, more for evenly spaced places between them.
    place : {"before", "after", "beyond"}
        Left of or above the bar, right of or below it, or beyond its two ends (then only the ends are labelled).
    decimals : int
    unit : str
        Written after every number.
    size_px : int
        Of the type (the em).
    bold : bool
    distance_px : int
        From the border or the tick.
    plate : bool
        A filled box behind each label.
    """

    count: int = 2
    place: Literal["before", "after", "beyond"] = "before"
    decimals: int = 1
    unit: str = ""
    size_px: int = 14
    bold: bool = False
    distance_px: int = 3
    plate: bool = False


@dataclass(frozen=True, slots=True)
class OverlayText:
    """Words over the picture, their upper left corner at `at_px`."""

    text: str
    at_px: tuple[int, int]
    size_px: int = 16
    color: Color = WHITE
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Crosshair:
    """A cross with an open middle, as drawn at a measuring spot."""

    at_px: tuple[int, int]
    arm_px: int = 14
    open_px: int = 4
    line_px: int = 1
    color: Color = WHITE


@dataclass(frozen=True, slots=True)
class Shade:
    """A half-transparent box; opaque with `alpha` 1."""

    box_px: Box
    color: Color = BLACK
    alpha: float = 0.5


@dataclass(frozen=True, slots=True)
class Logo:
    """A made-up emblem: a disc with a bar and a triangle cut out of it."""

    at_px: tuple[int, int]
    size_px: int = 36
    color: Color = WHITE


Overlay = OverlayText | Crosshair | Shade | Logo


@dataclass(frozen=True, slots=True)
class ColorStyle:
    """Everything that decides how temperatures become a picture.

    Parameters
    ----------
    cmap : str
        One of matplotlib's colour maps.
    steps : int or None
        Number of colours, or None for as many as 8-bit red, green and blue can show.
    low_end : {"top", "bottom", "left", "right"}
        Where the bar's lowest temperature is; so says whether it is vertical.
    place : BarPlace
    border_px : int
        Line around the bar; 0 for none.
    gap_px : int
        Plain distance between bar and border (or picture).
    ticks : int
        Number of tick marks, ends included; 0 for none.
    tick_px : int
        Length of a tick, outside the border.
    ink, paper : (int, int, int)
        Colour of border, ticks and labels; of gap, panel and plates.
    labels : Labels
    overlays : tuple of Overlay
        Drawn over the picture in their order, below the bar.
    covers : tuple of Overlay
        Drawn last, over the bar as well.
    """

    cmap: str = "inferno"
    steps: int | None = 256
    low_end: End = "bottom"
    place: BarPlace = field(default_factory=BarPlace)
    border_px: int = 1
    gap_px: int = 0
    ticks: int = 0
    tick_px: int = 4
    ink: Color = WHITE
    paper: Color = BLACK
    labels: Labels = field(default_factory=Labels)
    overlays: tuple[Overlay, ...] = ()
    covers: tuple[Overlay, ...] = ()

    @property
    def vertical(self) -> bool:
        """Whether the bar runs up or down."""
        return self.low_end in ("top", "bottom")
