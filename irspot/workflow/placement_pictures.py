"""Pictures of placing: what was seen where a board was refused, where it lies where it was placed."""

from __future__ import annotations

from irspot.board import Board, Side
from irspot.errors import PlacementRefused
from irspot.frame import Frame
from irspot.placing import HowToPlace, ImageSide
from irspot.registration.placement import Placement
from irspot.uncertain import rounded

SIZE = (1920, 1080)


def refused_png(
    frame: Frame,
    board: Board,
    how: HowToPlace,
    refusal: PlacementRefused,
    *,
    side: Side,
    top: ImageSide | None,
    size: tuple[int, int] = SIZE,
) -> bytes:
    """Look at a frame once more in which a board was not placed, and draw what shows.

    Parameters
    ----------
    frame : Frame
    board : Board
    how : CornersPx, PointsPx or AutoPlacement
    refusal : PlacementRefused
    side : {"front", "rear"}
    top : str or None
    size : tuple of int
    """
    from irspot.radiometry import radiance_temperature
    from irspot.registration.seen import what_was_seen
    from irspot.rendering.refused_picture import refused_picture

    seen = what_was_seen(frame, board, how, side=side, top=top)
    subtitle = _subtitle(frame, side, top)
    return refused_picture(radiance_temperature(frame), board, seen, refusal, subtitle=subtitle, size=size).png_bytes()


def placed_png(
    frame: Frame, board: Board, placement: Placement, *, top: ImageSide | None, size: tuple[int, int] = SIZE
) -> bytes:
    """Draw a board where it was placed.

    Parameters
    ----------
    frame : Frame
    board : Board
    placement : Placement
    top : str or None
        As it was said.
    size : tuple of int
    """
    from irspot.radiometry import radiance_temperature
    from irspot.rendering.placed_picture import placed_picture

    subtitle = _subtitle(frame, placement.side, top)
    picture = placed_picture(
        radiance_temperature(frame), board, placement, facts=_facts(placement, board), subtitle=subtitle, size=size
    )
    return picture.png_bytes()


def _subtitle(frame: Frame, side: Side, top: ImageSide | None) -> str:
    parts = [frame.name, side, f"top faces {top}" if top else "", frame.time_text]
    return "  ·  ".join(part for part in parts if part)


def what_holds(placement: Placement) -> str:
    """Say what holds a placement."""
    if placement.method == "corners":
        return "placed by its corners, given by hand"
    if placement.method == "points":
        return "placed by marks, given by hand"
    if placement.method == "photo":
        return "found by a photo of the same view"
    marks = f"{len(placement.marks)} marks"
    if placement.share_held is None:
        return f"found by {marks} alone" if placement.marks else "found in the frame"
    return f"found by its outline and {marks}" if placement.marks else "found by its outline"


def _facts(placement: Placement, board: Board) -> list[str]:
    """Say how the board was placed, in whole phrases."""
    from irspot.workflow.place_file import view_facts

    known = view_facts(placement, board)
    facts = [what_holds(placement)]
    if placement.residual_px > 0.0005:
        facts.append(f"residual {rounded(placement.residual_px, 2)} px, {rounded(placement.residual_mm, 2)} mm")
    shares = [f"{100.0 * known['outline_in_view']:.0f} % of the outline in view"]
    if "outline_on_edges" in known:
        shares.append(f"edges along {100.0 * known['outline_on_edges']:.0f} % of that")
    facts.append(", ".join(shares))
    if "tilt_deg" in known:
        facts.append(f"camera tilted by {known['tilt_deg']:.0f}°, {known['camera_distance_mm']:.0f} mm away")
    return facts
