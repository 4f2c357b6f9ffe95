"""A zone read by an emissivity map: pixel by pixel, then as if all of it had the emissivity of its hottest pixel.

The map turns each pixel into a surface temperature. For all that follows (hot width, noise bias, borders, budget) these
are carried back to the radiance temperatures that they would have under the emissivity of the hottest one, which keeps
its own. So a zone of many emissivities is measured by the rules for one.

Pixels are left out where the map tells nothing, where it is too uncertain (`MOST_U_EMISSIVITY`), and beside borders
between surfaces so different that the least misplacement would make a hot spot of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Zone
from irspot.camera import Band
from irspot.constants import MOST_U_EMISSIVITY
from irspot.measurement.applied import Applied, MapErrors
from irspot.measurement.even_map import EmissivityMap, shared_errors
from irspot.measurement.geometry import ZonePixels
from irspot.measurement.map_sampling import MapPart, Part, map_part
from irspot.measurement.pixels import Pixels
from irspot.opencv import load_cv2
from irspot.registration.placement import Placement

F32 = NDArray[np.float32]
BoolArray = NDArray[np.bool_]

_MOST_U_PLACE: Final = 0.03
"""Standard uncertainty of an emissivity by its place in the map, as a share, beyond which the pixel is left out: of
many such pixels the hottest would be the one that is furthest off."""
_AROUND_PX: Final = 24
"""What is kept around a zone for looking at what lies beside it."""
_BESIDE_PX: Final = 2.0
_RISE_SIGMAS: Final = 4.0
_CONTRADICTS: Final = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class MapView:
    """A measured frame and the map that is applied to it.

    Parameters
    ----------
    pixels : Pixels
        Of the frame.
    placement : Placement
        Of the board in it.
    band : Band
    board : Board
    mapped : EmissivityMap
    """

    pixels: Pixels
    placement: Placement
    band: Band
    board: Board
    mapped: EmissivityMap


@dataclass(frozen=True, slots=True, eq=False)
class MappedZone:
    """A zone as it is measured by a map.

    Parameters
    ----------
    pixels : Pixels
        Of the whole frame, made ready for this zone.
    applied : Applied
        With the emissivity of its hottest pixel.
    """

    pixels: Pixels
    applied: Applied


def mapped_zone(zone: Zone, where: ZonePixels, applied: Applied, view: MapView) -> MappedZone:
    """Apply a map to a zone.

    Parameters
    ----------
    zone : Zone
        One whose emissivity was measured on it keeps that.
    where : ZonePixels
        Its pixels.
    applied : Applied
        What applies without the map.
    view : MapView

    Returns
    -------
    MappedZone
    """
    unchanged = MappedZone(view.pixels, applied)
    if zone.emissivity_from or not where.mask.any():
        return unchanged
    part, inner = _padded(where, view.pixels.sound.shape)
    read = map_part(view.mapped, view.board, zone, view.placement, part)
    inside = np.zeros(read.emissivity.shape, bool)
    inside[inner] = where.mask
    inside &= view.pixels.sound[part]
    known = np.isfinite(read.emissivity) & inside
    if not known.any():
        return replace(unchanged, applied=replace(applied, flags=(*applied.flags, "emissivity-not-mapped")))
    good = usable_emissivity(read)
    crop = _Crop(part, inside, view.pixels.radiance_degc[part], read)
    return _measured(zone, crop, good, applied, view) if (good & inside).any() else _bound(crop, known, applied, view)


def usable_emissivity(read: MapPart) -> BoolArray:
    """Say where a map is certain enough to read a temperature by it."""
    e = read.emissivity
    with np.errstate(invalid="ignore"):
        certain = np.hypot(read.u_own, read.u_shared) <= MOST_U_EMISSIVITY * e
        return np.asarray((e > 0.0) & certain & (read.u_place <= _MOST_U_PLACE * e))


@dataclass(frozen=True, slots=True, eq=False)
class _Crop:
    """A part of a frame with a zone and what lies around it."""

    part: Part
    inside: BoolArray
    radiance_degc: F32
    read: MapPart


def _padded(where: ZonePixels, shape: tuple[int, ...]) -> tuple[Part, Part]:
    """A part of the frame around a zone's box, and the box within it."""
    row0, row1, column0, column1 = where.box
    top, left = max(0, row0 - _AROUND_PX), max(0, column0 - _AROUND_PX)
    part = slice(top, min(shape[0], row1 + _AROUND_PX)), slice(left, min(shape[1], column1 + _AROUND_PX))
    return part, (slice(row0 - top, row1 - top), slice(column0 - left, column1 - left))


