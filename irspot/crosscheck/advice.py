"""Where a bead should sit: the hottest place of its zone against its own, and the best places over all loads."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Site, Zone
from irspot.conditions import Conditions
from irspot.crosscheck.at_bead import ImageAtBead, zone_at
from irspot.frame import Frame
from irspot.measurement import surface_map
from irspot.measurement.geometry import placement_of
from irspot.registration.placement import Placement
from irspot.results import Reading

FloatArray = NDArray[np.floating[Any]]

GRID_MM: Final = 0.5
_WORTH_K: Final = 0.1
"""What one more bead has to gain under some load."""
_EXCHANGES: Final = 10
BEAD_MM: Final = 1.5
"""What a bead with its adhesive takes the mean of: places are chosen by the mean over so wide a disc (our choice)."""


@dataclass(frozen=True, slots=True)
class HotPlace:
    """The hottest place of a zone, seen from a bead.

    Parameters
    ----------
    zone : str
    distance_mm, dx_mm, dy_mm : float
        From the bead to it, on the board: x right and y up in the front view.
    gain_k : float
        How much higher the surface is there than at the bead.
    sentence : str
        The advice in words.
    """

    zone: str
    distance_mm: float
    dx_mm: float
    dy_mm: float
    gain_k: float
    sentence: str


def hot_place(board: Board, readings: Sequence[Reading], site: Site, image: ImageAtBead) -> HotPlace | None:
    """Say where the hottest place of the zone that a bead sits in, or under, is.

    Parameters
    ----------
    board : Board
    readings : sequence of Reading
        Of the side that the camera sees, in the frame `image` is from.
    site : Site
        On either side: rear beads are paired with front zones by board mm.
    image : ImageAtBead

    Returns
    -------
    HotPlace or None
        None where the zone's reading is to be retaken or has no hottest place, or the image no value at the bead.
    """
    reading = next((each for each in readings if each.zone == image.zone), None)
    if reading is None or reading.verdict == "retake":
        return None
    if not all(map(math.isfinite, (reading.hot_x_mm, reading.hot_y_mm, reading.max_degc))):
        return None
    dx_mm, dy_mm = reading.hot_x_mm - site.x_mm, reading.hot_y_mm - site.y_mm
    distance_mm, gain_k = math.hypot(dx_mm, dy_mm), reading.max_degc - image.degc
    if not math.isfinite(gain_k):
        return None
    sentence = f"{reading.zone_name}: {_where(dx_mm, dy_mm)} it is {gain_k:.1f} K hotter than at the bead"
    return HotPlace(image.zone, distance_mm, dx_mm, dy_mm, gain_k, sentence)


def _where(dx_mm: float, dy_mm: float) -> str:
    """Name a direction as the front view has it."""
    across = f"{abs(dx_mm):.1f} mm to the {'right' if dx_mm > 0.0 else 'left'}"
    along = f"{abs(dy_mm):.1f} mm {'up' if dy_mm > 0.0 else 'down'}"
    return f"{across} and {along} (front view)"


@dataclass(frozen=True, slots=True, eq=False)
class ZoneGrid:
    """A zone's surface on a grid of board mm, under one load.

    Parameters
    ----------
    zone : str
    x_mm, y_mm : ndarray, shape (n,)
        Places inside the zone; the same for every load.
    degc : ndarray, shape (n,)
        Means over what a bead touches; NaN where the frame does not tell.
    """

    zone: str
    x_mm: FloatArray
    y_mm: FloatArray
    degc: FloatArray


@dataclass(frozen=True, slots=True)
class BestPlace:
    """A place for a bead.

    Parameters
    ----------
    zone : str
    x_mm, y_mm : float
    worst_shortfall_k : float
        With this and the beads before it: how far the hottest of them is below the hottest place, under the worst load.
    """

    zone: str
    x_mm: float
    y_mm: float
    worst_shortfall_k: float


def zone_grid(
    frame: Frame, board: Board, placement: Placement, conditions: Conditions, zone: Zone, step_mm: float = GRID_MM
) -> ZoneGrid:
    """Read a zone's surface on a grid of board mm.

    Parameters
    ----------
    frame : Frame
    board : Board
    placement : Placement
    conditions : Conditions
    zone : Zone
        Of the side seen.
    step_mm : float

    Returns
    -------
    ZoneGrid
    """
    x_mm, y_mm = _places(zone, step_mm)
    surface = surface_map(frame, board, placement, conditions)
    view = placement_of(zone, placement)
    offsets = _touched(step_mm)
    px = view.to_px((np.column_stack([x_mm, y_mm])[:, None, :] + offsets[None]).reshape(-1, 2))
    degc = _between_pixels(surface, px).reshape(len(x_mm), len(offsets)).mean(axis=1)
    return ZoneGrid(zone.id, x_mm, y_mm, degc)


def grids_of_role(
    frame: Frame, board: Board, placement: Placement, conditions: Conditions, role: str
) -> tuple[ZoneGrid, ...]:
    """Read all zones of a role on the side seen."""
    zones = (zone for zone in board.zones_of(placement.side) if zone.role == role)
    return tuple(zone_grid(frame, board, placement, conditions, zone) for zone in zones)


def best_places(loads: Sequence[Sequence[ZoneGrid]], count: int = 1) -> tuple[BestPlace, ...]:
    """Choose places for beads so that under every load one of them is near the hottest place.

    Parameters
    ----------
    loads : sequence of sequence of ZoneGrid
        Of each load the grids of the same zones, in the same order.
    count : int
        How many beads.

    Returns
    -------
    tuple of BestPlace
        Chosen one after the other and then each again beside the others. Fewer where nothing is gained by more, none
        where no place is known under all loads.

    Raises
    ------
    ValueError
        If the grids of the loads do not fit.

    Notes
    -----
    Minimises ``max over loads (T_max - max over beads T)``, T_max the hottest place of all the grids of a load.
    """
    names, x_mm, y_mm, degc = _joined(loads)
    if not np.isfinite(degc).all(axis=0).any():
        return ()
    short = np.nanmax(degc, axis=1, initial=-np.inf, where=np.isfinite(degc))[:, None] - degc
    short[:, ~np.isfinite(degc).all(axis=0)] = np.inf
    chosen = _exchanged(short, _greedy(short, count))
    worst = [float(short[:, chosen[: n + 1]].min(axis=1).max()) for n in range(len(chosen))]
    return tuple(
        BestPlace(names[at], float(x_mm[at]), float(y_mm[at]), worst_k)
        for at, worst_k in zip(chosen, worst, strict=True)
    )


def _greedy(short: FloatArray, count: int) -> list[int]:
    """Add places one by one as long as one more is worth having under any load."""
    chosen: list[int] = []
    left = np.full(len(short), np.inf)
    for _ in range(count):
        at = _best_beside(short, left)
        if chosen and float((left - np.minimum(left, short[:, at])).max()) < _WORTH_K:
            break
        left = np.minimum(left, short[:, at])
        chosen.append(at)
    return chosen


def _exchanged(short: FloatArray, chosen: list[int]) -> list[int]:
    """Choose each place again beside the others until nothing changes: the first of two is no longer a compromise."""
    for _ in range(_EXCHANGES):
        before = list(chosen)
        for n in range(len(chosen)):
            others = short[:, chosen[:n] + chosen[n + 1 :]]
            chosen[n] = _best_beside(short, others.min(axis=1, initial=np.inf))
        if chosen == before:
            break
    return chosen


def _best_beside(short: FloatArray, left: FloatArray) -> int:
    """Find the place that leaves the least under the worst load, and of equally good ones the least under all."""
    now = np.minimum(short, left[:, None])
    # A place that is not known under every load may not be chosen for what others leave there.
    now[:, np.isinf(short).any(axis=0)] = np.inf
    return int(np.lexsort((now.sum(axis=0), now.max(axis=0)))[0])


def moved(site: Site, place: BestPlace) -> Site:
    """Give a site at another place."""
    return replace(site, x_mm=place.x_mm, y_mm=place.y_mm)


def zone_of_site(board: Board, placement: Placement, site: Site) -> Zone:
    """Give the zone of the side seen that a bead sits in, or under."""
    return zone_at(board, placement.side, site.x_mm, site.y_mm)


def _joined(loads: Sequence[Sequence[ZoneGrid]]) -> tuple[list[str], FloatArray, FloatArray, FloatArray]:
    if not loads or not loads[0]:
        return [], np.empty(0), np.empty(0), np.empty((len(loads), 0))
    for grids in loads:
        same = [(grid.zone, grid.x_mm.size) for grid in grids] == [(grid.zone, grid.x_mm.size) for grid in loads[0]]
        if not same:
            raise ValueError("the loads have grids of different zones")
    names = [grid.zone for grid in loads[0] for _ in range(grid.x_mm.size)]
    x_mm, y_mm = (np.concatenate([getattr(grid, axis) for grid in loads[0]]) for axis in ("x_mm", "y_mm"))
    return names, x_mm, y_mm, np.stack([np.concatenate([grid.degc for grid in grids]) for grids in loads])


def _places(zone: Zone, step_mm: float) -> tuple[FloatArray, FloatArray]:
    x0, y0, x1, y1 = zone.shape.box_mm
    axes = (
        low + step_mm * (np.arange(max(1, int((high - low) / step_mm))) + 0.5) for low, high in ((x0, x1), (y0, y1))
    )
    x_mm, y_mm = (each.ravel() for each in np.meshgrid(*axes))
    inside = zone.shape.contains(x_mm, y_mm)
    for part in zone.exclude:
        inside &= ~part.contains(x_mm, y_mm)
    return x_mm[inside], y_mm[inside]


def _touched(step_mm: float) -> FloatArray:
    """Offsets of a disc as wide as a bead, at no more than half a step."""
    reach = BEAD_MM / 2.0
    axis = np.linspace(-reach, reach, max(3, 2 * math.ceil(reach / step_mm) + 1))
    dx, dy = (each.ravel() for each in np.meshgrid(axis, axis))
    held = dx * dx + dy * dy <= reach * reach + 1e-9
    return np.column_stack([dx[held], dy[held]])


def _between_pixels(surface: NDArray[np.float32], px: FloatArray) -> FloatArray:
    """Read a map between its pixels, linearly: for choosing places only, never for a value in a table."""
    rows, columns = surface.shape
    x, y = (
        np.clip(np.nan_to_num(px[:, 0], nan=-9.0), -9.0, columns + 9.0),
        np.clip(np.nan_to_num(px[:, 1], nan=-9.0), -9.0, rows + 9.0),
    )
    out = (x < 0.0) | (y < 0.0) | (x > columns - 1.0) | (y > rows - 1.0)
    x0 = np.clip(np.floor(x).astype(int), 0, max(columns - 2, 0))
    y0 = np.clip(np.floor(y).astype(int), 0, max(rows - 2, 0))
    fx, fy = x - x0, y - y0
    top = surface[y0, x0] * (1.0 - fx) + surface[y0, x0 + 1] * fx
    low = surface[y0 + 1, x0] * (1.0 - fx) + surface[y0 + 1, x0 + 1] * fx
    return np.where(out, np.nan, top * (1.0 - fy) + low * fy)
