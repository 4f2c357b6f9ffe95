"""What stands on a synthetic board and around it: bodies with powers, cables, and the board itself."""

from __future__ import annotations

from dataclasses import dataclass

from irspot.board import Board, Side
from irspot.shapes import Shape
from irspot.synthetic.conduction import Sheet


@dataclass(frozen=True, slots=True)
class Part:
    """A body: a box, or an upright cylinder where the shape is a circle.

    Its surface stands at ``ambient + follow * (board under it - ambient) + own_rise_k + power * k_per_w * profile``,
    with a profile that is 1 at the hot spot and falls smoothly to `edge_share`.

    Parameters
    ----------
    id : str
    shape : Polygon or Circle
        A polygon stands for its bounding box.
    height_mm : float
        Of the top above the face it stands on.
    emissivity : float
        True emissivity of its surface.
    side : {"front", "rear"}
    power_w : tuple of (str, float)
        Power by load id; a load that is not named has none.
    into_board : float
        Share of the power that goes into the board; the rest leaves to the air or a cooler.
    k_per_w : float
        Rise of the hot spot over the body's own level, per watt of the whole power.
    hot_at : tuple of float
        Place of the hot spot as shares of the bounding box, from its lower left.
    edge_share : float
    follow : float
        How far the surface follows the board beneath: 1 for a flat part, less for a tall passive body.
    own_rise_k : float
        For bodies heated by something outside the scene.
    """

    id: str
    shape: Shape
    height_mm: float
    emissivity: float
    side: Side = "front"
    power_w: tuple[tuple[str, float], ...] = ()
    into_board: float = 1.0
    k_per_w: float = 0.0
    hot_at: tuple[float, float] = (0.5, 0.5)
    edge_share: float = 0.6
    follow: float = 1.0
    own_rise_k: float = 0.0

    def power(self, load: str) -> float:
        """Power under a load, in W."""
        return dict(self.power_w).get(load, 0.0)


@dataclass(frozen=True, slots=True)
class Patch:
    """A flat place of another emissivity on a face: bare pads, a ring of copper, a row of solder joints."""

    shape: Shape
    emissivity: float
    side: Side = "front"


@dataclass(frozen=True, slots=True)
class Cable:
    """A cable or a hose through points of the view plane.

    Parameters
    ----------
    points_mm : tuple of (float, float)
    radius_mm, height_mm : float
        Height of its upper surface above the face seen; negative for one that lies on the bench.
    rise_k : float
        Over ambient.
    emissivity : float
    """

    points_mm: tuple[tuple[float, float], ...]
    radius_mm: float
    height_mm: float
    rise_k: float
    emissivity: float = 0.94


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the camera sees beside the board.

    Parameters
    ----------
    objects : tuple of Part
        Boxes outside the outline, in board coordinates seen from the front.
    cables : tuple of Cable
    bench_mm : float
        Height of the bench relative to the face seen (negative: beneath).
    bench_emissivity : float
    glow_k : float
        How much warmer the bench is at the board's edge than far away.
    """

    objects: tuple[Part, ...] = ()
    cables: tuple[Cable, ...] = ()
    bench_mm: float = -18.0
    bench_emissivity: float = 0.93
    glow_k: float = 4.0


@dataclass(frozen=True, slots=True)
class SyntheticBoard:
    """An invented board: the model its board file states, and what is truly there.

    Parameters
    ----------
    board : Board
        As the board file states it; a rectangle.
    sheet : Sheet
    parts : tuple of Part
    patches : tuple of Patch
    mask_emissivity : float
        True emissivity of the bare board.
    """

    board: Board
    sheet: Sheet
    parts: tuple[Part, ...] = ()
    patches: tuple[Patch, ...] = ()
    mask_emissivity: float = 0.92
