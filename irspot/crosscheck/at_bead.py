"""What the image says at a bead's place: beside what bead and tape cover, or on the tape itself."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Side, Site, Zone
from irspot.conditions import Conditions
from irspot.constants import DEFAULT_U_EMISSIVITY
from irspot.crosscheck.bead_flags import sorted_bead_flags
from irspot.frame import Frame
from irspot.measurement.applied import Applied, applied_to
from irspot.measurement.blur import blur_of
from irspot.measurement.budget import budgets
from irspot.measurement.geometry import check_shape, geometry_of, placement_of
from irspot.measurement.pixels import Pixels, pixels_of
from irspot.measurement.readings import elsewhere_zone
from irspot.measurement.zone_flags import flags_of_frame, flags_of_height
from irspot.registration.placement import Placement
from irspot.uncertain import Term, combined, expanded, from_bound

FloatArray = NDArray[np.floating[Any]]
BoolArray = NDArray[np.bool_]

ASSUMED_FOOTPRINT_MM: Final = 4.0
"""What bead and tape cover where nothing is stated; flagged."""
RING_MM: Final = 1.5
"""Width of the ring that is read beside a bead, where two pixels are no more."""
SITE_U_MM: Final = 0.5
"""Standard uncertainty of a bead's place as somebody measured it on the board (our assumption)."""
_RING_PX: Final = 2.0
_BLURS: Final = 2.0
"""So many standard deviations of blur beyond its edge a cover no longer shows."""
_FEW: Final = 9
_LEAST: Final = 3


@dataclass(frozen=True, slots=True)
class ImageAtBead:
    """What the image says at a site.

    Parameters
    ----------
    degc, U_k : float
        Surface temperature and expanded uncertainty (k = 2); NaN where no pixel says it.
    terms : tuple of Term
    pixels : int
        Sound pixels read.
    flags : tuple of str
        Of `irspot.flags` and `irspot.crosscheck.bead_flags`.
    gradient_k_per_mm : float
        How steep the surface is there.
    zone : str
        Id of the zone the place lies in, or ``elsewhere``.
    same_side : bool
        Whether the camera sees the side that the bead sits on.
    beside_k : float
        What of `degc` was added to the mean of the ring for the surface going on to curve under the bead.
    """

    degc: float
    U_k: float
    terms: tuple[Term, ...]
    pixels: int
    flags: tuple[str, ...]
    gradient_k_per_mm: float
    zone: str
    same_side: bool
    beside_k: float = 0.0


def zone_at(board: Board, side: Side, x_mm: float, y_mm: float) -> Zone:
    """Find the zone of a side at a place of the board, whichever side the place was given for.

    Board places are those of the front view on both sides, so that a bead on the rear lies under what has the same mm.

    Parameters
    ----------
    board : Board
    side : {"front", "rear"}
    x_mm, y_mm : float

    Returns
    -------
    Zone
        The first that holds it, excluded parts left out of account (a bead is often one); else `elsewhere`.
    """
    zones = (zone for zone in board.zones_of(side) if bool(zone.shape.contains(x_mm, y_mm)))
    return next(zones, elsewhere_zone(board, side))


