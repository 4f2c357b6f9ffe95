"""Whether hot spots stay on the board or move with the camera, from two views of one board in one state.

A mirror image moves. Of a thing h above a flat surface, the camera H above it, it moves by ``b h / (H + h)`` when the
camera moves by b across its line of sight, and further where the board is turned instead and the thing stays. Heat of
the surface stays. So each view's hot spot is looked for in the other at the same millimetres (`spot_in_views`): a share
near 1 of its height there is heat, a share near 0 an image. The place of a maximum alone would not do: of several
nearly equal peaks now one, now another is highest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board, Zone
from irspot.conditions import Conditions
from irspot.constants import COVERAGE_FACTOR
from irspot.frame import Frame
from irspot.measurement.applied import Applied, applied_to, sensitivities_of
from irspot.measurement.geometry import ZonePixels, geometry_of, placement_of
from irspot.measurement.mirror_motion import nearest_told_mm
from irspot.measurement.outline_px import border_px
from irspot.measurement.pixels import Pixels, pixels_of
from irspot.measurement.readings import elsewhere_zone, measure_zones
from irspot.measurement.spot_in_views import (
    NOISE_LEFT,
    Grid,
    Spot,
    grid_over,
    height_in,
    is_summit,
    pitch_mm,
    px_per_mm,
    read_on,
    spot_at,
)
from irspot.opencv import load_cv2
from irspot.registration.heights import camera_pose, pose_doubtful
from irspot.registration.placement import Placement
from irspot.registration.spread import largest_u, place_covariances_px
from irspot.results import NAN, Reading
from irspot.two_views import ViewVerdict, Why, ZoneInTwoViews
from irspot.uncertain import expanded

FloatArray = NDArray[np.float64]

_STANDS_OUT: Final = 6.0
_STANDS_OUT_K: Final = 0.5
"""A hot spot stands out of its zone by so many standard deviations of a pixel, and so many kelvin."""
_THERE: Final = 0.6
_GONE: Final = 0.4
"""Shares of a spot's height: from the one it is in the other view as well, to the other it is not."""
_SHIFTED: Final = 1.5
"""Expanded uncertainties (k = 2) by which one spot may lie elsewhere by chance."""
_GONE_WIDTHS: Final = 1.3
"""Half widths by which an image has to move until its share is under `_GONE`: 1.15 for a Gaussian."""
_MIRRORED_FROM_MM: Final = 100.0
"""A hot spot is called steady where the image of whatever is further off than this would have moved away."""
_FLANK_PX: Final = 2.0
_BORDER_PX: Final = 2.0
"""How far what stands beside, or before, a zone is taken to show."""
_TOP_PX: Final = 0.3
"""Standard uncertainty of a maximum's place between pixels, at least."""
_SAMPLED_SHARE: Final = 0.05
"""Standard uncertainty of a spot's height by how finely each view shows it, as a share of it."""


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """One frame with the board placed in it.

    Parameters
    ----------
    frame : Frame
    placement : Placement
    """

    frame: Frame
    placement: Placement


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """One zone in one view; its own placement is at its height."""

    view: View
    placement: Placement
    pixels: Pixels
    where: ZonePixels
    reading: Reading
    pitch_mm: float
    u_place_mm: float

    @property
    def hot_mm(self) -> FloatArray:
        """Where it is hottest."""
        return np.array([self.reading.hot_x_mm, self.reading.hot_y_mm])


def compare_views(a: View, b: View, board: Board, conditions: Conditions) -> tuple[ZoneInTwoViews, ...]:
    """Compare every zone of the side that two views show.

    Parameters
    ----------
    a, b : View
        Of one board in one state, taken in one session with one camera.
    board : Board
    conditions : Conditions
        Of both.

    Returns
    -------
    tuple of ZoneInTwoViews
        The zones in the board file's order, then `elsewhere`.

    Raises
    ------
    PlacementRefused
        If a frame is not of its placement's size.
    """
    zones = (*board.zones_of(a.placement.side), elsewhere_zone(board, a.placement.side))
    each = zip(zones, _seen_zones(a, board, zones, conditions), _seen_zones(b, board, zones, conditions), strict=True)
    return tuple(_compared(board, zone, in_a, in_b, applied_to(zone, conditions)) for zone, in_a, in_b in each)


