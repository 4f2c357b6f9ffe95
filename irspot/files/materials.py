"""Emissivities of the surfaces boards are made of, each with its source and how far to trust it.

Handbook values are of the total radiation, cameras see a part of it, and surfaces vary: each value stands for its
range, and no uncertainty is taken below `LEAST_U`. A strip of tape of known emissivity beside the part beats every line
here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from irspot.uncertain import from_bound

LEAST_U: Final = 0.02
"""Spread between samples of one material, even where a handbook gives a single number (common practice)."""

_MEH = "Mechanical Engineers' Handbook (Wiley) vol. 4, Table 19"
_EDE = "A. J. Ede, An Introduction to Heat Transfer Principles and Calculations (1967), table of rough average values"
_SSE = "Fortescue, Swinerd, Stark, Spacecraft Systems Engineering 4th ed., Table 11.3"
_NEUTRIUM = "Neutrium, Total normal emissivities of selected materials"
_TMC = "Transactions in Measurement & Control vol. 1, emissivity tables"
_PRACTICE = "from memory: common range in practice; measure it (ASTM E1933)"


@dataclass(frozen=True, slots=True)
class Material:
    """A surface and the range its emissivity lies in.

    Parameters
    ----------
    name : str
        As board files spell it.
    low, high : float
        Ends of the range.
    source : str
    certainty : {"high", "medium", "low"}
        Of the source, not of the surface.
    """

    name: str
    low: float
    high: float
    source: str
    certainty: Literal["high", "medium", "low"]

    @property
    def emissivity(self) -> float:
        """Middle of the range, to three decimals."""
        return round((self.low + self.high) / 2.0, 3)

    @property
    def u_emissivity(self) -> float:
        """The range taken as a rectangular bound, at least `LEAST_U`, to two decimals."""
        return round(max(LEAST_U, from_bound((self.high - self.low) / 2.0)), 2)


_ALL: Final = (
    Material("solder mask", 0.85, 0.95, _PRACTICE, "low"),
    Material("epoxy laminate", 0.85, 0.95, _PRACTICE, "low"),
    Material("epoxy package", 0.85, 0.95, _PRACTICE, "low"),
    Material("ferrite", 0.80, 0.95, _PRACTICE, "low"),
    Material("silicone", 0.90, 0.95, _PRACTICE, "low"),
    Material("vinyl tape", 0.93, 0.97, _PRACTICE, "low"),
    Material("matt black paint", 0.95, 0.95, _MEH, "high"),
    Material("black paint", 0.80, 0.95, _EDE, "high"),
    Material("white paint", 0.90, 0.95, _MEH, "high"),
    Material("anodised aluminium", 0.84, 0.84, _NEUTRIUM, "high"),
    Material("oxidised aluminium", 0.10, 0.20, _EDE, "high"),
    Material("polished aluminium", 0.04, 0.06, _EDE, "high"),
    Material("aluminium foil tape", 0.04, 0.04, _SSE, "high"),
    Material("oxidised copper", 0.60, 0.70, _EDE, "high"),
    Material("tarnished copper", 0.75, 0.75, _MEH, "high"),
    Material("polished copper", 0.02, 0.05, _EDE, "high"),
    Material("tin plate", 0.03, 0.10, _EDE, "medium"),
    Material("bright nickel", 0.05, 0.12, _PRACTICE, "low"),
    Material("gold", 0.04, 0.04, _SSE, "high"),
    Material("alumina ceramic", 0.90, 0.90, _TMC, "high"),
    Material("porcelain", 0.92, 0.92, _TMC, "high"),
    Material("glass", 0.90, 0.95, _EDE, "high"),
)

MATERIALS: Final[dict[str, Material]] = {material.name: material for material in _ALL}
"""Name → material."""
