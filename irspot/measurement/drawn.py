"""Readings with their inputs drawn one by one, beside their first-order budgets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from irspot.board import Board, Side, Zone
from irspot.camera import Band
from irspot.measurement.applied import applied_to
from irspot.measurement.monte_carlo import draw
from irspot.measurement.readings import elsewhere_zone
from irspot.results import Reading


def with_draws(readings: Sequence[Reading], board: Board, side: Side, band: Band, count: int) -> tuple[Reading, ...]:
    """Add to readings what drawing their inputs gives.

    Parameters
    ----------
    readings : sequence of Reading
        Of zones of the board and side; what has no budget stays as it is.
    board : Board
    side : {"front", "rear"}
    band : Band
        Of the camera.
    count : int
        Draws for each reading, the same ones every time.

    Returns
    -------
    tuple of Reading
    """
    zones = {zone.id: zone for zone in (*board.zones_of(side), elsewhere_zone(board, side))}
    return tuple(
        _drawn(reading, zones, band, count) if reading.budget and reading.zone in zones else reading
        for reading in readings
    )


def _drawn(reading: Reading, zones: dict[str, Zone], band: Band, count: int) -> Reading:
    # With a map each zone has the emissivity of its hottest pixel.
    applied = replace(applied_to(zones[reading.zone], reading.conditions), emissivity=reading.emissivity)
    found = draw(reading.max_degc, applied, reading.budget, band, count)
    return replace(
        reading,
        drawn_mean_degc=found.mean_degc,
        drawn_u_k=found.u_k,
        drawn_low_degc=found.low_degc,
        drawn_high_degc=found.high_degc,
    )
