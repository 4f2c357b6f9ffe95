"""The board under test: outline, zones, sites, marks, references. Millimetres, seen from the front, y up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from irspot.constants import (
    BARE_METAL_EMISSIVITY,
    DEFAULT_EMISSIVITY,
    DEFAULT_REFERENCE_EMISSIVITY,
    DEFAULT_U_EMISSIVITY,
    DEFAULT_U_REFERENCE_EMISSIVITY,
    DEFAULT_U_REFERENCE_K,
)
from irspot.shapes import Polygon, Shape

Side = Literal["front", "rear"]
Cover = Literal["bare", "heatsink", "obscured"]
Quantity = Literal["case", "board", "heatsink", "other"]
EmissivityFrom = Literal["", "contact", "tape"]
LimitKind = Literal["surface", "case", "board", "junction"]

ELSEWHERE = "elsewhere"
"""Id of the implicit zone: the outline less all zones of the side."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A temperature not to be passed, with what it limits and where it comes from."""

    limit_degc: float
    kind: LimitKind
    source: str = ""


@dataclass(frozen=True, slots=True)
class Junction:
    """What leads from the top of a part's case to its junction.

    Parameters
    ----------
    psi_jt_k_per_w, u_psi_jt_k_per_w : float
        Junction-to-top characterisation parameter.
    power_w, u_power_w : float
        Lost in the part.
    u_assumed : bool
        Whether either uncertainty is only assumed.
    """

    psi_jt_k_per_w: float
    u_psi_jt_k_per_w: float
    power_w: float
    u_power_w: float
    u_assumed: bool = False


@dataclass(frozen=True, slots=True)
class Zone:
    """A named region of one side.

    Parameters
    ----------
    id, name, role : str
    side : {"front", "rear"}
    shape : Polygon or Circle
    exclude : tuple of Polygon or Circle
        Parts of it that do not count: screws, beads.
    height_mm : float
        Of the surface above the board.
    emissivity, u_emissivity : float
    emissivity_assumed : bool
        True where the board file states neither emissivity nor material.
    emissivity_from : {"", "contact", "tape"}
        How it was measured on this very surface, if it was.
    material, surface : str
        Notes.
    cover : {"bare", "heatsink", "obscured"}
    measures : {"case", "board", "heatsink", "other"}
        What the surface is.
    reflected_degc, u_reflected_k : float or None
        Overrides for this zone.
    limit : Limit or None
    junction : Junction or None
        Of the part whose case the zone is.
    """

    id: str
    shape: Shape
    name: str = ""
    role: str = ""
    side: Side = "front"
    exclude: tuple[Shape, ...] = ()
    height_mm: float = 0.0
    emissivity: float = DEFAULT_EMISSIVITY
    u_emissivity: float = DEFAULT_U_EMISSIVITY
    emissivity_assumed: bool = False
    emissivity_from: EmissivityFrom = ""
    material: str = ""
    surface: str = ""
    cover: Cover = "bare"
    measures: Quantity = "other"
    reflected_degc: float | None = None
    u_reflected_k: float | None = None
    limit: Limit | None = None
    junction: Junction | None = None

    @property
    def label(self) -> str:
        """What people call it: the name, or else the id."""
        return self.name or self.id

    @property
    def bare_metal(self) -> bool:
        """Whether its emissivity is that of metal and was not measured on this surface: nobody knows it then."""
        return self.emissivity < BARE_METAL_EMISSIVITY and not self.emissivity_from

    @property
    def quantities(self) -> frozenset[LimitKind]:
        """What its reading is, or gives, a temperature of: limits of these kinds can be compared with it."""
        own: tuple[LimitKind, ...] = ("surface",)
        if self.measures == "case" or self.measures == "board":
            own += (self.measures,)
        return frozenset(own if self.junction is None else (*own, "junction"))


@dataclass(frozen=True, slots=True)
class Site:
    """Where a thermocouple bead sits."""

    id: str
    x_mm: float
    y_mm: float
    side: Side = "rear"
    type: str = "K"
    tolerance_class: int | None = None
    wire_mm: float | None = None
    attachment: str = ""
    footprint_mm: float | None = None
    cover_emissivity: float | None = None


@dataclass(frozen=True, slots=True)
class Mark:
    """A point of known place that shows in the frame."""

    id: str
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class Reference:
    """A patch of known temperature in view, either a zone of the board or a disc in the frame.

    Parameters
    ----------
    id : str
    zone : str or None
        Of the board, or else:
    px : tuple of float or None
        ``(x, y, radius)`` in every frame, or in those of one side:
    side : {"front", "rear"} or None
    temperature_degc : float or None
        None where it stands in a log.
    log_column : str or None
    u_k : float
        Standard uncertainty of the temperature.
    emissivity, u_emissivity : float
    """

    id: str
    zone: str | None = None
    px: tuple[float, float, float] | None = None
    temperature_degc: float | None = None
    log_column: str | None = None
    u_k: float = DEFAULT_U_REFERENCE_K
    emissivity: float = DEFAULT_REFERENCE_EMISSIVITY
    u_emissivity: float = DEFAULT_U_REFERENCE_EMISSIVITY
    side: Side | None = None


@dataclass(frozen=True, slots=True)
class Board:
    """A board model.

    Parameters
    ----------
    name : str
    outline : Polygon
        Its bounding box starts at (0, 0).
    zones, sites, marks, references : tuple
    coating : str
        A note, compared between boards.
    thickness_mm : float or None
    """

    name: str
    outline: Polygon
    zones: tuple[Zone, ...] = ()
    sites: tuple[Site, ...] = ()
    marks: tuple[Mark, ...] = ()
    references: tuple[Reference, ...] = ()
    coating: str = ""
    thickness_mm: float | None = None

    def zones_of(self, side: Side) -> tuple[Zone, ...]:
        """Zones of one side, in the file's order."""
        return tuple(zone for zone in self.zones if zone.side == side)
