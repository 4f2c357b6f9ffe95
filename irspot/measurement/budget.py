"""The budget of a zone's maximum: what each input's uncertainty does to it, to first order (JCGM 100:2008, 5.1)."""

from __future__ import annotations

from irspot.camera import Accuracy, Band
from irspot.measurement.applied import Applied
from irspot.uncertain import Term, combined, expanded, from_bound


def limit_k(accuracy: Accuracy, radiance_degc: float) -> float:
    """Maker's bound at a radiance temperature: the larger of the absolute and the relative one.

    Examples
    --------
    >>> limit_k(Accuracy(limit_k=2.0, limit_relative=0.02), 150.0)
    3.0
    """
    return max(accuracy.limit_k, accuracy.limit_relative * abs(radiance_degc))


def budget(radiance_degc: float, applied: Applied, accuracy: Accuracy, noise_k: float, band: Band) -> tuple[Term, ...]:
    """List the terms behind a surface temperature.

    Parameters
    ----------
    radiance_degc : float
        Radiance temperature of the pixel.
    applied : Applied
    accuracy : Accuracy
    noise_k : float
        Standard deviation of the pixel.
    band : Band

    Returns
    -------
    tuple of Term
        Sensitivities in K per unit of each input, those of the camera on radiance temperature.
    """
    slope = applied.sensitivities(radiance_degc, band)
    to_radiance = float(slope.to_radiance_temperature)
    bound = from_bound(limit_k(accuracy, radiance_degc))
    return (
        Term("camera limit", bound, to_radiance, shared="session", rectangular=True),
        Term("repeatability", accuracy.repeatability_k, to_radiance, shared="frame"),
        Term("noise", noise_k, to_radiance),
        Term("emissivity", applied.u_emissivity, float(slope.to_emissivity)),
        Term("reflected temperature", applied.u_reflected_k, float(slope.to_reflected), shared="frame"),
        Term("transmission", applied.u_transmission, float(slope.to_transmission), shared="frame"),
        Term("window temperature", applied.u_window_k, float(slope.to_window), shared="frame"),
    )


def expanded_k(terms: tuple[Term, ...], *further_u_k: float) -> float:
    """Expanded uncertainty (k = 2) of a budget, with further independent standard uncertainties of unit weight.

    Examples
    --------
    >>> expanded_k((Term("noise", 0.3, 1.0),), 0.4)
    1.0
    """
    u_max_k = combined(terms)
    return expanded(combined((Term("budget", u_max_k, 1.0), *(Term("further", u, 1.0) for u in further_u_k))))
