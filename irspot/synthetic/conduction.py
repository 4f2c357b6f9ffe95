"""Heat in the sheet: two faces of a board that conduct along themselves, into one another and lose heat to the air."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A rectangular board as heat sees it.

    Parameters
    ----------
    width_mm, height_mm : float
    spread_w_per_k : float
        Conductivity times thickness of the whole board, k t.
    loss_w_per_m2k : float
        Heat transfer coefficient of one face, convection and radiation together.
    through_m2k_per_w : float
        Thermal resistance from face to face, per area.
    step_mm : float
        Width of a cell wished for; cells fit the board a whole number of times.
    """

    width_mm: float
    height_mm: float
    spread_w_per_k: float = 0.05
    loss_w_per_m2k: float = 12.0
    through_m2k_per_w: float = 1.5e-4
    step_mm: float = 0.5

    @property
    def cells(self) -> tuple[int, int]:
        """``(rows, columns)`` of cells."""
        return max(1, round(self.height_mm / self.step_mm)), max(1, round(self.width_mm / self.step_mm))

    @property
    def cell_mm(self) -> tuple[float, float]:
        """``(height, width)`` of a cell."""
        rows, columns = self.cells
        return self.height_mm / rows, self.width_mm / columns


def spread_power(sheet: Sheet, box_mm: tuple[float, float, float, float], power_w: float) -> FloatArray:
    """Spread a power evenly over a rectangle, each cell taking the share it overlaps.

    Parameters
    ----------
    sheet : Sheet
    box_mm : tuple of float
        ``(x0, y0, x1, y1)``, inside the board.
    power_w : float

    Returns
    -------
    ndarray, shape sheet.cells
        Heat flux, W m⁻²; row 0 is the board's lower edge.
    """
    x0, y0, x1, y1 = box_mm
    rows, columns = sheet.cells
    tall_mm, wide_mm = sheet.cell_mm
    share_y = _overlap(rows, tall_mm, y0, y1) / (y1 - y0)
    share_x = _overlap(columns, wide_mm, x0, x1) / (x1 - x0)
    return power_w * np.outer(share_y, share_x) / (tall_mm * wide_mm * 1e-6)


def _overlap(count: int, cell_mm: float, start_mm: float, end_mm: float) -> FloatArray:
    edges = cell_mm * np.arange(count + 1)
    inside: FloatArray = np.minimum(edges[1:], end_mm) - np.maximum(edges[:-1], start_mm)
    return np.maximum(inside, 0.0)


def rises(sheet: Sheet, front_w_per_m2: FloatArray, rear_w_per_m2: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Solve the two faces' steady rise over the air.

    With the faces' rises F and R, the sum S = F + R and the difference D = F - R obey, edges insulated::

        (k t / 2) ∇²S - h S + (q_front + q_rear) = 0
        (k t / 2) ∇²D - (h + 2 / r) D + (q_front - q_rear) = 0

    Both are solved exactly on the cells (second-order finite volumes) by a discrete cosine transform, which makes the
    Laplacian of insulated edges diagonal.

    Parameters
    ----------
    sheet : Sheet
    front_w_per_m2, rear_w_per_m2 : ndarray, shape sheet.cells
        Heat flux into each face.

    Returns
    -------
    front_k, rear_k : ndarray, shape sheet.cells
    """
    half = sheet.spread_w_per_k / 2.0
    both = _solve(front_w_per_m2 + rear_w_per_m2, sheet.cell_mm, half, sheet.loss_w_per_m2k)
    coupling = sheet.loss_w_per_m2k + 2.0 / sheet.through_m2k_per_w
    difference = _solve(front_w_per_m2 - rear_w_per_m2, sheet.cell_mm, half, coupling)
    return (both + difference) / 2.0, (both - difference) / 2.0


def _solve(flux: FloatArray, cell_mm: tuple[float, float], spread_w_per_k: float, loss_w_per_m2k: float) -> FloatArray:
    from scipy.fft import dctn, idctn

    damping = loss_w_per_m2k + spread_w_per_k * (
        _eigenvalues(flux.shape[0], cell_mm[0])[:, None] + _eigenvalues(flux.shape[1], cell_mm[1])[None, :]
    )
    rise: FloatArray = idctn(dctn(flux, type=2) / damping, type=2)
    return rise


def _eigenvalues(count: int, cell_mm: float) -> FloatArray:
    """Eigenvalues of the negative second difference with insulated ends, m⁻²."""
    waves = np.pi * np.arange(count) / (2.0 * count)
    return np.asarray((2.0 * np.sin(waves) / (cell_mm * 1e-3)) ** 2)
