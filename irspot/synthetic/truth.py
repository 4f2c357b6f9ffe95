"""The truth a measurement is judged by: the highest surface temperature of every zone, and where it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from irspot.board import ELSEWHERE, Board, Zone
from irspot.shapes import BORDER_MM, Shape
from irspot.synthetic.surface import Surface

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

COARSE_MM = 0.4
FINE_MM = 0.02


@dataclass(frozen=True, slots=True)
class ZoneTruth:
    """The hottest place of one zone.

    Parameters
    ----------
    zone : str
    max_degc : float
        True highest surface temperature.
    x_mm, y_mm : float
        Where it is, front view.
    """

    zone: str
    max_degc: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class Truth:
    """All that is known of one synthetic frame.

    Parameters
    ----------
    run, board, load, side : str
    ambient_degc, reflected_degc : float
        True ones.
    error_share : float
        The camera's true error as a share of its limit.
    corners_px : tuple of (float, float)
        Where the outline's corners truly are.
    zones : tuple of ZoneTruth
        In the board file's order, the implicit one last.
    """

    run: str
    board: str
    load: str
    side: str
    ambient_degc: float
    reflected_degc: float
    error_share: float
    corners_px: tuple[tuple[float, float], ...]
    zones: tuple[ZoneTruth, ...]


def zone_truths(board: Board, surface: Surface) -> tuple[ZoneTruth, ...]:
    """Find the true maximum of every zone of the surface's side, `elsewhere` last.

    Parameters
    ----------
    board : Board
    surface : Surface

    Returns
    -------
    tuple of ZoneTruth
    """
    zones = board.zones_of(surface.side)
    found = [_of_zone(zone, surface) for zone in zones]
    return (*found, _of_elsewhere(board, zones, surface))


def _of_zone(zone: Zone, surface: Surface) -> ZoneTruth:
    return hottest(zone.id, surface, (zone.shape,), zone.exclude)


def _of_elsewhere(board: Board, zones: tuple[Zone, ...], surface: Surface) -> ZoneTruth:
    return hottest(ELSEWHERE, surface, (board.outline,), tuple(zone.shape for zone in zones))


def hottest(zone: str, surface: Surface, inside: tuple[Shape, ...], outside: tuple[Shape, ...]) -> ZoneTruth:
    """Search shapes for the hottest place: a coarse grid, then a fine one around its best place.

    Parameters
    ----------
    zone : str
    surface : Surface
    inside, outside : tuple of Polygon or Circle
        Shapes that count, and shapes that do not.

    Returns
    -------
    ZoneTruth
    """
    x0, y0, x1, y1 = inside[0].box_mm
    x, y, _ = _best(surface, inside, outside, (x0, y0, x1, y1), COARSE_MM)
    around = (max(x0, x - COARSE_MM), max(y0, y - COARSE_MM), min(x1, x + COARSE_MM), min(y1, y + COARSE_MM))
    x, y, degc = _best(surface, inside, outside, around, FINE_MM)
    return ZoneTruth(zone, degc, x, y)


def _best(
    surface: Surface,
    inside: tuple[Shape, ...],
    outside: tuple[Shape, ...],
    box_mm: tuple[float, float, float, float],
    step_mm: float,
) -> tuple[float, float, float]:
    x0, y0, x1, y1 = box_mm
    xs = np.linspace(x0, x1, max(2, int(np.ceil((x1 - x0) / step_mm)) + 1))
    ys = np.linspace(y0, y1, max(2, int(np.ceil((y1 - y0) / step_mm)) + 1))
    degc = np.where(_counting(inside, outside, xs, ys), surface.on_grid(xs, ys), -np.inf)
    row, column = np.unravel_index(int(np.argmax(degc)), degc.shape)
    return float(xs[column]), float(ys[row]), float(degc[row, column])


def _counting(inside: tuple[Shape, ...], outside: tuple[Shape, ...], xs: FloatArray, ys: FloatArray) -> BoolArray:
    """Say which places of a grid lie in the shapes that count and in none of the others; borders belong to a shape."""
    counts = np.zeros((len(ys), len(xs)), dtype=bool)
    for shape in inside:
        window = _window(shape, xs, ys)
        counts[window] |= shape.contains(*np.meshgrid(xs[window[1]], ys[window[0]]))
    for shape in outside:
        window = _window(shape, xs, ys)
        counts[window] &= ~shape.contains(*np.meshgrid(xs[window[1]], ys[window[0]]))
    return counts


def _window(shape: Shape, xs: FloatArray, ys: FloatArray) -> tuple[slice, slice]:
    """Rows and columns of a grid that a shape can reach."""
    x0, y0, x1, y1 = shape.box_mm
    x_from, x_to = np.searchsorted(xs, [x0 - BORDER_MM, x1 + BORDER_MM])
    y_from, y_to = np.searchsorted(ys, [y0 - BORDER_MM, y1 + BORDER_MM])
    return slice(int(y_from), int(y_to)), slice(int(x_from), int(x_to))