def _measured(zone: Zone, crop: _Crop, good: BoolArray, applied: Applied, view: MapView) -> MappedZone:
    mapped, pixels, band = view.mapped, view.pixels, view.band
    emissivity = np.where(good, crop.read.emissivity, np.float32(np.nan))
    surface = applied.surface_of(crop.radiance_degc, emissivity, band)
    at = _hottest(surface, good & crop.inside)
    own = float(emissivity[at])
    errors = shared_errors(own, mapped.taken, mapped.camera)
    same = mapped.taken.same_session
    how = replace(
        applied,
        emissivity=own,
        u_emissivity=float(np.hypot(crop.read.u_own[at], crop.read.u_place[at])),
        bound=False,
        of_map=MapErrors(
            u_even=errors.u_even,
            u_camera=0.0 if same else errors.u_camera,
            per_limit=errors.per_camera_k * errors.limit_k if same else 0.0,
        ),
    )
    flags = ["emissivity-mapped", *_left_out(crop, good, surface, at, pixels.noise_k)]
    if _contradicts(zone, crop, good, mapped):
        flags.append("emissivity-contradicted")
    how = replace(how, flags=(*_without_assumptions(applied), *flags))
    return MappedZone(_evened(crop, good, surface, how, pixels, band), how)


def _bound(crop: _Crop, known: BoolArray, applied: Applied, view: MapView) -> MappedZone:
    """Read a zone whose emissivities are all too uncertain with the highest that each pixel may have."""
    read, band = crop.read, view.band
    u = read.u_own + 2.0 * read.u_place + read.u_shared
    highest = np.clip(read.emissivity + 2.0 * u, 0.02, 1.0).astype(np.float32)
    highest = np.where(known, highest, np.float32(np.nan))
    surface = applied.surface_of(crop.radiance_degc, highest, band)
    at = _hottest(surface, known)
    how = replace(
        applied,
        emissivity=float(highest[at]),
        u_emissivity=0.0,
        bound=True,
        flags=(*_without_assumptions(applied), "emissivity-mapped", "emissivity-uncertain"),
    )
    return MappedZone(_evened(crop, np.isfinite(surface), surface, how, view.pixels, band), how)


def _hottest(surface: F32, usable: BoolArray) -> tuple[int, int]:
    hot = np.where(usable & np.isfinite(surface), surface, np.float32(-np.inf))
    row, column = np.unravel_index(int(np.argmax(hot)), hot.shape)
    return int(row), int(column)


def _evened(crop: _Crop, good: BoolArray, surface: F32, how: Applied, pixels: Pixels, band: Band) -> Pixels:
    """Make the pixels those of one emissivity, that of the hottest."""
    radiance, sound = pixels.radiance_degc.copy(), pixels.sound.copy()
    radiance[crop.part] = how.seen_of(surface, band)
    sound[crop.part] &= good
    for array in (radiance, sound):
        array.flags.writeable = False
    return replace(pixels, radiance_degc=radiance, sound=sound)


def _without_assumptions(applied: Applied) -> tuple[str, ...]:
    """Drop what was assumed of an emissivity that has been measured."""
    return tuple(flag for flag in applied.flags if flag not in ("emissivity-assumed", "bare-metal"))


def _left_out(crop: _Crop, good: BoolArray, surface: F32, at: tuple[int, int], noise_k: float) -> list[str]:
    """Say what is missing of a zone.

    A strip along a border between surfaces hides no more than lies beside it, unless it gets hotter towards it. More
    than a strip may hide anything.
    """
    left = crop.inside & ~good
    if not left.any():
        return []
    cv2 = load_cv2()
    # How far each pixel that is left out lies from the nearest that is not.
    depth = cv2.distanceTransform((~good).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5)
    strip = crop.read.reach_px + 3.0
    if bool((depth[left] > strip).any()) or _rises_towards(crop, good, left, surface, at, noise_k):
        return ["emissivity-partly-unknown"]
    return ["emissivity-left-out"]


def _rises_towards(
    crop: _Crop, good: BoolArray, left: BoolArray, surface: F32, at: tuple[int, int], noise_k: float
) -> bool:
    """Say whether the hottest pixel lies beside what was left out, clearly hotter than what lies behind it."""
    row, column = at
    reach = int(_BESIDE_PX) + 1
    part = np.s_[max(row - reach, 0) : row + reach + 1, max(column - reach, 0) : column + reach + 1]
    y, x = np.mgrid[part]
    if not (left[part] & (np.hypot(y - row, x - column) <= _BESIDE_PX + 0.5)).any():
        return False
    around = surface[part][good[part] & crop.inside[part]]
    noise = noise_k / max(float(crop.read.emissivity[at]), 0.02)
    return bool(float(surface[at]) - float(np.median(around)) > _RISE_SIGMAS * noise)


def _contradicts(zone: Zone, crop: _Crop, good: BoolArray, mapped: EmissivityMap) -> bool:
    """Say whether what a board file states of a zone and what the map says of most of it cannot both be."""
    if zone.emissivity_assumed or zone.bare_metal:
        return False
    usual = float(np.median(crop.read.emissivity[good & crop.inside]))
    errors = shared_errors(usual, mapped.taken, mapped.camera)
    u = float(np.linalg.norm([errors.u_even, errors.u_camera, zone.u_emissivity]))
    return abs(usual - zone.emissivity) > _CONTRADICTS * u
