"""The numbers that tell one invented mainboard from another, and where things are on it.

Places are those of a common mainboard seen from the front: connectors left, processor above the middle, memory right
of it, expansion slots below. Sizes and mounting holes follow the ATX and microATX drawings; everything else is made up.
"""

from __future__ import annotations

from dataclasses import dataclass

Box = tuple[float, float, float, float]
"""``(x, y, width, height)`` in mm."""

Powers = tuple[tuple[str, float], ...]

LOADS = ("stock", "overclock")
ALL_LOADS = (*LOADS, "burst", "throttled")
"""The last two are the large demo's: a load of its own, and what is left of the second where a board gives way."""
CURRENT_A = {"stock": 130.0, "overclock": 205.0, "burst": 228.0, "throttled": 168.0}
"""Through the processor's power stages, all phases together."""
PROCESSOR_W = {"stock": 125.0, "overclock": 205.0, "burst": 231.0, "throttled": 164.0}

PITCH_MM = 9.0
MICRO_ATX_MM = 244.0
"""Height of the smaller outline; both are 244 mm wide."""

# microATX Motherboard Interface Specification 1.2 and ATX Specification 2.2 (transcribed drawings), turned so that the
# connector edge is left: x from that edge, y from the end away from the processor.
ATX_HOLES = {
    "a": (10.16, 16.51),
    "c": (10.16, 140.97),
    "f": (33.02, 298.45),
    "g": (165.10, 16.51),
    "h": (165.10, 140.97),
    "j": (165.10, 298.45),
    "k": (237.49, 16.51),
    "l": (237.49, 140.97),
    "m": (237.49, 298.45),
}
MICRO_ATX_HOLES = {
    "b": (10.16, 34.29),
    "c": (10.16, 80.01),
    "f": (33.02, 237.49),
    "h": (165.10, 80.01),
    "j": (165.10, 237.49),
    "l": (237.49, 80.01),
    "m": (237.49, 237.49),
    "r": (165.10, 13.97),
}


@dataclass(frozen=True, slots=True)
class Design:
    """The numbers that tell one invented board from another.

    Parameters
    ----------
    id, name : str
    height_mm : float
        305 (ATX) or 244 (microATX).
    left, top : int
        Power stages left of and above the processor.
    static_w : float
        Loss of one stage that does not depend on current.
    stage_milliohm : float
        Its resistance, for the loss that does.
    case_k_per_w : float
        Hot spot of a stage's case over its surroundings.
    chipset_w, storage_w, controller_w : float
        Of chipset, drive and the phase controller on the rear.
    spread_w_per_k, loss_w_per_m2k : float
        Of the board, see `Sheet`.
    seed : int
        Of the spread from part to part.
    zone_names : tuple of (str, str)
        Names for people that differ from the usual ones, by zone id.
    undrawn : tuple of str
        Zone ids its board file forgot.
    """

    id: str
    name: str
    height_mm: float
    left: int
    top: int
    static_w: float
    stage_milliohm: float
    case_k_per_w: float
    chipset_w: float
    storage_w: float
    controller_w: float
    spread_w_per_k: float
    loss_w_per_m2k: float
    seed: int
    zone_names: tuple[tuple[str, str], ...] = ()
    undrawn: tuple[str, ...] = ()

    @property
    def small(self) -> bool:
        """Whether it is microATX."""
        return self.height_mm <= MICRO_ATX_MM


def holes(design: Design) -> dict[str, tuple[float, float]]:
    """Mounting holes by letter."""
    return MICRO_ATX_HOLES if design.small else ATX_HOLES


def left_start(design: Design) -> float:
    """Lower end of the bank left of the processor."""
    return design.height_mm - 92.0 - design.left * PITCH_MM / 2.0


def top_start(design: Design) -> float:
    """Left end of the bank above the processor."""
    return 112.0 - design.top * PITCH_MM / 2.0


def chipset_box(design: Design) -> Box:
    """Place of the chipset's heatsink."""
    return (174.0, 10.0, 38.0, 36.0) if design.small else (166.0, 55.0, 44.0, 44.0)


def storage_box(design: Design) -> Box:
    """Place of the M.2 drive."""
    return 46.0, design.height_mm - 185.0, 80.0, 22.0


def stage_w(design: Design, load: str) -> float:
    """Loss of one stage: a part that does not depend on current, and resistance times current squared."""
    current_a = CURRENT_A[load] / (design.left + design.top)
    return design.static_w + design.stage_milliohm * 1e-3 * current_a**2


def inductor_w(design: Design, load: str) -> float:
    """Loss of one inductor: core, and resistance times current squared."""
    current_a = CURRENT_A[load] / (design.left + design.top)
    return 0.15 + 0.4e-3 * current_a**2
