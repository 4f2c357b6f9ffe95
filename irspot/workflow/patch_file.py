"""A patch in one frame from files: what ``irspot reflected`` and ``irspot emissivity`` do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from irspot.board import Zone
from irspot.camera import Band
from irspot.conditions import Conditions
from irspot.errors import UsageError
from irspot.frame import Frame
from irspot.measurement.patches import Between, Known, emissivity_of, reflected_of_foil
from irspot.uncertain import Term, combined, from_bound
from irspot.workflow.place_file import PlaceJob, place_file

_INWARD_PX: Final = 2
"""Pixels at a patch's border that show its surroundings as well."""


@dataclass(frozen=True, slots=True)
class Patch:
    """The mean of a zone.

    Parameters
    ----------
    zone : str
    seen_degc : Known
        Mean radiance temperature, with the camera's uncertainty.
    pixels : int
    spread_k : float
        Standard deviation over the patch.
    band : Band
    """

    zone: str
    seen_degc: Known
    pixels: int
    spread_k: float
    band: Band

    @property
    def beside_degc(self) -> Known:
        """The same beside another patch of the same frame, on which the camera errs alike."""
        return Known(self.seen_degc.value, self.spread_k / float(np.sqrt(self.pixels)))


def read_patches(job: PlaceJob, zone_ids: tuple[str, ...]) -> tuple[Patch, ...]:
    """Place the board and take the mean of some of its zones.

    Parameters
    ----------
    job : PlaceJob
    zone_ids : tuple of str

    Returns
    -------
    tuple of Patch

    Raises
    ------
    PlacementRefused
        With the reason.
    UsageError
        If a zone is not on that side of the board, or shows no pixel that is wholly its own.
    """
    result = place_file(job)
    if result.placement is None:
        assert result.refusal is not None
        raise result.refusal
    from irspot.measurement import geometry_of

    zones = result.board.zones_of(job.side)
    known = {zone.id: index for index, zone in enumerate(zones)}
    places = geometry_of(result.board, result.placement).zones
    found = []
    for zone_id in zone_ids:
        if zone_id not in known:
            raise UsageError(
                f"zone '{zone_id}' is not on the board's {job.side}",
                file=str(job.board_file),
                wanted=", ".join(known) or "zones on that side",
            )
        where = places[known[zone_id]]
        found.append(_patch(zones[known[zone_id]], result.frame, where.slices, where.mask))
    return tuple(found)


def _patch(zone: Zone, frame: Frame, part: tuple[slice, slice], mask: np.ndarray[Any, np.dtype[np.bool_]]) -> Patch:
    from irspot.measurement.budget import limit_k
    from irspot.measurement.pixels import pixels_of
    from irspot.opencv import load_cv2
    from irspot.radiometry import band_table

    cv2 = load_cv2()
    pixels = pixels_of(frame)
    inner = cv2.erode(mask.astype(np.uint8), np.ones((2 * _INWARD_PX + 1,) * 2, np.uint8), borderValue=0).astype(bool)
    own = pixels.sound[part] & inner
    if not own.any():
        raise UsageError(
            f"zone '{zone.id}' shows no pixel further than {_INWARD_PX} px from its border", file=frame.name
        )
    values = pixels.radiance_degc[part][own].astype(np.float64)
    table = band_table(frame.camera.band)
    mean = float(table.temperature_degc(float(np.mean(table.radiance(values)))))
    accuracy = frame.camera.accuracy
    u_k = combined(
        (Term("limit", from_bound(limit_k(accuracy, mean)), 1.0), Term("repeatability", accuracy.repeatability_k, 1.0))
    )
    return Patch(zone.id, Known(mean, u_k), int(own.sum()), float(values.std()), frame.camera.band)


def reflected_from(patch: Patch, foil: Known, foil_degc: Known, conditions: Conditions) -> dict[str, Any]:
    """Say what a foil patch tells of the reflected temperature.

    Raises
    ------
    UsageError
        If nothing can be reflected that sends so little.
    """
    reflected = reflected_of_foil(patch.seen_degc, foil, foil_degc, patch.band, _path(conditions))
    if not np.isfinite(reflected.value):
        raise UsageError(
            f"zone '{patch.zone}' sends less than the foil alone would",
            found=f"{patch.seen_degc.value:.1f} °C as a black body",
            hint="check the foil's temperature and emissivity",
        )
    return {"zone": patch.zone, "reflected_degc": reflected.value, "u_reflected_k": reflected.u} | _facts(patch)


def emissivity_from(
    patch: Patch, seen_degc: Known, surface_degc: Known, reflected_degc: Known, conditions: Conditions
) -> dict[str, Any]:
    """Say what a surface of known temperature tells of its emissivity.

    Parameters
    ----------
    patch : Patch
    seen_degc : Known
        Of the patch: its `seen_degc` beside a contact, its `beside_degc` beside tape in the same frame.
    surface_degc, reflected_degc : Known
    conditions : Conditions

    Returns
    -------
    dict

    Raises
    ------
    UsageError
        If the surface is too near its surroundings' temperature, or no emissivity explains what is seen.
    """
    found = emissivity_of(seen_degc, surface_degc, reflected_degc, patch.band, _path(conditions))
    if np.isnan(found.value):
        raise UsageError(
            f"zone '{patch.zone}' is too near the temperature of its surroundings to show its emissivity",
            found=f"{surface_degc.value:.1f} °C against {reflected_degc.value:.1f} °C",
            wanted="10 K apart at least, better 20",
            hint="heat the board further",
        )
    if not 0.0 < found.value <= 1.0 + 2.0 * found.u:
        raise UsageError(
            f"no emissivity explains what zone '{patch.zone}' shows",
            found=f"{found.value:.2f} ± {2.0 * found.u:.2f}",
            hint="check the contact temperature, the reflected temperature and the camera's own settings",
        )
    value = min(found.value, 1.0)
    return {"zone": patch.zone, "emissivity": value, "u_emissivity": found.u} | _facts(patch)


def tape_degc(patch: Patch, tape: Known, reflected_degc: Known, conditions: Conditions) -> Known:
    """Temperature of a strip of tape of known emissivity, and of what lies beside it."""
    from irspot.measurement.applied import Applied, sensitivities_of

    path = _path(conditions)
    how = Applied(
        tape.value, tape.u, reflected_degc.value, reflected_degc.u, path.transmission, 0.0, path.window_degc, 0.0, ()
    )
    slopes = sensitivities_of([how], [patch.seen_degc.value], patch.band)
    terms = (
        Term("spread", patch.beside_degc.u, float(slopes.to_radiance_temperature[0])),
        Term("emissivity", tape.u, float(slopes.to_emissivity[0])),
        Term("reflected", reflected_degc.u, float(slopes.to_reflected[0])),
    )
    return Known(float(how.surface(patch.seen_degc.value, patch.band)), combined(terms))


def _path(conditions: Conditions) -> Between:
    window = conditions.window_degc if conditions.window_degc is not None else conditions.ambient_degc
    return Between(conditions.transmission, 20.0 if window is None else window)


def _facts(patch: Patch) -> dict[str, Any]:
    return {"seen_degc": patch.seen_degc.value, "pixels": patch.pixels, "spread_k": patch.spread_k}
