"""The budget of a zone's maximum: what each input's uncertainty does to it, to first order (JCGM 100:2008, 5.1)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from irspot.camera import Accuracy, Band
from irspot.measurement.applied import Applied, sensitivities_of
from irspot.uncertain import Term, combined, expanded, from_bound


def limit_k(accuracy: Accuracy, radiance_degc: float) -> float:
    """Maker's bound at a radiance temperature: the larger of the absolute and the relative one.

    Examples
    --------
    >>> limit_k(Accuracy(limit_k=2.0, limit_relative=0.02), 150.0)
    3.0
    """
    return max(accuracy.limit_k, accuracy.limit_relative * abs(radiance_degc))


def budgets(
    radiance_degc: Sequence[float],
    applied: Sequence[Applied],
    accuracy: Accuracy,
    noise_k: float,
    band: Band,
    u_decode_k: Sequence[float] | None = None,
    further: Sequence[tuple[Term, ...]] | None = None,
) -> tuple[tuple[Term, ...], ...]:
    """List the terms behind surface temperatures.

    Parameters
    ----------
    radiance_degc : sequence of float
        Radiance temperature of a pixel of each zone.
    applied : sequence of Applied
        To each zone.
    accuracy : Accuracy
    noise_k : float
        Standard deviation of a pixel.
    band : Band
    u_decode_k : sequence of float, optional
        Of those pixels, where the frame was decoded from a picture.
    further : sequence of tuple of Term, optional
        More terms of each zone, on its radiance temperature.

    Returns
    -------
    tuple of tuple of Term
        Of each zone; sensitivities in K per unit of each input, those of the camera on radiance temperature.
    """
    decoding = [None] * len(applied) if u_decode_k is None else u_decode_k
    more = [()] * len(applied) if further is None else further
    slopes = sensitivities_of(applied, radiance_degc, band)
    each = zip(
        radiance_degc,
        applied,
        slopes.to_radiance_temperature.tolist(),
        slopes.to_emissivity.tolist(),
        slopes.to_reflected.tolist(),
        slopes.to_transmission.tolist(),
        slopes.to_window.tolist(),
        decoding,
        more,
        strict=True,
    )
    return tuple(
        (
            _of_camera(how, limit_k(accuracy, degc), to_radiance, to_emissivity),
            Term("repeatability", accuracy.repeatability_k, to_radiance, shared="frame"),
            Term("noise", noise_k, to_radiance),
            Term("emissivity", how.u_emissivity, to_emissivity, acts_on="emissivity"),
            *_of_map(how, to_emissivity),
            Term("reflected temperature", how.u_reflected_k, to_reflected, shared="frame", acts_on="reflected"),
            Term("transmission", how.u_transmission, to_transmission, shared="frame", acts_on="transmission"),
            Term("window temperature", how.u_window_k, to_window, shared="frame", acts_on="window"),
            *(() if u_k is None else (Term("decoding", u_k, to_radiance),)),
            *(replace(term, sensitivity=term.sensitivity * to_radiance) for term in terms),
        )
        for degc, how, to_radiance, to_emissivity, to_reflected, to_transmission, to_window, u_k, terms in each
    )


def _of_camera(how: Applied, bound_k: float, to_radiance: float, to_emissivity: float) -> Term:
    """The camera's limit: on the frame, and on the map of the same session, which partly undoes it."""
    per_limit = 0.0 if how.of_map is None else how.of_map.per_limit
    slope = to_radiance + to_emissivity * per_limit / bound_k if per_limit else to_radiance
    return Term("camera limit", from_bound(bound_k), slope, shared="session", rectangular=True)


def _of_map(how: Applied, to_emissivity: float) -> Iterator[Term]:
    """What a map's pixels share.

    Its reflected temperature and its camera count as independent of the frame's: with errors alike in both, those in
    the map undo part of those in the frame, so that this is never too little.
    """
    if how.of_map is None:
        return
    yield Term("even board", how.of_map.u_even, to_emissivity, shared="map", acts_on="emissivity")
    if how.of_map.u_camera:
        camera = Term("camera limit in the map", how.of_map.u_camera, to_emissivity, shared="map", acts_on="emissivity")
        yield replace(camera, rectangular=True)


def expanded_k(terms: tuple[Term, ...], *further_u_k: float) -> float:
    """Expanded uncertainty (k = 2) of a budget, with further independent standard uncertainties of unit weight.

    Examples
    --------
    >>> expanded_k((Term("noise", 0.3, 1.0),), 0.4)
    1.0
    """
    u_max_k = combined(terms)
    return expanded(combined((Term("budget", u_max_k, 1.0), *(Term("further", u, 1.0) for u in further_u_k))))
