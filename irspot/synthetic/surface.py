"""The surface truth: how hot each place of a face or a body is, as a function of board millimetres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from irspot.board import Side
from irspot.shapes import Circle, Shape
from irspot.synthetic.conduction import rises, spread_power
from irspot.synthetic.parts import Part, SyntheticBoard

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """Values at the centres of a face's cells, linear between them and constant beyond the outermost.

    Parameters
    ----------
    values : ndarray, shape (rows, columns)
        Row 0 is the lower edge.
    cell_mm : tuple of float
        ``(height, width)`` of a cell.
    """

    values: FloatArray
    cell_mm: tuple[float, float]

    def at(self, x_mm: ArrayLike, y_mm: ArrayLike) -> FloatArray:
        """Interpolate bilinearly.

        Parameters
        ----------
        x_mm, y_mm : array_like, any one shape

        Returns
        -------
        ndarray, that shape
        """
        rows, columns = self.values.shape
        row, down = _cell_and_share(np.asarray(y_mm, np.float64) / self.cell_mm[0] - 0.5, rows)
        column, right = _cell_and_share(np.asarray(x_mm, np.float64) / self.cell_mm[1] - 0.5, columns)
        flat = self.values.ravel()
        first = row * columns + column
        low = flat[first] * (1.0 - right) + flat[first + 1] * right
        high = flat[first + columns] * (1.0 - right) + flat[first + columns + 1] * right
        return np.asarray(low * (1.0 - down) + high * down)


def _cell_and_share(position: FloatArray, count: int) -> tuple[NDArray[np.intp], FloatArray]:
    inside = np.clip(position, 0.0, count - 1.0)
    cell = np.minimum(inside.astype(np.intp), count - 2)
    return cell, inside - cell


@dataclass(frozen=True, slots=True)
class Body:
    """A part under one load: how hot its surface is.

    Parameters
    ----------
    part : Part
    level_degc : float
        Of its surface without its own hot spot.
    spot_k : float
        Rise of the hot spot.
    """

    part: Part
    level_degc: float
    spot_k: float

    def degc(self, x_mm: ArrayLike, y_mm: ArrayLike) -> FloatArray:
        """Surface temperature at places on the body."""
        return self.level_degc + self.spot_k * profile(self.part, x_mm, y_mm)


def profile(part: Part, x_mm: ArrayLike, y_mm: ArrayLike) -> FloatArray:
    """Shape of the temperature over a body: 1 at the hot spot, a Gaussian hill down to ``edge_share``.

    The hill's standard deviation is 0.35 of the bounding box in each direction.
    """
    x0, y0, x1, y1 = part.shape.box_mm
    across = (np.asarray(x_mm, np.float64) - x0) / (x1 - x0) - part.hot_at[0]
    along = (np.asarray(y_mm, np.float64) - y0) / (y1 - y0) - part.hot_at[1]
    hill = np.exp(-(across**2 + along**2) / (2.0 * 0.35**2))
    return np.asarray(part.edge_share + (1.0 - part.edge_share) * hill)


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """One side of a board under one load.

    Parameters
    ----------
    side : {"front", "rear"}
    ambient_degc : float
    face : Field
        Temperature of the bare face, °C.
    bodies : tuple of Body
        On this side, lowest first.
    """

    side: Side
    ambient_degc: float
    face: Field
    bodies: tuple[Body, ...]

    def on_grid(self, xs_mm: FloatArray, ys_mm: FloatArray) -> FloatArray:
        """Temperature of what is uppermost, seen straight from above, on a grid of places of the board.

        Parameters
        ----------
        xs_mm, ys_mm : ndarray, shapes (columns,) and (rows,)
            Ascending.

        Returns
        -------
        ndarray, shape (rows, columns)
        """
        x, y = np.meshgrid(xs_mm, ys_mm)
        temperature = self.face.at(x, y)
        for body in self.bodies:
            x0, y0, x1, y1 = body.part.shape.box_mm
            columns = slice(*np.searchsorted(xs_mm, [x0, np.nextafter(x1, np.inf)]))
            rows = slice(*np.searchsorted(ys_mm, [y0, np.nextafter(y1, np.inf)]))
            at = x[rows, columns], y[rows, columns]
            temperature[rows, columns] = np.where(
                covers(body.part.shape, *at), body.degc(*at), temperature[rows, columns]
            )
        return temperature


def covers(shape: Shape, x_mm: FloatArray, y_mm: FloatArray) -> BoolArray:
    """Say which places a body covers: its disc, or its bounding box."""
    if isinstance(shape, Circle):
        return shape.contains(x_mm, y_mm)
    x0, y0, x1, y1 = shape.box_mm
    return np.asarray((x_mm >= x0) & (x_mm <= x1) & (y_mm >= y0) & (y_mm <= y1))


def face_rises(board: SyntheticBoard, load: str) -> dict[Side, Field]:
    """Solve the rise of both faces over ambient under one load.

    Parameters
    ----------
    board : SyntheticBoard
    load : str

    Returns
    -------
    dict
        Side → field of the rise, K.
    """
    sheet = board.sheet
    flux: dict[Side, FloatArray] = {"front": np.zeros(sheet.cells), "rear": np.zeros(sheet.cells)}
    for part in board.parts:
        power_w = part.power(load) * part.into_board
        if power_w != 0.0:
            flux[part.side] += spread_power(sheet, part.shape.box_mm, power_w)
    front, rear = rises(sheet, flux["front"], flux["rear"])
    return {"front": Field(front, sheet.cell_mm), "rear": Field(rear, sheet.cell_mm)}


def surface_of(board: SyntheticBoard, rise: Field, load: str, side: Side, ambient_degc: float) -> Surface:
    """Put the bodies of one side on its face.

    Parameters
    ----------
    board : SyntheticBoard
    rise : Field
        Of this side's face, from `face_rises`.
    load : str
    side : {"front", "rear"}
    ambient_degc : float

    Returns
    -------
    Surface
    """
    on_side = sorted((part for part in board.parts if part.side == side), key=lambda part: part.height_mm)
    bodies = tuple(body_of(part, rise, load, ambient_degc) for part in on_side)
    return Surface(side, ambient_degc, Field(rise.values + ambient_degc, rise.cell_mm), bodies)


def body_of(part: Part, rise: Field, load: str, ambient_degc: float) -> Body:
    """Find how hot a part's surface is under one load."""
    level = ambient_degc + part.own_rise_k + part.follow * mean_under(part.shape, rise)
    return Body(part, level, part.power(load) * part.k_per_w)


def lone_body(part: Part, load: str, ambient_degc: float) -> Body:
    """Find how hot a part is that stands beside the board."""
    return Body(part, ambient_degc + part.own_rise_k, part.power(load) * part.k_per_w)


def mean_under(shape: Shape, rise: Field) -> float:
    """Mean rise of the face under a body, over a grid of at most 0.5 mm."""
    x0, y0, x1, y1 = shape.box_mm
    xs = x0 + (x1 - x0) * _middles(x1 - x0)
    ys = y0 + (y1 - y0) * _middles(y1 - y0)
    return float(np.mean(rise.at(*np.meshgrid(xs, ys))))


def _middles(length_mm: float) -> FloatArray:
    count = max(4, int(np.ceil(length_mm / 0.5)))
    return (np.arange(count) + 0.5) / count
