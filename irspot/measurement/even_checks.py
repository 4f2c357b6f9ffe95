"""What makes a frame of the evenly warm board no ground for an emissivity map, each with its reason."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.constants import EVEN_CONTRAST_K
from irspot.errors import MapRefused
from irspot.even_frame import EvenConditions
from irspot.frame import Frame
from irspot.measurement.geometry import zone_pixels
from irspot.radiometry import band_table, range_degc
from irspot.registration.placement import Placement

F32 = NDArray[np.float32]
FloatArray = NDArray[np.float64]

_HOTTER_U: Final = 4.0
_HOTTER_SHARE: Final = 0.02
"""Share of the board that may seem warmer than stated, by so many standard uncertainties: a sticker, a burr."""
_DULL: Final = 0.7
"""Mask, plastics and paints lie above; only these tell whether a board is evenly warm."""
_BLOCKS: Final = 8
_FEWEST: Final = 16
_UNEVEN_K: Final = 3.0
_UNEVEN_U: Final = 4.0
"""How far the board may seem to go from warm to cool, the larger of both: dull surfaces differ by three per cent, and
do so by chance, not from one side of a board to the other."""


def refuse_cold(frame: Frame, taken: EvenConditions) -> None:
    """Refuse a board that is not warm enough, or beyond what the camera is good for.

    Raises
    ------
    MapRefused
    """
    contrast_k = taken.temperature_degc - taken.reflected_degc
    if not contrast_k >= EVEN_CONTRAST_K:
        raise MapRefused(
            "the even board was too near to the reflected temperature to tell emissivities",
            file=frame.name,
            key="temperature_degc",
            found=f"{taken.temperature_degc:g} °C before {taken.reflected_degc:g} °C",
            wanted=f"at least {EVEN_CONTRAST_K:g} K above",
            hint="hold the board warmer",
        )
    span = range_degc(frame.camera)
    if span is not None and not span[0] <= taken.temperature_degc <= span[1]:
        raise MapRefused(
            "the even board's temperature is out of the camera's range",
            file=frame.name,
            key="temperature_degc",
            found=f"{taken.temperature_degc:g} °C",
            wanted=f"{span[0]:g} to {span[1]:g} °C",
            hint="take it in another range",
        )


def refuse_hotter(emissivity: F32, u: float, board: Board, placement: Placement, name: str) -> None:
    """Refuse a frame in which much of the board sends more than a black body of its temperature would.

    Raises
    ------
    MapRefused
    """
    values = emissivity[_on_board(board, placement, emissivity.shape)]
    values = values[np.isfinite(values)]
    if not values.size:
        raise MapRefused("the even frame shows nothing of the board that could be read", file=name)
    share = float(np.mean(values > 1.0 + _HOTTER_U * u))
    if share > _HOTTER_SHARE:
        raise MapRefused(
            "the board sends more than a black body of the stated temperature would",
            file=name,
            key="temperature_degc",
            found=f"{100.0 * share:.0f} % of it",
            hint="check temperature_degc and reflected_degc, and that the board was unpowered and evenly warm",
        )


def refuse_uneven(emissivity: F32, board: Board, placement: Placement, taken: EvenConditions, frame: Frame) -> None:
    """Refuse a board that seems to get warmer from one part to another.

    What differs from place to place may be emissivity as well, so that only what changes smoothly over the whole board
    counts: a second-order surface through the medians of its dull parts.

    Raises
    ------
    MapRefused
    """
    places, medians = _dull_blocks(emissivity, board, placement)
    if len(medians) < _FEWEST:
        return
    trend_k = _trend(places, medians) * _kelvin_per_share(taken, frame)
    if trend_k > max(_UNEVEN_K, _UNEVEN_U * taken.u_k):
        raise MapRefused(
            "the board does not seem to be evenly warm",
            file=frame.name,
            found=f"{trend_k:.1f} K from one part to another, if its surface is the same all over",
            wanted=f"up to {max(_UNEVEN_K, _UNEVEN_U * taken.u_k):.1f} K",
            hint="hold it in still, even warmth for longer, or state a larger u_k",
        )


def _on_board(board: Board, placement: Placement, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    mask = np.zeros(shape, bool)
    where = zone_pixels(board.outline, (), placement)
    mask[where.slices] = where.mask
    return mask


def _dull_blocks(emissivity: F32, board: Board, placement: Placement) -> tuple[FloatArray, FloatArray]:
    """Give medians of dull surfaces over a grid of the board, and where they are, from -1 to 1."""
    rows, columns = np.nonzero(_on_board(board, placement, emissivity.shape) & (emissivity > _DULL))
    if not len(rows):
        return np.empty((0, 2)), np.empty(0)
    x, y = _unit(columns), _unit(rows)
    block = (np.minimum((y + 1.0) / 2.0 * _BLOCKS, _BLOCKS - 1).astype(int)) * _BLOCKS
    block += np.minimum((x + 1.0) / 2.0 * _BLOCKS, _BLOCKS - 1).astype(int)
    values = emissivity[rows, columns]
    order = np.argsort(block, kind="stable")
    parts = np.split(order, np.flatnonzero(np.diff(block[order])) + 1)
    parts = [part for part in parts if len(part) >= _FEWEST]
    places = np.array([[x[part].mean(), y[part].mean()] for part in parts]).reshape(-1, 2)
    return places, np.array([float(np.median(values[part])) for part in parts])


def _unit(values: NDArray[Any]) -> FloatArray:
    low, high = float(values.min()), float(values.max())
    return np.asarray(2.0 * (values - low) / max(high - low, 1.0) - 1.0, np.float64)


def _trend(places: FloatArray, medians: FloatArray) -> float:
    """How far a smooth surface through medians goes from lowest to highest, as a share of their median."""
    x, y = places.T
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)
    weights = np.ones(len(medians))
    for _ in range(5):
        # Reweighting by residuals keeps single blocks of another material from bending the surface.
        fit = terms @ np.linalg.lstsq(terms * weights[:, None], medians * weights, rcond=None)[0]
        residual = np.abs(medians - fit)
        weights = 1.0 / np.sqrt(1.0 + (residual / max(1.5 * float(np.median(residual)), 1e-4)) ** 2)
    low, high = np.quantile(fit, (0.02, 0.98))
    return float((high - low) / np.median(medians))


def _kelvin_per_share(taken: EvenConditions, frame: Frame) -> float:
    """By how many kelvin a surface would differ whose emissivity seems to differ by its own size."""
    table = band_table(frame.camera.band)
    contrast = float(table.radiance(taken.temperature_degc) - table.radiance(taken.reflected_degc))
    return contrast / float(table.slope(taken.temperature_degc))
