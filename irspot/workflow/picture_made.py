"""What a picture is to look like, what it is drawn from, and what comes of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal

from irspot.board import Board
from irspot.errors import UsageError
from irspot.results import Row
from irspot.workflow.picture_source import Shot

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from irspot.registration.placement import Placement
    from irspot.rendering import Picture
    from irspot.rendering.alt_text import Words


@dataclass(frozen=True, slots=True)
class Look:
    """How a picture is to look.

    Parameters
    ----------
    size : tuple of int
        Width and height, px.
    cmap : str or None
        A colour map of matplotlib; None for the kind's own.
    scale_degc : tuple of float or None
        Ends of the colour scale; None for the study's, or by the data.
    span_k : float or None
        Of a difference: its scale runs from less to plus so many K.
    limit_degc : float or None
        Of an isotherm; None for the board's own.
    axes : bool
        Whether millimetres stand along a board seen straight on.
    safe : {5, 10}
        Per cent of an overlay that stay clear at each edge.
    opacity : float
        Of an overlay's frame.
    photo_opacity : float or None
        Of the photo beneath; None for the run's own.
    """

    size: tuple[int, int] = (1920, 1080)
    cmap: str | None = None
    scale_degc: tuple[float, float] | None = None
    span_k: float | None = None
    limit_degc: float | None = None
    axes: bool = True
    safe: Literal[5, 10] = 5
    opacity: float = 1.0
    photo_opacity: float | None = None

    @property
    def map(self) -> str:
        """The colour map of temperatures."""
        return self.cmap or "inferno"


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """A picture that was made.

    Parameters
    ----------
    picture : Picture
        With its alt text.
    words : Words
    rows : tuple of Row
        Behind every number on it.
    scale : tuple of float or None
        Ends of its colour scale, °C; None where it has none, or it is of differences.
    further : dict
        What else a sidecar says: changes, areas.
    failures : tuple of str
        What could not be shown, where the rest could.
    """

    picture: Picture
    words: Words
    rows: tuple[Row, ...]
    scale: tuple[float, float] | None
    further: dict[str, Any] = field(default_factory=dict)
    failures: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What is certainly there of a shot that can be drawn."""

    board: Board
    placement: Placement
    surface_degc: NDArray[np.float32]


def seen_of(shot: Shot) -> Seen:
    """Give what a picture is drawn from.

    Raises
    ------
    IrspotError
        Why there is nothing.
    """
    if shot.failure is not None:
        raise shot.failure
    assert shot.board is not None
    assert shot.placement is not None
    assert shot.surface_degc is not None
    return Seen(shot.board, shot.placement, shot.surface_degc)


def scale_of(shots: Sequence[Shot], look: Look, study_scale: tuple[float, float] | None) -> tuple[float, float]:
    """Give the one scale of a picture: asked for, or the study's, or what holds all of it."""
    from irspot.rendering import auto_scale

    stated = look.scale_degc or study_scale
    if stated is not None:
        return stated
    extremes = [shot.extremes_degc for shot in shots]
    if not any(math.isfinite(low) and math.isfinite(high) for low, high in extremes):
        return 0.0, 100.0  # nothing was placed, so that nothing will be coloured
    return auto_scale(extremes)


def with_opacity(shot: Shot, opacity: float | None) -> Shot:
    """Show the photo beneath a shot at another opacity than its run states.

    Raises
    ------
    UsageError
        If there is no photo.
    """
    if opacity is None or shot.failure is not None:
        return shot
    if shot.underlay is None:
        hint = "give the run a photo in the study, and see what irspot run says of it"
        raise UsageError("there is no photo to show beneath the colours", key=f"run {shot.run_id}", hint=hint)
    return replace(shot, underlay=replace(shot.underlay, opacity=opacity))
