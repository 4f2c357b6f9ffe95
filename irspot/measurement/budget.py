"""The budget of a zone's maximum: what each input's uncertainty does to it, to first order (JCGM 100:2008, 5.1)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Accuracy, Band
from irspot.camera_error import Held
from irspot.measurement.applied import Applied, sensitivities_of
from irspot.radiometry import sensitivities
from irspot.uncertain import Term, combined, expanded, from_bound


def limit_k(accuracy: Accuracy, radiance_degc: float) -> float:
    """Maker's bound at a radiance temperature: the larger of the absolute and the relative one.

    Examples
    --------
    >>> limit_k(Accuracy(limit_k=2.0, limit_relative=0.02), 150.0)
    3.0
    """
    return max(accuracy.limit_k, accuracy.limit_relative * abs(radiance_degc))


def camera_terms(accuracy: Accuracy, held: Held | None, radiance_degc: float) -> tuple[Term, ...]:
    """List what a camera leaves uncertain of a radiance temperature, beside noise.

    Parameters
    ----------
    accuracy : Accuracy
    held : Held or None
        A frame corrected by patches of known temperature keeps of the maker's limit what grows with the distance from
        them, limit_relative |T - T_ref|, and has the patches' uncertainty in place of the rest; what repeats from
        frame to frame went with the offset.
    radiance_degc : float

    Returns
    -------
    tuple of Term
        On the radiance temperature.
    """
    if held is None or held.line is None:
        bound_k = max(limit_k(accuracy, radiance_degc), 0.0 if held is None else held.limit_k)
        return (
            Term("camera limit", from_bound(bound_k), 1.0, shared="session", rectangular=True),
            Term("repeatability", accuracy.repeatability_k, 1.0, shared="frame"),
        )
    of_patches = Term("reference", held.line.u_at(radiance_degc), 1.0, shared="frame")
    if not held.line.gain_bound:
        return (of_patches,)
    gain_k = held.line.gain_bound * abs(radiance_degc - held.line.about_degc)
    return Term("camera gain", from_bound(gain_k), 1.0, shared="session", rectangular=True), of_patches


def budgets(
    radiance_degc: Sequence[float],
    applied: Sequence[Applied],
    accuracy: Accuracy,
    noise_k: float,
    band: Band,
    u_decode_k: Sequence[float] | None = None,
    further: Sequence[tuple[Term, ...]] | None = None,
    held: Held | None = None,
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
    held : Held, optional
        What patches of known temperature said of the frame.

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
            *_of_camera(how, accuracy, held, degc, (to_radiance, to_emissivity)),
            Term("noise", noise_k, to_radiance),
            Term("emissivity", how.u_emissivity, to_emissivity, acts_on="emissivity"),
            *_of_map(how, to_emissivity),
            Term("reflected temperature", how.u_reflected_k, to_reflected, shared="frame", acts_on="reflected"),
            Term("transmission", how.u_transmission, to_transmission, shared="frame", acts_on="transmission"),
            Term("window temperature", how.u_window_k, to_window, shared="frame", acts_on="window"),
            *(() if u_k is None else (Term("decoding", u_k, to_radiance),)),
            *(_through(to_radiance, term) for term in terms),
        )
        for degc, how, to_radiance, to_emissivity, to_reflected, to_transmission, to_window, u_k, terms in each
    )


def _through(to_radiance: float, term: Term) -> Term:
    """Carry a term from the radiance temperature to the surface's."""
    return replace(term, sensitivity=term.sensitivity * to_radiance)


def _of_camera(
    how: Applied, accuracy: Accuracy, held: Held | None, degc: float, slopes: tuple[float, float]
) -> Iterator[Term]:
    """What the camera leaves: its limit, on the frame and on the map of the same session, which partly undoes it.

    Patches of known temperature correct the frame and not the map, whose camera's limit then stands alone.
    """
    to_radiance, to_emissivity = slopes
    per_limit = 0.0 if how.of_map is None else how.of_map.per_limit
    for term in camera_terms(accuracy, held, degc):
        if term.name == "camera limit" and per_limit:
            yield replace(term, sensitivity=to_radiance + to_emissivity * per_limit / limit_k(accuracy, degc))
        else:
            yield _through(to_radiance, term)
    if per_limit and held is not None and held.line is not None:
        yield _of_the_maps_camera(from_bound(per_limit), to_emissivity)


def _of_map(how: Applied, to_emissivity: float) -> Iterator[Term]:
    """What a map's pixels share.

    Its reflected temperature and its camera count as independent of the frame's: with errors alike in both, those in
    the map undo part of those in the frame, so that this is never too little.
    """
    if how.of_map is None:
        return
    yield Term("even board", how.of_map.u_even, to_emissivity, shared="map", acts_on="emissivity")
    if how.of_map.u_camera:
        yield _of_the_maps_camera(how.of_map.u_camera, to_emissivity)


def _of_the_maps_camera(u_emissivity: float, to_emissivity: float) -> Term:
    return Term(
        "camera limit in the map", u_emissivity, to_emissivity, shared="map", rectangular=True, acts_on="emissivity"
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


@dataclass(frozen=True, slots=True, eq=False)
class Spreads:
    """Standard uncertainties of many surface temperatures.

    Parameters
    ----------
    by_itself, shared : ndarray, one shape
        What differs from frame to frame (noise, repeatability), and what is the same error in all. [K]
    """

    by_itself: NDArray[np.float64]
    shared: NDArray[np.float64]

    @property
    def combined(self) -> NDArray[np.float64]:
        """Both together."""
        return np.hypot(self.by_itself, self.shared)


def spreads_of(
    radiance_degc: NDArray[np.floating[Any]],
    applied: Sequence[Applied],
    accuracy: Accuracy,
    noise_k: Sequence[float],
    band: Band,
    shared_k: Sequence[float],
) -> Spreads:
    """Combine for many pixels of each zone the terms that `budgets` lists for one.

    Parameters
    ----------
    radiance_degc : ndarray, shape (n, zones)
    applied : sequence of Applied
        To each zone.
    accuracy : Accuracy
    noise_k : sequence of float
        Of each zone, everything that noise does.
    band : Band
    shared_k : sequence of float
        Of each zone, what else is uncertain of its radiance temperature in all frames alike.

    Returns
    -------
    Spreads
        Of that shape.
    """
    degc = np.asarray(radiance_degc, np.float64)
    slopes = sensitivities(
        degc,
        emissivity=[each.emissivity for each in applied],
        reflected_degc=[each.reflected_degc for each in applied],
        transmission=[each.transmission for each in applied],
        window_degc=[each.window_degc for each in applied],
        band=band,
    )
    bound = np.maximum(accuracy.limit_k, accuracy.limit_relative * np.abs(degc))
    on_radiance_k = np.hypot(from_bound(1.0) * bound, np.asarray(shared_k))
    shared = np.square(on_radiance_k * slopes.to_radiance_temperature)
    shared += np.square(np.array([each.u_emissivity for each in applied]) * slopes.to_emissivity)
    shared += np.square(np.array([each.u_reflected_k for each in applied]) * slopes.to_reflected)
    shared += np.square(np.array([each.u_transmission for each in applied]) * slopes.to_transmission)
    shared += np.square(np.array([each.u_window_k for each in applied]) * slopes.to_window)
    own_k = np.hypot(np.asarray(noise_k), accuracy.repeatability_k)
    return Spreads(own_k * np.abs(slopes.to_radiance_temperature), np.sqrt(shared))