def _seen_zones(view: View, board: Board, zones: Sequence[Zone], conditions: Conditions) -> list[_Seen]:
    readings = measure_zones(view.frame, board, view.placement, conditions)
    places = geometry_of(board, view.placement).all
    return [_seen(view, *each) for each in zip(zones, places, readings, strict=True)]


def _seen(view: View, zone: Zone, where: ZonePixels, reading: Reading) -> _Seen:
    placement = placement_of(zone, view.placement)
    seen = _Seen(view, placement, pixels_of(view.frame), where, reading, NAN, NAN)
    if not np.isfinite(seen.hot_mm).all():
        return seen
    return replace(
        seen,
        pitch_mm=pitch_mm(placement, seen.hot_mm),
        u_place_mm=_u_place_mm(view.placement, placement, seen.hot_mm, zone.height_mm),
    )


def _u_place_mm(board_placement: Placement, placement: Placement, at_mm: FloatArray, height_mm: float) -> float:
    """Standard uncertainty of a place on the board by the board's place in the frame, where it is largest."""
    covariance_px = place_covariances_px(board_placement, at_mm[None], height_mm)[0]
    to_mm = np.linalg.inv(px_per_mm(placement, at_mm))
    return float(largest_u((to_mm @ covariance_px @ to_mm.T)[None])[0])


def _compared(board: Board, zone: Zone, a: _Seen, b: _Seen, applied: Applied) -> ZoneInTwoViews:
    """Judge one zone."""
    plain = ZoneInTwoViews(
        zone.id,
        "undecided",
        "not-seen",
        max_a_degc=a.reading.max_degc,
        U_max_a_k=a.reading.U_max_k,
        max_b_degc=b.reading.max_degc,
        U_max_b_k=b.reading.U_max_k,
    )
    if not np.isfinite((a.hot_mm, b.hot_mm)).all():
        return plain
    why = _not_told(zone, a, b)
    if why:
        return replace(plain, why=why)
    pair = _pair(zone, a, b)
    if pair is None:
        return replace(plain, why="too-small")
    found = _measured(plain, pair, zone, applied, a, b)
    verdict, why = _judged(found, pair, board, zone, (a, b))
    return replace(found, verdict=verdict, why=why)


def _not_told(zone: Zone, a: _Seen, b: _Seen) -> Why:
    """Say why nobody can tell where on the board a zone's places are; empty where one can."""
    if not np.isfinite((a.u_place_mm, b.u_place_mm)).all():
        return "place-unknown"
    if zone.height_mm == 0.0:
        return ""
    if a.placement.optics.focal_px is None:
        return "no-focal-length"
    return "place-unknown" if any(pose_doubtful(seen.view.placement) for seen in (a, b)) else ""


def _pair(zone: Zone, a: _Seen, b: _Seen) -> _Pair | None:
    step = max(a.pitch_mm, b.pitch_mm)
    reach = COVERAGE_FACTOR * float(np.hypot(a.u_place_mm, b.u_place_mm)) + 0.5 * step
    grid = grid_over(zone.shape, step)
    maps = tuple(read_on(grid, seen.pixels, seen.where, seen.placement, seen.pitch_mm) for seen in (a, b))
    noise_k = max(a.pixels.noise_k, b.pixels.noise_k)
    first, second = (spot_at(grid, degc, seen.hot_mm, reach, noise_k) for degc, seen in zip(maps, (a, b), strict=True))
    return None if first is None or second is None else _Pair(grid, maps, (first, second), reach, noise_k)


