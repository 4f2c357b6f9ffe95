"""A board over time: one picture a moment, on one scale and one page, so that only frame, numbers and clock move."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from numpy.typing import NDArray

from irspot.board import Board
from irspot.registration.placement import Placement
from irspot.rendering.callouts import Place, straight_leader
from irspot.rendering.caption import Caption, footer_lines, header_lines, header_px, set_footer
from irspot.rendering.colors import ColorScale, color_scale
from irspot.rendering.frame_layer import draw_frame, draw_outlines
from irspot.rendering.heat import Plan, blank, checked_size, finished, label_lines
from irspot.rendering.labels import Label, label_of, labels_of
from irspot.rendering.legend import legend_lines
from irspot.rendering.page import Page, on_page, plan_page
from irspot.rendering.picture import Picture
from irspot.rendering.text import text_width
from irspot.rendering.theme import RING
from irspot.rendering.underlay import Underlay
from irspot.results import Reading


@dataclass(frozen=True, slots=True)
class Moment:
    """What was measured at one time.

    Parameters
    ----------
    time_s : float
        Since the first frame.
    readings : sequence of Reading
    placement : Placement
    complete : bool
        Whether every pixel was measured.
    """

    time_s: float
    readings: Sequence[Reading]
    placement: Placement
    complete: bool = True


@dataclass(frozen=True, slots=True)
class Film:
    """A page on which every moment of a run can be drawn.

    Parameters
    ----------
    board : Board
    page : Page
        With the callouts where they stay.
    scale : ColorScale
    caption : Caption
    footer : tuple of str
    underlay : Underlay or None
    """

    board: Board
    page: Page
    scale: ColorScale
    caption: Caption
    footer: tuple[str, ...]
    underlay: Underlay | None = None

    def picture(self, surface_degc: NDArray[Any], moment: Moment) -> Picture:
        """Draw one moment.

        Parameters
        ----------
        surface_degc : ndarray, shape (rows, columns)
        moment : Moment
        """
        shape = (surface_degc.shape[0], surface_degc.shape[1])
        caption = replace(self.caption, clock=clock_text(moment.time_s))
        page, labels = self._page_of(moment, shape)
        lines = header_lines(caption, page) + legend_lines(page, self.scale) + set_footer(list(self.footer), page)
        image = blank(page)
        beneath = None if self.underlay is None else (self.underlay, moment.placement)
        draw_frame(image, page, surface_degc, self.scale, beneath)
        draw_outlines(image, page, self.board, moment.placement, surface_degc.shape)
        return finished(image, Plan(page, self.scale, labels, (*lines, *label_lines(page))))

    def _page_of(self, moment: Moment, shape: tuple[int, int]) -> tuple[Page, tuple[Label, ...]]:
        """Fill the page's places with what was measured at a moment."""
        zones = {zone.id: zone for zone in self.board.zones}
        now = {r.zone: label_of(r, zones.get(r.zone), moment.placement, shape) for r in moment.readings}

        def current(label: Label) -> Label:
            return now.get(label.zone, replace(label, value="", spot_px=None, hot_spot=False))

        page = self.page
        beside = [current(label) for label, _ in page.callouts]
        listed = [current(label) for label, _ in page.strip.cells] if page.strip else []
        spots = {id(label): on_page(label.spot_px, page.image, shape) for label in (*beside, *listed)}
        ring = page.px(1.6 * RING)
        callouts = tuple(
            (label, _led(place, spots[id(label)], ring))
            for label, (_, place) in zip(beside, page.callouts, strict=True)
        )
        strip = page.strip
        if strip is not None:
            cells = tuple((label, box) for label, (_, box) in zip(listed, strip.cells, strict=True))
            strip = replace(strip, cells=cells)
        labels = (*beside, *listed)
        at = tuple((label, spot) for label in labels if (spot := spots[id(label)]) is not None)
        return replace(page, callouts=callouts, strip=strip, spots=at), labels


def _led(place: Place, spot: tuple[float, float] | None, ring: float) -> Place:
    return replace(place, leader=straight_leader(spot, place.port, ring))


def film_of(
    moments: Sequence[Moment],
    frame_shape: tuple[int, int],
    board: Board,
    *,
    caption: Caption,
    scale_degc: tuple[float, float],
    cmap: str = "inferno",
    size: tuple[int, int] = (1920, 1080),
    underlay: Underlay | None = None,
) -> Film:
    """Lay out one page for all moments: callouts in the order and near the places of the last one.

    Parameters
    ----------
    moments : sequence of Moment
        At least one.
    frame_shape : tuple of int
        ``(rows, columns)``.
    board, caption, scale_degc, cmap, size, underlay
        See `irspot.rendering.heat_picture`.

    Returns
    -------
    Film
    """
    size = checked_size(size)
    scale = color_scale(cmap, scale_degc)
    if underlay is not None:
        caption = replace(caption, lines=(underlay.line, *caption.lines))
    caption = replace(
        caption, clock=clock_text(moments[-1].time_s), lines=("clock: since the first frame", *caption.lines)
    )
    labels, bound = _widest(moments, board, frame_shape)
    complete = all(moment.complete for moment in moments)
    footer = footer_lines(caption, cmap, bound_shown=bound, nan_shown=not complete, size=size)
    page = plan_page(size, frame_shape, labels, header_px(caption, size), len(footer))
    return Film(board, page, scale, caption, tuple(footer), underlay)


def _widest(moments: Sequence[Moment], board: Board, shape: tuple[int, int]) -> tuple[tuple[Label, ...], bool]:
    """Give the last moment's labels with the widest value each of them ever has, and whether any is a lower bound."""
    last = labels_of(moments[-1].readings, board, moments[-1].placement, shape)
    values: dict[str, set[str]] = {label.zone: {label.value} for label in last}
    bound = False
    for moment in moments:
        for label in labels_of(moment.readings, board, moment.placement, shape):
            values.setdefault(label.zone, set()).add(label.value)
            bound |= label.lower_bound
    widest = {
        zone: max(sorted(texts), key=lambda text: text_width(text, "bold", 40.0)) for zone, texts in values.items()
    }
    return tuple(replace(label, value=widest[label.zone]) for label in last), bound


def clock_text(time_s: float) -> str:
    """Write a time as a clock does.

    Examples
    --------
    >>> clock_text(0.0), clock_text(3725.6)
    ('0:00:00', '1:02:05')
    """
    whole = int(time_s)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"
