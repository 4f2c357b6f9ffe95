"""What each zone is measured in: its own pixels, what applies to them, and the frame as a map makes it for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from irspot.board import Board, Zone
from irspot.conditions import Conditions
from irspot.constants import BARE_METAL_EMISSIVITY
from irspot.frame import Frame
from irspot.measurement.applied import Applied, applied_to
from irspot.measurement.blur import Blur
from irspot.measurement.geometry import ZonePixels
from irspot.measurement.metal_rim import rim_px, without_rim
from irspot.measurement.pattern import noise_with_k
from irspot.measurement.pixels import Pixels
from irspot.registration.placement import Placement

if TYPE_CHECKING:
    from irspot.measurement.even_map import EmissivityMap
    from irspot.measurement.mapped import MapView


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A frame with everything but the zone."""

    frame: Frame
    pixels: Pixels
    placement: Placement
    conditions: Conditions
    blur: Blur

    def noise_k(self, radiance_degc: float) -> float:
        """Noise of one pixel at a radiance temperature."""
        frame = self.frame
        return noise_with_k(self.pixels.frame_noise_k, frame.pattern, radiance_degc, frame.camera.band)

    def of_map(self, board: Board, mapped: EmissivityMap) -> MapView:
        """Give what a map is applied to."""
        from irspot.measurement.mapped import MapView

        return MapView(self.pixels, self.placement, self.frame.camera.band, board, mapped)


def own_pixels(
    zones: Sequence[Zone], places: Sequence[ZonePixels], view: View
) -> tuple[tuple[Applied, ...], tuple[ZonePixels, ...]]:
    """Say what applies to each zone, and leave out the rim of metal whose emissivity is applied."""
    applied, kept = [], []
    for zone, where in zip(zones, places, strict=True):
        how, own, flag = applied_to(zone, view.conditions), where, ""
        if how.emissivity < BARE_METAL_EMISSIVITY or "emissivity-uncertain" in how.flags:
            own, flag = without_rim(where, view.pixels, rim_px(view.blur.px, _u_border_px(zone, view.placement)))
        applied.append(replace(how, flags=(*how.flags, flag)) if flag else how)
        kept.append(own)
    return tuple(applied), tuple(kept)


def _u_border_px(zone: Zone, placement: Placement) -> float:
    x0, y0, x1, y1 = zone.shape.box_mm
    u_px = placement.u_px_at(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
    return float(np.max(u_px)) if np.isfinite(u_px).all() else placement.u_point_px


def mapped_views(
    zones: Sequence[Zone],
    places: Sequence[ZonePixels],
    applied: tuple[Applied, ...],
    view: View,
    board: Board,
    mapped: EmissivityMap | None,
) -> tuple[tuple[Applied, ...], tuple[View, ...]]:
    """Give each zone what applies by the map, and the frame it is measured in: the map makes one for each.

    Raises
    ------
    MapRefused
        If the map is of another camera or view.
    """
    if mapped is None:
        return applied, (view,) * len(zones)
    # Most frames are measured without a map, which needs a lot more of this package.
    from irspot.measurement.even_view import refuse_other_view
    from irspot.measurement.mapped import mapped_zone

    refuse_other_view(view.frame, view.placement, board, mapped)
    each = [
        mapped_zone(zone, where, how, view.of_map(board, mapped))
        for zone, where, how in zip(zones, places, applied, strict=True)
    ]
    return tuple(one.applied for one in each), tuple(replace(view, pixels=one.pixels) for one in each)