def _measured(plain: ZoneInTwoViews, pair: _Pair, zone: Zone, applied: Applied, a: _Seen, b: _Seen) -> ZoneInTwoViews:
    u_top = [max(0.5 * min(spot.level_mm, spot.half_width_mm), _TOP_PX * pair.grid.step_mm) for spot in pair.spots]
    difference, u_difference = _difference(pair, applied, a, b)
    angle_deg, nearest_mm = _motion(pair, zone, a, b)
    return replace(
        plain,
        distance_mm=float(np.hypot(*(a.hot_mm - b.hot_mm))),
        U_distance_mm=expanded(float(np.linalg.norm([a.u_place_mm, b.u_place_mm, *u_top]))),
        shared_a=pair.shared(0),
        shared_b=pair.shared(1),
        difference_k=difference,
        U_difference_k=expanded(u_difference),
        angle_deg=angle_deg,
        nearest_mm=nearest_mm,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Pair:
    """Both views of a zone on one grid, with their hot spots."""

    grid: Grid
    maps: tuple[FloatArray, ...]
    spots: tuple[Spot, Spot]
    reach_mm: float
    noise_k: float

    def stands_out(self, which: int) -> bool:
        """Whether one view's hot spot stands out of its zone."""
        return self.spots[which].height_k >= max(_STANDS_OUT * self.noise_k, _STANDS_OUT_K)

    def top(self, which: int) -> float:
        """What one view shows at its own hot spot."""
        near = self.grid.distance_mm(self.spots[which].xy_mm) <= self.grid.step_mm
        return float(np.nanmax(self.maps[which][near]))

    def other(self, which: int) -> tuple[float, float]:
        """Height and top of one view's hot spot in the other view."""
        return height_in(self.grid, self.maps[1 - which], self.spots[which], self.reach_mm)

    def shared(self, which: int) -> float:
        """Share of its height that the other view shows; NaN where it does not stand out or is not in view there."""
        return self.other(which)[0] / self.spots[which].height_k if self.stands_out(which) else float("nan")

    def summit(self, which: int) -> bool:
        """Whether the other view has a summit there, too."""
        return is_summit(self.grid, self.maps[1 - which], self.spots[which], self.reach_mm, self.noise_k)

    @property
    def half_width_mm(self) -> float:
        """Of the wider of the spots that stand out."""
        return max(spot.half_width_mm for spot in self.spots)


def _judged(
    found: ZoneInTwoViews, pair: _Pair, board: Board, zone: Zone, views: tuple[_Seen, _Seen]
) -> tuple[ViewVerdict, Why]:
    shares = (found.shared_a, found.shared_b)
    looked_for = [which for which in (0, 1) if pair.stands_out(which)]
    if not looked_for:
        return "undecided", "even"
    missing = [which for which in looked_for if shares[which] <= _GONE]
    doubts = {which: _doubt(board, zone, views, pair, which) for which in missing}
    gone = [which for which in missing if not doubts[which]]
    if gone:
        return "moved", "neither-in-the-other" if len(gone) == 2 else ("a-not-in-b", "b-not-in-a")[gone[0]]
    if missing:
        return "undecided", doubts[missing[0]]
    if any(np.isnan(shares[which]) for which in looked_for):
        return "undecided", "not-seen"
    if any(shares[which] < _THERE for which in looked_for):
        return "undecided", "in-part"
    if _shifted(found, pair, looked_for):
        return "undecided", "shifted"
    if np.isnan(found.nearest_mm):
        return "undecided", "no-focal-length"
    return ("steady", "") if found.nearest_mm <= _MIRRORED_FROM_MM else ("undecided", "views-alike")


def _shifted(found: ZoneInTwoViews, pair: _Pair, looked_for: list[int]) -> bool:
    """Say whether the two views' hot spots are one and yet not in one place, rather than two of several peaks."""
    if found.distance_mm <= _SHIFTED * found.U_distance_mm:
        return False
    one = found.distance_mm <= pair.half_width_mm + pair.reach_mm
    return one or not any(pair.summit(which) for which in looked_for)


def _doubt(board: Board, zone: Zone, views: tuple[_Seen, _Seen], pair: _Pair, which: int) -> Why:
    """Say why a hot spot may be missing from the other view without being an image; empty where nothing does."""
    if _hidden(board, zone, views[1 - which], pair.spots[which]):
        return "hidden"
    seen = views[which]
    return "at-the-border" if _from_border_px(seen) <= pair.reach_mm / seen.pitch_mm + _BORDER_PX else ""


def _from_border_px(seen: _Seen) -> float:
    """Distance of a zone's hottest pixel from what is not the zone."""
    cv2 = load_cv2()
    depth = cv2.distanceTransform(np.pad(seen.where.mask.astype(np.uint8), 1), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    row, column = round(seen.reading.hot_y_px) - seen.where.box[0], round(seen.reading.hot_x_px) - seen.where.box[2]
    return float(depth[row + 1, column + 1])


def _difference(pair: _Pair, applied: Applied, a: _Seen, b: _Seen) -> tuple[float, float]:
    """Read the hottest place of both views in both: A less B, and the standard uncertainty of that.

    The camera's limit is common to frames of one session; what each frame adds of its own is not.
    """
    here = int(pair.top(1) > pair.top(0))
    tops = [NAN, NAN]
    tops[here], tops[1 - here] = pair.top(here), pair.other(here)[1]
    band = a.view.frame.camera.band
    in_a, in_b = (float(value) for value in applied.surface(np.array(tops), band))
    spread = max(pair.spots[here].height_k, 0.0)
    terms = [0.0 if frame.u_decode_k is None else float(np.nanmedian(frame.u_decode_k)) for frame in _frames(a, b)]
    terms += [seen.view.frame.camera.accuracy.repeatability_k for seen in (a, b)]
    terms += [NOISE_LEFT * pair.noise_k, NOISE_LEFT * pair.noise_k, _SAMPLED_SHARE * spread, _SAMPLED_SHARE * spread]
    slope = float(sensitivities_of([applied], [tops[here]], band).to_radiance_temperature[0])
    return in_a - in_b, abs(slope) * float(np.linalg.norm(terms))


def _frames(*seen: _Seen) -> list[Frame]:
    return [each.view.frame for each in seen]


def _motion(pair: _Pair, zone: Zone, a: _Seen, b: _Seen) -> tuple[float, float]:
    """Give the angle between the lines of sight, and how near a thing may be whose image would not have moved enough.

    NaN without a focal length; infinite for the second where nothing would have moved enough.
    """
    if a.placement.optics.focal_px is None:
        return NAN, NAN
    spot = np.append(pair.spots[0].xy_mm, zone.height_mm)
    sights = [camera_pose(seen.view.placement).eye_mm - spot for seen in (a, b)]
    cosine = sights[0] @ sights[1] / (np.linalg.norm(sights[0]) * np.linalg.norm(sights[1]))
    angle = float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
    height = 0.5 * float(sights[0][2] + sights[1][2])
    across = height * float(np.hypot(*(sights[0][:2] / sights[0][2] - sights[1][:2] / sights[1][2])))
    needed = pair.reach_mm + _GONE_WIDTHS * pair.half_width_mm
    return angle, nearest_told_mm(needed, height, across)


def _hidden(board: Board, zone: Zone, seen: _Seen, spot: Spot) -> bool:
    """Say whether a higher zone, or its flank, stands where a view should show a spot."""
    cv2 = load_cv2()
    if seen.placement.optics.focal_px is None:
        return False
    at = seen.placement.to_px(spot.xy_mm[None])[0]
    for other in board.zones_of(seen.placement.side):
        if other.height_mm <= zone.height_mm:
            continue
        ends = placement_of(other, seen.view.placement), seen.placement
        body = np.concatenate([border_px(other.shape, end) for end in ends])
        if not np.isfinite(body).all():
            continue
        hull = cv2.convexHull(body.astype(np.float32))
        if cv2.pointPolygonTest(hull, (float(at[0]), float(at[1])), True) > -_FLANK_PX:
            return True
    return False
