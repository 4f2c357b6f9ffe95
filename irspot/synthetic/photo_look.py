"""How an invented board looks in visible light: colours of its mask and its parts, the bench, the light."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

Color = tuple[float, float, float]
"""Red, green, blue from 0 to 1, as a photo stores them."""

MASKS: Final[dict[str, Color]] = {
    "green": (0.07, 0.30, 0.16),
    "black": (0.09, 0.09, 0.10),
    "blue": (0.08, 0.17, 0.42),
    "red": (0.48, 0.10, 0.10),
    "white": (0.86, 0.86, 0.84),
}
"""Usual solder masks."""

BENCHES: Final[dict[str, Color]] = {
    "mat": (0.33, 0.36, 0.40),
    "wood": (0.63, 0.48, 0.33),
    "paper": (0.88, 0.87, 0.84),
    "slate": (0.17, 0.17, 0.18),
}

WALL: Final[Color] = (0.70, 0.63, 0.42)
"""The laminate, where the board is cut."""
PRINT: Final[Color] = (0.88, 0.88, 0.85)
GOLD: Final[Color] = (0.76, 0.60, 0.28)
SOLDER: Final[Color] = (0.66, 0.67, 0.69)

_BLACK: Final[Color] = (0.07, 0.07, 0.08)
_PARTS: Final[tuple[tuple[str, Color], ...]] = (
    ("ps-", _BLACK),
    ("ind-", (0.24, 0.24, 0.26)),
    ("can-", (0.78, 0.79, 0.80)),
    ("water-block", (0.16, 0.17, 0.19)),
    ("chipset", (0.52, 0.54, 0.57)),
    ("screw", (0.74, 0.74, 0.75)),
    ("m2", (0.20, 0.33, 0.62)),
    ("memory-part", (0.08, 0.16, 0.12)),
    ("memory-slot", (0.80, 0.80, 0.78)),
    ("slot", (0.14, 0.14, 0.15)),
    ("jacks", (0.72, 0.73, 0.75)),
    ("supply-plug", (0.82, 0.80, 0.74)),
    ("coin-cell", (0.80, 0.80, 0.78)),
    ("backplate", (0.46, 0.47, 0.49)),
    ("grille", (0.34, 0.35, 0.36)),
    ("rail", (0.62, 0.63, 0.65)),
)
"""By the beginning of a part's id; others are black plastic."""


def part_color(ident: str) -> Color:
    """Give the colour of a part."""
    return next((color for start, color in _PARTS if ident.startswith(start)), _BLACK)


@dataclass(frozen=True, slots=True)
class Look:
    """What a photo shows besides shapes.

    Parameters
    ----------
    mask, bench : Color
    light : tuple of float
        How far a shadow falls, in mm of x and y, for each mm of height.
    shadow : float
        Light that is left in it.
    gradient : tuple of float
        Change of the light from the photo's middle to its right and lower edge.
    glare : float
        Brightness of the lamp's reflection on the mask.
    blur_px, noise : float
        Standard deviations of the point spread and of a pixel (1 is white).
    """

    mask: Color = MASKS["green"]
    bench: Color = BENCHES["mat"]
    light: tuple[float, float] = (0.7, -0.5)
    shadow: float = 0.5
    gradient: tuple[float, float] = (0.12, -0.08)
    glare: float = 0.08
    blur_px: float = 0.8
    noise: float = 0.012
