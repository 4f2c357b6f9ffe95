"""What a thermocouple's wires carry away from its bead: a fin model, by gauge and attachment.

Each wire is a fin without end: ``G = √(h P k A)`` with its perimeter P, its section A, its conductivity k and the heat
transfer h round it (any handbook of heat transfer). What flows through both wires flows through the contact of
resistance R first, so that the bead lies below the surface by ``R G (T_bead - T_ambient)``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

HEAT_TRANSFER_W_PER_M2_K: Final = 35.0
"""Round a wire, convection and radiation. Our assumption: a bare wire of 0.1 mm in still air has over 100, one that
lies on the board or in a jacket far less per area of the metal; it reproduces losses of 2, 6 and 14 K for wires of
0.13, 0.3 and 0.64 mm (type K, 200 K/W, 67 K over ambient)."""
ASSUMED_WIRE_MM: Final = 0.3
"""Where no gauge is stated; flagged."""
CONTACTS_K_PER_W: Final[dict[str, float]] = {
    "solder": 20.0,
    "adhesive": 60.0,
    "tape": 150.0,
    "pressed": 200.0,
    "unknown": 200.0,
}
"""Resistance between bead and surface: orders of magnitude, our assumption. Nothing in a run tells it."""
_WORDS: Final[dict[str, tuple[str, ...]]] = {
    "solder": ("solder", "weld", "braz"),
    "adhesive": ("adhesive", "epoxy", "glue", "cement", "bond"),
    "tape": ("tape", "foil"),
    "pressed": ("press", "spring", "clamp", "clip", "paste", "grease"),
}
_LEGS_W_PER_M_K: Final[dict[str, tuple[float, float]]] = {
    "K": (19.0, 30.0),
    "N": (15.0, 27.0),
    "T": (390.0, 21.0),
    "J": (76.0, 21.0),
    "E": (19.0, 21.0),
    "R": (38.0, 72.0),
    "S": (38.0, 72.0),
    "B": (38.0, 55.0),
}
"""Conductivity of both legs near room temperature, all from memory: chromel 19, alumel 30, constantan 21, copper 390,
iron 76, platinum 72, its alloys and type N's to about a quarter."""


@dataclass(frozen=True, slots=True)
class WireLoss:
    """What the wires may have taken.

    Parameters
    ----------
    most_k : float
        The bead lies below the surface by anything from nothing to this; 0 or more (or less, below ambient).
    correction_k : float
        To be added to the bead: half of it.
    u_k : float
        Standard uncertainty of that: ``most / √12``, a rectangle from 0 to `most_k` (JCGM 100:2008, 4.3.7).
    attachment : str
        Which of `CONTACTS_K_PER_W` applies.
    flags : tuple of str
    """

    most_k: float
    correction_k: float
    u_k: float
    attachment: str
    flags: tuple[str, ...]


def wires_w_per_k(kind: str, wire_mm: float, h_w_per_m2_k: float = HEAT_TRANSFER_W_PER_M2_K) -> float:
    """Conductance of both wires of a thermocouple to the air: ``Σ √(h P k A) = (π / 2) √(h d³) Σ √k``.

    Parameters
    ----------
    kind : str
        Type: ``K``, ``T``, ...
    wire_mm : float
        Diameter of each.
    h_w_per_m2_k : float

    Raises
    ------
    KeyError
        For a type that is not known.

    Examples
    --------
    >>> round(wires_w_per_k("K", 0.3) * 1e3, 3)
    0.475
    """
    diameter_m = wire_mm * 1e-3
    roots = sum(math.sqrt(conductivity) for conductivity in _LEGS_W_PER_M_K[kind])
    return 0.5 * math.pi * math.sqrt(h_w_per_m2_k * diameter_m**3) * roots


def attachment_of(text: str) -> str:
    """Say which kind of contact a free description means: the worst of those it names, or ``unknown``.

    Examples
    --------
    >>> attachment_of("polyimide tape over thermal adhesive"), attachment_of("")
    ('tape', 'unknown')
    """
    lower = text.lower()
    named = [name for name, words in _WORDS.items() if any(word in lower for word in words)]
    return max(named, key=CONTACTS_K_PER_W.__getitem__, default="unknown")


def wire_loss(bead_degc: float, ambient_degc: float, kind: str, wire_mm: float | None, attachment: str) -> WireLoss:
    """What the wires may have taken from a bead.

    Parameters
    ----------
    bead_degc : float
        As read.
    ambient_degc : float
    kind : str
        Type of the thermocouple.
    wire_mm : float or None
        Diameter of each wire; None has `ASSUMED_WIRE_MM` taken, flagged.
    attachment : str
        Free text.

    Raises
    ------
    KeyError
        For a type that is not known.

    Examples
    --------
    >>> loss = wire_loss(84.2, 23.0, "K", 0.3, "")
    >>> round(loss.most_k, 1), round(loss.correction_k, 1), loss.flags
    (5.8, 2.9, ('attachment-unknown',))
    """
    contact = attachment_of(attachment)
    flags = ("attachment-unknown",) * (contact == "unknown") + ("wire-gauge-assumed",) * (wire_mm is None)
    conductance = wires_w_per_k(kind, ASSUMED_WIRE_MM if wire_mm is None else wire_mm)
    most_k = CONTACTS_K_PER_W[contact] * conductance * (bead_degc - ambient_degc)
    return WireLoss(most_k, most_k / 2.0, abs(most_k) / math.sqrt(12.0), contact, flags)
