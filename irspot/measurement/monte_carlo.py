"""The distribution of a reading by drawing every input (JCGM 101:2008): a check on the first-order budget."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Band
from irspot.constants import RECTANGULAR
from irspot.measurement.applied import Applied, sensitivities_of
from irspot.radiometry import surface_temperature
from irspot.uncertain import ActsOn, Term

FloatArray = NDArray[np.float64]

_COVERED: Final = 0.95


@dataclass(frozen=True, slots=True)
class Drawn:
    """What drawing the inputs gives.

    Parameters
    ----------
    mean_degc, u_k : float
        Mean and standard deviation.
    low_degc, high_degc : float
        Ends of the probabilistically symmetric 95 % interval (JCGM 101:2008, 7.7).
    impossible : float
        Share of draws that no surface can explain; they are left out.
    """

    mean_degc: float
    u_k: float
    low_degc: float
    high_degc: float
    impossible: float


def draw(maximum_degc: float, applied: Applied, budget: Sequence[Term], band: Band, count: int, seed: int = 0) -> Drawn:
    """Draw a surface temperature many times.

    Parameters
    ----------
    maximum_degc : float
        Best estimate of the surface temperature.
    applied : Applied
        With which it was found.
    budget : sequence of Term
        Every input's uncertainty: normal, or a rectangular bound.
    band : Band
    count : int
        Draws; the ends of the interval need some 100,000 to be good to a hundredth.
    seed : int

    Returns
    -------
    Drawn
        NaN where less than half of the draws can be.
    """
    random = np.random.default_rng(seed)
    radiance_degc = applied.seen(maximum_degc, band)
    per_kelvin = float(sensitivities_of([applied], [radiance_degc], band).to_radiance_temperature[0])
    errors: dict[ActsOn, FloatArray] = {}
    for term in budget:
        size = term.u_k / per_kelvin if term.acts_on == "radiance" else term.u_input
        errors[term.acts_on] = errors.get(term.acts_on, np.zeros(count)) + size * _spread(random, term, count)
    values = surface_temperature(
        radiance_degc + errors.get("radiance", np.zeros(count)),
        emissivity=_share(applied.emissivity, errors.get("emissivity")),
        reflected_degc=applied.reflected_degc + errors.get("reflected", np.zeros(count)),
        transmission=_share(applied.transmission, errors.get("transmission")),
        window_degc=applied.window_degc + errors.get("window", np.zeros(count)),
        band=band,
    )
    return _summary(np.asarray(values, np.float64))


def _spread(random: np.random.Generator, term: Term, count: int) -> FloatArray:
    """Draw an error of standard deviation 1 of a term's distribution."""
    if term.rectangular:
        return random.uniform(-RECTANGULAR, RECTANGULAR, count)
    return random.standard_normal(count)


def _share(value: float, errors: FloatArray | None) -> FloatArray:
    # No surface has more than 1; what is drawn at 0 or below no model explains, and it is left out.
    return np.minimum(value + (np.zeros(1) if errors is None else errors), 1.0)


def _summary(values: FloatArray) -> Drawn:
    possible = values[np.isfinite(values)]
    impossible = 1.0 - len(possible) / len(values)
    if impossible > 0.5:
        nan = float("nan")
        return Drawn(nan, nan, nan, nan, impossible)
    tail = (1.0 - _COVERED) / 2.0
    low, high = np.quantile(possible, (tail, 1.0 - tail))
    return Drawn(float(possible.mean()), float(possible.std(ddof=1)), float(low), float(high), impossible)
