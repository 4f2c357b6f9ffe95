"""Hot parts on a flat board, and what a camera straight above receives of them: the ground of the trust scenes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Band
from irspot.radiometry.band_table import band_table

FloatArray = NDArray[np.float64]
Kind = Literal["plateau", "dome", "spread"]

SIZE_PX: Final = (208, 160)
SUPERSAMPLE: Final = 6
BAND: Final = Band()
BORDER_PX: Final = 14.0
BOARD_EMISSIVITY: Final = 0.92


@dataclass(frozen=True, slots=True)
class HotPart:
    """One hot part of a scene, in px of the frame and in kelvin.

    Parameters
    ----------
    kind : {"plateau", "dome", "spread"}
        A package with sharp edges and a nearly even top; one that is hottest in its middle; heat without an edge.
    x_px, y_px : float
        Middle.
    wide_px, high_px : float
        Sides; of heat without an edge, its full widths at half of its height.
    above_k : float
        Its hottest place above the board around it.
    shape : float
        Share of `above_k` by which a package is cooler at its edges.
    emissivity : float
        True.
    """

    kind: Kind
    x_px: float
    y_px: float
    wide_px: float
    high_px: float
    above_k: float
    shape: float
    emissivity: float

    @property
    def narrow_px(self) -> float:
        """The smaller of its two sides."""
        return min(self.wide_px, self.high_px)

    def rise_k(self, x_px: FloatArray, y_px: FloatArray) -> FloatArray:
        """Temperature above the board, at places of the frame."""
        u, v = 2.0 * (x_px - self.x_px) / self.wide_px, 2.0 * (y_px - self.y_px) / self.high_px
        if self.kind == "spread":
            return np.asarray(self.above_k * np.exp2(-(u * u + v * v)))
        hill = (1.0 - u * u) * (1.0 - v * v)
        inside = (np.abs(u) <= 1.0) & (np.abs(v) <= 1.0)
        return np.asarray(np.where(inside, self.above_k * (1.0 - self.shape + self.shape * hill), 0.0))

    def covers(self, x_px: FloatArray, y_px: FloatArray) -> NDArray[np.bool_]:
        """Where its own surface shows instead of the board's."""
        if self.kind == "spread":
            return np.zeros(np.broadcast(x_px, y_px).shape, bool)
        return np.asarray(
            (np.abs(x_px - self.x_px) <= self.wide_px / 2.0) & (np.abs(y_px - self.y_px) <= self.high_px / 2.0)
        )


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a frame of a board is taken in.

    Parameters
    ----------
    board_degc, bench_degc, reflected_degc : float
    shift_px : tuple of float
        Where the board's corner lies, from its usual place.
    even : bool
        Whether all of the board is at `board_degc`, its parts included.
    """

    board_degc: float
    bench_degc: float
    reflected_degc: float
    shift_px: tuple[float, float] = (0.0, 0.0)
    even: bool = False


def seen(parts: list[HotPart], around: Surroundings) -> FloatArray:
    """Radiance of every sample of an image: bench, board, parts.

    Returns
    -------
    ndarray, shape (rows * SUPERSAMPLE, columns * SUPERSAMPLE)
        W m⁻² sr⁻¹.
    """
    columns, rows = SIZE_PX[0] * SUPERSAMPLE, SIZE_PX[1] * SUPERSAMPLE
    x = (np.arange(columns) + 0.5) / SUPERSAMPLE - 0.5 - around.shift_px[0]
    y = (np.arange(rows) + 0.5)[:, None] / SUPERSAMPLE - 0.5 - around.shift_px[1]
    on_board = (x >= BORDER_PX) & (x <= SIZE_PX[0] - 1 - BORDER_PX)
    on_board = on_board & (y >= BORDER_PX) & (y <= SIZE_PX[1] - 1 - BORDER_PX)
    degc = np.where(on_board, around.board_degc, around.bench_degc)
    emissivity = np.full(degc.shape, BOARD_EMISSIVITY)
    for part in parts:
        if not around.even:
            degc += part.rise_k(x, y)
        emissivity[part.covers(x, y)] = part.emissivity
    table = band_table(BAND)
    reflected = float(np.asarray(table.radiance(np.array([around.reflected_degc])))[0])
    return np.asarray(emissivity * np.asarray(table.radiance(degc)) + (1.0 - emissivity) * reflected)
