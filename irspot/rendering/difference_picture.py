"""Before and after: how much hotter a board became, on its own millimetres, with a colour map centred on zero."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from irspot.board import Board
from irspot.errors import UsageError
from irspot.measurement.change import ZoneChange
from irspot.registration.placement import Placement
from irspot.rendering.board_view import AXES_LINE, cut_out, inside_outline
from irspot.rendering.caption import PLUS_MINUS, Caption, small_print
from irspot.rendering.colors import color_scale
from irspot.rendering.frame_layer import draw_frame
from irspot.rendering.heat import blank, checked_size, plan_labels
from irspot.rendering.labels import RETAKE, Label, middle_px, shown_readings
from irspot.rendering.picture import Picture
from irspot.rendering.rectified import FOR_AXES, Margins, fitting_px_per_mm, rectified, straight_on
from irspot.rendering.scale import round_step
from irspot.rendering.text import clean

Seen = tuple[NDArray[np.float32], Placement]
"""A frame's surface temperatures and where the board is in it."""

DIVERGING: Final = (
    "RdBu_r",
    *("BrBG", "PRGn", "PiYG", "PuOr", "RdBu", "RdGy", "RdYlBu", "RdYlGn", "Spectral", "bwr", "coolwarm", "seismic"),
    *("berlin", "managua", "vanimo"),
)
"""Matplotlib's maps of two hues that meet in the middle; the first is the default. Each also ends in _r, turned."""
_LEAST_SPAN_K: Final = 2.0
_SHARE: Final = 99.5
"""Percentile of the map that its scale has to hold."""


def difference_map(
    before: Seen, after: Seen, board: Board, *, axes: bool, board_before: Board | None = None
) -> tuple[NDArray[np.float32], Placement]:
    """Carry two frames onto one straight view of their board, and subtract.

    Parameters
    ----------
    before, after : tuple of ndarray and Placement
    board : Board
    axes : bool
        Whether the view leaves room for axes.
    board_before : Board, optional
        With the heights that its zones had before, where they have others now.

    Returns
    -------
    ndarray of float32, shape (rows, columns)
        After less before, K; NaN where not both were measured, and off the board.
    Placement
        Of the board in that view.
    """
    (one, in_one), (other, in_other) = before, after
    fine = fitting_px_per_mm(board, [in_one, in_other])
    view = straight_on(board, in_other.side, fine, FOR_AXES if axes else Margins())
    difference = rectified(other, board, in_other, view) - rectified(one, board_before or board, in_one, view)
    difference[~inside_outline(board, view)] = np.nan
    return difference, view


def difference_picture(
    before: Seen,
    after: Seen,
    board: Board,
    changes: Sequence[ZoneChange],
    *,
    caption: Caption,
    span_k: float | None = None,
    cmap: str = DIVERGING[0],
    size: tuple[int, int] = (1920, 1080),
    axes: bool = True,
    board_before: Board | None = None,
) -> Picture:
    """Draw how much hotter a board became.

    Parameters
    ----------
    before, after : tuple of ndarray and Placement
        Of the same board and side.
    board : Board
    changes : sequence of ZoneChange
        Every number drawn is one of theirs; none is taken from the map.
    caption : Caption
    span_k : float, optional
        The scale runs from less to plus so many K; default from the data.
    cmap : str
        One of matplotlib's that run from one hue through a neutral middle to another.
    size : tuple of int
    axes : bool
        Whether millimetres stand along the edges.
    board_before : Board, optional
        With the heights that its zones had before, where they have others now.

    Returns
    -------
    Picture

    Raises
    ------
    UsageError
        For a colour map that has no middle.
    """
    size = checked_size(size)
    check_diverging(cmap)
    difference, view = difference_map(before, after, board, axes=axes, board_before=board_before)
    labels = change_labels(changes, board, view)
    span = span_k or fitting_span(difference, [label.degc for label in labels])
    hidden = np.isnan(difference) & inside_outline(board, view)
    told = ["after less before", f"colour map {clean(cmap)}, 0 in its middle", PLUS_MINUS]
    told += ["≥ ≤ one of the two is a lower bound" if any(label.lower_bound for label in labels) else ""]
    told += ["hatched: not seen in both" if hidden.any() else "", AXES_LINE if axes else ""]
    footer = small_print(caption, [*told, f"emissivity {clean(caption.emissivity)}"], size)
    scale = color_scale(cmap, (-span, span))
    shape = (view.size_px[1], view.size_px[0])
    plan = plan_labels(labels, shape, caption, scale, footer, size, ("of zone maxima", "change, K"))
    image = blank(plan.page)
    draw_frame(image, plan.page, difference, scale)
    return cut_out(image, plan, board, view, axes=axes)


def check_diverging(cmap: str) -> None:
    """Refuse a colour map that has no neutral middle for 0 K.

    Raises
    ------
    UsageError
    """
    if cmap.removesuffix("_r") not in {name.removesuffix("_r") for name in DIVERGING}:
        wanted = ", ".join(sorted({name.removesuffix("_r") for name in DIVERGING}, key=str.lower))
        raise UsageError("a difference needs a colour map with a neutral middle", found=cmap, wanted=f"one of {wanted}")


def fitting_span(difference_k: NDArray[np.float32], changes_k: Sequence[float]) -> float:
    """Choose a round half-range that holds nearly all of a map and every zone's change."""
    finite = np.abs(difference_k[np.isfinite(difference_k)])
    most = float(np.percentile(finite, _SHARE)) if finite.size else 0.0
    known = [abs(change) for change in changes_k if math.isfinite(change)]
    return round_step(max([most, *known]), least=_LEAST_SPAN_K)


def change_labels(changes: Sequence[ZoneChange], board: Board, view: Placement) -> tuple[Label, ...]:
    """Make the labels of changes, the largest first, those not known last."""
    shown = {reading.zone for reading in shown_readings([change.after for change in changes])}
    labels = [_label(change, board, view) for change in changes if change.after.zone in shown]
    return tuple(sorted(labels, key=lambda label: (math.isnan(label.degc), -abs(label.degc))))


def _label(change: ZoneChange, board: Board, view: Placement) -> Label:
    after = change.after
    name = clean(after.zone_name) or clean(after.zone)
    text = change.headline()
    zone = next((zone for zone in board.zones if zone.id == after.zone), None)
    shape = (view.size_px[1], view.size_px[0])
    if not text:
        word = RETAKE if RETAKE in (after.verdict, change.before.verdict) else "not known"
        return Label(name, word, math.nan, False, middle_px(zone, view, shape), False, change.why, after.zone)
    x, y = view.to_px(np.array([[after.hot_x_mm, after.hot_y_mm]]))[0]
    bound = change.kind != "known"
    return Label(name, text, change.change_k, bound, (float(x), float(y)), True, change.why, after.zone)