def image_at(frame: Frame, board: Board, placement: Placement, conditions: Conditions, site: Site) -> ImageAtBead:
    """Read the image at a bead's place.

    Parameters
    ----------
    frame : Frame
    board : Board
    placement : Placement
        Of that board in that frame.
    conditions : Conditions
    site : Site
        On the side seen: the mean of a ring beside `footprint_mm`, kept to the surface the bead sits on; of the tape
        over it where `cover_emissivity` is stated. On the other side: the mean of a disc at the same board mm. Places
        that other beads of the side seen cover do not count.

    Returns
    -------
    ImageAtBead

    Raises
    ------
    PlacementRefused
        If the frame is not of the placement's size, or the zone reaches the camera.
    """
    check_shape(frame.shape, placement, frame.name)
    zone = zone_at(board, placement.side, site.x_mm, site.y_mm)
    view = placement_of(zone, placement)
    pixels = pixels_of(frame)
    blur_px = blur_of(frame, placement, board.outline).px
    same_side = site.side == placement.side
    covered = same_side and site.cover_emissivity is not None
    inner_mm, outer_mm, flags = _radii_mm(site, same_side, blur_px, _mm_per_px(view, site))
    around = _around(frame.shape, view, site, 2.0 * outer_mm)
    allowed = np.ones(around.shape, bool)
    if not covered:
        allowed = _on_surface(board, zone, placement, around) & ~_under_others(board, placement, site, around, blur_px)
    counted = around.within(inner_mm, outer_mm) & allowed & pixels.sound[around.slices]
    applied = _applied(zone, conditions, site if covered else None)
    flags += (*flags_of_frame(frame, conditions), *applied.flags, *flags_of_height(zone, placement))
    read = _read(frame, pixels, around, counted, applied)
    flags += _flags_of_pixels(pixels, around, counted, same_side)
    if math.isnan(read.degc):
        return ImageAtBead(math.nan, math.nan, (), read.count, sorted_bead_flags(flags), math.nan, zone.id, same_side)
    # What lies round a tape is another surface; round a ring the same goes on.
    reach_mm = outer_mm if covered else outer_mm + (outer_mm - inner_mm)
    wider = around.within(inner_mm, reach_mm) & allowed & pixels.sound[around.slices]
    form = _form(around, wider, applied.surface(pixels.radiance_degc[around.slices], frame.camera.band))
    beside_k = 0.0 if covered else form.beside_k(around, counted)
    terms = (*read.terms, *_terms_of_place(form, beside_k, placement, site, covered))
    return ImageAtBead(
        degc=read.degc + beside_k,
        U_k=expanded(combined(terms)),
        terms=terms,
        pixels=read.count,
        flags=sorted_bead_flags(flags),
        gradient_k_per_mm=form.gradient_k_per_mm,
        zone=zone.id,
        same_side=same_side,
        beside_k=beside_k,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Around:
    """The part of a frame round a site: where each of its pixels is on the surface, from the site."""

    slices: tuple[slice, slice]
    dx_mm: FloatArray
    dy_mm: FloatArray

    @property
    def shape(self) -> tuple[int, int]:
        return self.dx_mm.shape[0], self.dx_mm.shape[1]

    @property
    def r_mm(self) -> FloatArray:
        return np.hypot(self.dx_mm, self.dy_mm)

    def within(self, inner_mm: float, outer_mm: float) -> BoolArray:
        return np.asarray((self.r_mm >= inner_mm) & (self.r_mm <= outer_mm))


def _mm_per_px(view: Placement, site: Site) -> float:
    """Size of a pixel on the board at a site, the larger way."""
    at = np.array([[site.x_mm, site.y_mm]]) + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    steps = np.diff(view.to_px(at)[[1, 0, 2]], axis=0)
    least = float(np.linalg.svd(steps, compute_uv=False)[-1])
    return 1.0 / least if least > 0.0 else math.nan


def _radii_mm(site: Site, same_side: bool, blur_px: float, mm_per_px: float) -> tuple[float, float, tuple[str, ...]]:
    """Give the radii between which pixels are read, and what had to be assumed."""
    width_mm, blur_mm = max(RING_MM, _RING_PX * mm_per_px), blur_px * mm_per_px
    if not same_side:
        return 0.0, width_mm, ("behind-board",)
    footprint_mm = ASSUMED_FOOTPRINT_MM if site.footprint_mm is None else site.footprint_mm
    flags = ("footprint-assumed",) if site.footprint_mm is None else ()
    if site.cover_emissivity is not None:
        return 0.0, max(footprint_mm / 2.0 - _BLURS * blur_mm, footprint_mm / 6.0), flags
    inner_mm = footprint_mm / 2.0 + _BLURS * blur_mm
    return inner_mm, inner_mm + width_mm, flags


def _around(shape: tuple[int, int], view: Placement, site: Site, reach_mm: float) -> _Around:
    angles = np.linspace(0.0, 2.0 * np.pi, 16, endpoint=False)
    rim = np.column_stack([site.x_mm + reach_mm * np.cos(angles), site.y_mm + reach_mm * np.sin(angles)])
    px = view.to_px(rim)
    if not np.isfinite(px).all():
        return _Around((slice(0, 0), slice(0, 0)), np.empty((0, 0)), np.empty((0, 0)))
    x0, y0 = np.clip(np.floor(px.min(axis=0)).astype(int), 0, [shape[1], shape[0]])
    x1, y1 = np.clip(np.ceil(px.max(axis=0)).astype(int) + 1, 0, [shape[1], shape[0]])
    rows, columns = np.mgrid[y0:y1, x0:x1]
    x_mm, y_mm = view.to_mm(np.column_stack([columns.ravel(), rows.ravel()]).astype(np.float64)).T
    parts = (slice(int(y0), int(y1)), slice(int(x0), int(x1)))
    return _Around(parts, (x_mm - site.x_mm).reshape(rows.shape), (y_mm - site.y_mm).reshape(rows.shape))


def _on_surface(board: Board, zone: Zone, placement: Placement, around: _Around) -> BoolArray:
    """Say which pixels show the surface that the bead sits on: those of its zone, or of no zone."""
    places = geometry_of(board, placement)
    zones = board.zones_of(placement.side)
    at = next((number for number, each in enumerate(zones) if each.id == zone.id), None)
    where = places.elsewhere if at is None else places.zones[at]
    whole = np.zeros((placement.size_px[1], placement.size_px[0]), dtype=bool)
    whole[where.slices] = where.mask
    return np.asarray(whole[around.slices])


def _under_others(board: Board, placement: Placement, site: Site, around: _Around, blur_px: float) -> BoolArray:
    """Say which pixels other beads of the side seen, and their tape, hide."""
    hidden = np.zeros(around.shape, bool)
    for other in board.sites:
        if other.side != placement.side or (other.x_mm, other.y_mm) == (site.x_mm, site.y_mm):
            continue
        footprint_mm = ASSUMED_FOOTPRINT_MM if other.footprint_mm is None else other.footprint_mm
        reach_mm = footprint_mm / 2.0 + _BLURS * blur_px * _mm_per_px(placement, other)
        dx, dy = around.dx_mm + site.x_mm - other.x_mm, around.dy_mm + site.y_mm - other.y_mm
        hidden |= np.hypot(dx, dy) < reach_mm
    return hidden


def _applied(zone: Zone, conditions: Conditions, covered: Site | None) -> Applied:
    if covered is None or covered.cover_emissivity is None:
        return applied_to(zone, conditions)
    tape = replace(
        zone,
        emissivity=covered.cover_emissivity,
        u_emissivity=DEFAULT_U_EMISSIVITY,
        emissivity_assumed=False,
        material="",
    )
    return applied_to(tape, conditions)


@dataclass(frozen=True, slots=True)
class _Read:
    degc: float
    terms: tuple[Term, ...]
    count: int


def _read(frame: Frame, pixels: Pixels, around: _Around, counted: BoolArray, applied: Applied) -> _Read:
    """Read the mean radiance temperature of the pixels that count as one surface."""
    count = int(np.count_nonzero(counted))
    if count < _LEAST:
        return _Read(math.nan, (), count)
    radiance = float(np.mean(pixels.radiance_degc[around.slices][counted], dtype=np.float64))
    degc = float(applied.surface(radiance, frame.camera.band))
    decoding = None
    if frame.u_decode_k is not None:
        # What a colour stands for is off alike in neighbours: no mean makes it smaller.
        decoding = [float(np.mean(frame.u_decode_k[around.slices][counted]))]
    noise_k = pixels.noise_k / math.sqrt(count)
    terms = budgets([radiance], [applied], frame.camera.accuracy, noise_k, frame.camera.band, decoding)[0]
    return _Read(degc, terms if math.isfinite(degc) else (), count)


def _flags_of_pixels(pixels: Pixels, around: _Around, counted: BoolArray, same_side: bool) -> tuple[str, ...]:
    count = int(np.count_nonzero(counted))
    high = pixels.clipped.high
    clipped = counted if high is None else high[around.slices] & counted
    return (
        *(("no-pixels",) if count < _LEAST else ("few-ring-pixels",) if count < _FEW and same_side else ()),
        *(("clipped",) if high is not None and clipped.any() else ()),
    )


@dataclass(frozen=True, slots=True)
class _Form:
    """How the surface runs round a bead: ``dx_k_per_mm dx + dy_k_per_mm dy + bowl_k_per_mm2 r²``.

    Parameters
    ----------
    dx_k_per_mm, dy_k_per_mm, bowl_k_per_mm2 : float
    u_centre_k : float
        Standard error of what it says of the centre, by what the pixels scatter about it.
    """

    dx_k_per_mm: float = 0.0
    dy_k_per_mm: float = 0.0
    bowl_k_per_mm2: float = 0.0
    u_centre_k: float = 0.0

    @property
    def gradient_k_per_mm(self) -> float:
        return math.hypot(self.dx_k_per_mm, self.dy_k_per_mm)

    def beside_k(self, around: _Around, counted: BoolArray) -> float:
        """Say how much higher the centre is than the mean of pixels beside it, which a border may have cut short."""
        dx, dy = around.dx_mm[counted], around.dy_mm[counted]
        beside = self.dx_k_per_mm * dx + self.dy_k_per_mm * dy + self.bowl_k_per_mm2 * (dx * dx + dy * dy)
        return -float(beside.mean())


def _form(around: _Around, wider: BoolArray, surface: FloatArray) -> _Form:
    """Fit the form to the pixels of a wider ring; a plane, or nothing, where these are too few."""
    wider = wider & np.isfinite(surface)
    dx, dy, degc = around.dx_mm[wider], around.dy_mm[wider], surface[wider].astype(np.float64)
    columns = np.column_stack([np.ones_like(dx), dx, dy, dx * dx + dy * dy])
    kept = 4 if len(dx) >= 3 * _FEW else 3
    columns = columns[:, :kept]
    if len(dx) < 2 * _LEAST or np.linalg.matrix_rank(columns) < kept:
        return _Form()
    found = np.linalg.lstsq(columns, degc, rcond=None)[0]
    left = degc - columns @ found
    variance = float(left @ left) / max(len(dx) - kept, 1)
    u_k = math.sqrt(variance * float(np.linalg.inv(columns.T @ columns)[0, 0]))
    return _Form(float(found[1]), float(found[2]), float(found[3]) if kept == 4 else 0.0, u_k)


def _terms_of_place(form: _Form, beside_k: float, placement: Placement, site: Site, covered: bool) -> tuple[Term, ...]:
    """Say what the bead's place leaves open, and what lies between ring and bead.

    What was added for the surface under the bead is uncertain by all of itself, as a bound: nobody saw it.
    """
    u_px = float(placement.u_px_at(np.array([[site.x_mm, site.y_mm]]))[0])
    u_mm = SITE_U_MM if not math.isfinite(u_px) else math.hypot(SITE_U_MM, u_px * _mm_per_px(placement, site))
    place = Term("bead's place", u_mm, form.gradient_k_per_mm, shared="site")
    if covered:
        return (place,)
    u_k = math.hypot(from_bound(abs(beside_k)), form.u_centre_k)
    return (place, Term("beside the bead", u_k, 1.0, shared="site", rectangular=True))
