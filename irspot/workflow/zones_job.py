"""What zones are to be made of, and how."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from irspot.board import Side
from irspot.layout.packages import SizeRules
from irspot.layout.placing import Corner, Rear
from irspot.layout.roles import RoleRules
from irspot.workflow.zone_ground import GroundWish

NamedPoint = tuple[str, float, float]


@dataclass(frozen=True, slots=True)
class ZonesJob:
    """What to make zones of, and how.

    Parameters
    ----------
    list_file : Path
    ground : GroundWish
    unit : str
        Declared, of numbers that state none.
    list_side : {"front", "rear"}
        Of a list without sides.
    rear : {"as-listed", "mirrored", "negated"} or None
        How the list gives parts of the rear.
    origin : str, tuple or None
        Where the list counts from: a corner of the outline, a place on the board, ``"drawing"`` (as the outline's
        file does); None for the drawing, or else the lower-left corner.
    points : tuple of (str, float, float)
        Designators and their places on the board, mm seen from the front.
    only, leave_out : tuple of str
        Patterns of designators.
    side : {"front", "rear"} or None
        Parts of this side only.
    sizes : SizeRules
    roles : RoleRules
    material : str
        Of all parts; none where empty.
    number_duplicates : bool
        Whether a designator that stands again gets a number, or is an error.
    replace : bool
        Whether zones of the same id are replaced, or are an error.
    """

    list_file: Path
    ground: GroundWish
    unit: str = ""
    list_side: Side = "front"
    rear: Rear | None = None
    origin: Corner | tuple[float, float] | None = None
    points: tuple[NamedPoint, ...] = ()
    only: tuple[str, ...] = ()
    leave_out: tuple[str, ...] = ()
    side: Side | None = None
    sizes: SizeRules = field(default_factory=SizeRules)
    roles: RoleRules = field(default_factory=RoleRules)
    material: str = ""
    number_duplicates: bool = False
    replace: bool = False
