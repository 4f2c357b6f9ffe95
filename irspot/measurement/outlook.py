"""What a set-up will be able to tell of a board before it is heated: sizes it can read, uncertainties to expect."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from irspot.board import Board, Side, Zone
from irspot.camera import Camera
from irspot.conditions import Conditions
from irspot.constants import FEW_PIXELS_ACROSS, GOOD_PIXELS_ACROSS
from irspot.measurement.applied import applied_to
from irspot.measurement.blur import ASSUMED_BLUR_PX
from irspot.measurement.budget import budgets
from irspot.measurement.outline_px import across_px
from irspot.measurement.spot_size import GOOD_BLURS, LEAST_BLURS, PIXEL_VARIANCE_PX2
from irspot.measurement.viewed import scale_px_per_mm
from irspot.registration.heights import at_height
from irspot.registration.placement import Placement
from irspot.uncertain import Term, combined, dominant, expanded

TYPICAL_DEGC: Final = 80.0
"""Temperature at which uncertainties are foretold, of a zone without a limit."""
_FILLS: Final = 0.9
"""Share of the frame that a board fills where nobody has taken one yet."""


@dataclass(frozen=True, slots=True)
class ZoneOutlook:
    """What can be told of one zone.

    Parameters
    ----------
    zone : Zone
    across_px : float
        NaN where nothing tells the scale.
    at_degc, U_k : float
        Expanded uncertainty to expect at a temperature, placement and spot size left out.
    apart_k : float
        By how much two boards measured in one session must differ to be told apart, two such maxima compared.
    dominant_term : str
        What weighs most.
    distance_mm : float
        From which the zone is ten pixels across; NaN where the focal length is not known.
    """

    zone: Zone
    across_px: float
    at_degc: float
    U_k: float
    apart_k: float
    dominant_term: str
    distance_mm: float


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a set-up can tell.

    Parameters
    ----------
    px_per_mm : float
        On the board; NaN where nothing tells it.
    good_px, least_px : float
        Width from which hot spots are read as they are, and from which they are corrected.
    distance_mm : float
        Of the camera; NaN where the focal length is not known.
    zones : tuple of ZoneOutlook
    """

    px_per_mm: float
    good_px: float
    least_px: float
    distance_mm: float
    zones: tuple[ZoneOutlook, ...]


def outlook_of(
    board: Board, side: Side, camera: Camera, conditions: Conditions, placement: Placement | None
) -> Outlook:
    """Foretell what a set-up can tell.

    Parameters
    ----------
    board : Board
    side : {"front", "rear"}
    camera : Camera
    conditions : Conditions
    placement : Placement or None
        Of the board in a frame, or in the frame it would fill; None where neither is known.

    Returns
    -------
    Outlook
    """
    focal_px = camera.optics.focal_px
    px_per_mm = math.nan if placement is None else scale_px_per_mm(placement, board)
    blur_px = ASSUMED_BLUR_PX if camera.optics.blur_px is None else camera.optics.blur_px
    blurs = math.hypot(blur_px, math.sqrt(PIXEL_VARIANCE_PX2))
    return Outlook(
        px_per_mm,
        max(GOOD_PIXELS_ACROSS, GOOD_BLURS * blurs),
        max(FEW_PIXELS_ACROSS, LEAST_BLURS * blurs),
        math.nan if focal_px is None else focal_px / px_per_mm,
        tuple(_zone_outlook(zone, camera, conditions, placement, px_per_mm) for zone in board.zones_of(side)),
    )


def filling_placement(board: Board, side: Side, camera: Camera) -> Placement | None:
    """Place a board as if seen straight on and filling most of the frame; None where the frame's size is not known."""
    size_px = camera.optics.size_px
    if size_px is None:
        return None
    x0, y0, x1, y1 = board.outline.box_mm
    columns, rows = size_px
    upright, turned = ((columns, rows), (rows, columns))
    scale = max(_FILLS * min(wide / (x1 - x0), high / (y1 - y0)) for wide, high in (upright, turned))
    flip = 1.0 if side == "front" else -1.0
    middle_x, middle_y = (columns - 1) / 2.0, (rows - 1) / 2.0
    matrix = np.array(
        [
            [flip * scale, 0.0, middle_x - flip * scale * (x0 + x1) / 2.0],
            [0.0, -scale, middle_y + scale * (y0 + y1) / 2.0],
            [0.0, 0.0, 1.0],
        ]
    )
    return Placement(matrix, side, camera.optics, size_px, "corners", 0.0, 0.0, 4)


def _zone_outlook(
    zone: Zone, camera: Camera, conditions: Conditions, placement: Placement | None, px_per_mm: float
) -> ZoneOutlook:
    across = math.nan
    if placement is not None:
        across = across_px(zone.shape, zone.exclude, at_height(placement, zone.height_mm))
    focal_px = camera.optics.focal_px
    distance_mm = math.nan if focal_px is None else focal_px * (across / px_per_mm) / GOOD_PIXELS_ACROSS
    at_degc = TYPICAL_DEGC if zone.limit is None else zone.limit.limit_degc
    terms = _terms(zone, camera, conditions, at_degc)
    own = [term for term in terms if term.shared != "session"]
    apart_k = expanded(math.sqrt(2.0) * combined(own))
    return ZoneOutlook(zone, across, at_degc, expanded(combined(terms)), apart_k, dominant(terms), distance_mm)


def _terms(zone: Zone, camera: Camera, conditions: Conditions, at_degc: float) -> tuple[Term, ...]:
    how = applied_to(zone, conditions)
    return budgets([how.seen(at_degc, camera.band)], [how], camera.accuracy, camera.accuracy.noise_k, camera.band)[0]
