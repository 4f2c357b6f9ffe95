"""How a frame of the evenly warm, unpowered board was taken: what an emissivity map is made from."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from irspot.constants import DEFAULT_U_EVEN_K, DEFAULT_U_REFLECTED_K
from irspot.placing import HowToPlace, ImageSide


@dataclass(frozen=True, slots=True)
class EvenConditions:
    """The conditions an even frame was taken under.

    Parameters
    ----------
    temperature_degc, u_k : float
        Of the whole board, by a thermometer; unevenness is part of the uncertainty.
    reflected_degc, u_reflected_k : float
        Reflected temperature then.
    transmission, window_degc : float
        Of window and path, as in `irspot.conditions.Conditions`.
    same_session : bool
        Whether the camera's error is the same in the frames that are measured by the map.
    """

    temperature_degc: float
    u_k: float = DEFAULT_U_EVEN_K
    reflected_degc: float = 23.0
    u_reflected_k: float = DEFAULT_U_REFLECTED_K
    transmission: float = 1.0
    window_degc: float = 20.0
    same_session: bool = False


@dataclass(frozen=True, slots=True)
class EvenFrame:
    """The even frame of a run, as its study describes it.

    Parameters
    ----------
    file : Path
    conditions : EvenConditions
    how : CornersPx, PointsPx, AutoPlacement or None
        How the board is placed in it; None for the run's own way.
    top : str or None
        Image side the board's top faces in it.
    key : str
        The place in the study that names it, for messages.
    """

    file: Path
    conditions: EvenConditions
    how: HowToPlace | None = None
    top: ImageSide | None = None
    key: str = "emissivity_map"
