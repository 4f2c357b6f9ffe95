"""Whether an emissivity map may be applied to a frame: the same camera, the same side, much the same view."""

from __future__ import annotations

from irspot.board import Board
from irspot.constants import EVEN_SCALE, EVEN_VIEW_DEG
from irspot.errors import MapRefused
from irspot.frame import Frame
from irspot.measurement.even_map import EmissivityMap
from irspot.measurement.viewed import difference_deg, scale_px_per_mm
from irspot.registration.placement import Placement


def refuse_other_view(frame: Frame, placement: Placement, board: Board, mapped: EmissivityMap) -> None:
    """Refuse to apply a map to a frame that another camera took, or the same from elsewhere.

    Parameters
    ----------
    frame : Frame
        The measured one.
    placement : Placement
        Of the board in it.
    board : Board
    mapped : EmissivityMap

    Raises
    ------
    MapRefused
    """
    even, name = mapped.placement, mapped.name
    if frame.camera.band != mapped.camera.band:
        raise MapRefused(
            "the even frame is of another band than the measured one", file=name, hint="take both with the same camera"
        )
    if placement.size_px != even.size_px:
        raise MapRefused(
            "the even frame is not of the size of the measured one",
            file=name,
            found="{} x {} px".format(*even.size_px),
            wanted="{} x {} px".format(*placement.size_px),
            hint="take both with the same camera",
        )
    if placement.side != even.side:
        raise MapRefused("the even frame shows the other side of the board", file=name, found=even.side)
    angle = difference_deg(placement, even, board)
    if angle > EVEN_VIEW_DEG:
        raise MapRefused(
            "the even frame sees the board from another direction than the measured one",
            file=name,
            found=f"{angle:.0f}° apart",
            wanted=f"up to {EVEN_VIEW_DEG:g}°",
            hint="take both from the same place",
        )
    scale = scale_px_per_mm(even, board) / scale_px_per_mm(placement, board)
    if not 1.0 / EVEN_SCALE <= scale <= EVEN_SCALE:
        raise MapRefused(
            "the even frame shows the board in another size than the measured one",
            file=name,
            found=f"{scale:.2f} times as large",
            wanted=f"within a factor of {EVEN_SCALE:g}",
            hint=f"take both from the same place ({frame.name})",
        )
