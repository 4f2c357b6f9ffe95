"""Bare metal that may mirror something hotter than itself: then what it shows bounds nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from irspot.constants import COVERAGE_FACTOR
from irspot.flags import sorted_flags, verdict_of
from irspot.measurement.applied import Applied
from irspot.measurement.geometry import ZonePixels
from irspot.measurement.pixels import Pixels
from irspot.results import NAN, Reading


def without_mirrored(
    readings: Sequence[Reading], places: Sequence[ZonePixels], applied: Sequence[Applied], pixels: Pixels
) -> tuple[Reading, ...]:
    """Take the number from readings of bare metal in which something hotter may be mirrored.

    Metal at 60 °C that mirrors 100 °C reads over 90 °C. What is hotter is sought in the frame outside the zone, and in
    what is declared to be reflected.

    Parameters
    ----------
    readings : sequence of Reading
    places : sequence of ZonePixels
        Of each.
    applied : sequence of Applied
        To each.
    pixels : Pixels
        Of the frame.
    """
    return tuple(
        _without(reading) if how.bound and _hotter(reading, where, how, pixels) else reading
        for reading, where, how in zip(readings, places, applied, strict=True)
    )


def _hotter(reading: Reading, where: ZonePixels, applied: Applied, pixels: Pixels) -> bool:
    outside = pixels.sound.copy()
    outside[where.slices] &= ~where.mask
    hottest = float(np.max(pixels.radiance_degc, where=outside, initial=-np.inf))
    declared = applied.reflected_degc + COVERAGE_FACTOR * applied.u_reflected_k
    return max(hottest, declared) > reading.bound_degc


def _without(reading: Reading) -> Reading:
    names = sorted_flags((*reading.flags, "mirrors-hotter"))
    return replace(
        reading,
        flags=names,
        verdict=verdict_of(names),
        max_degc=NAN,
        U_max_k=NAN,
        rise_k=NAN,
        U_rise_k=NAN,
        budget=(),
        advice="",
    )
