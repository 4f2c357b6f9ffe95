"""The page: what stands where at a given size. Pure geometry and strings; drawing only follows it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from irspot.rendering import theme
from irspot.rendering.callouts import Box, Gutter, Place, place_callouts
from irspot.rendering.labels import Label
from irspot.rendering.leaders import Point
from irspot.rendering.strip import Strip, plan_strip
from irspot.rendering.theme import Tier
from irspot.rendering.value import value_width

_ONE_GUTTER_BELOW = 1.25
"""Width by height; narrower pages have callouts on the right only."""
_WIDEST_GUTTER = 0.38
_LEAST_NAME = 110.0
"""Room for a name beside its value in one-line callouts."""
_HIGHEST_STRIP = 0.33
"""Of the plot's height."""
_ABOVE_STRIP = 14.0
_UNIT_HEIGHT, _UNIT_WIDTH = 1080.0, 1200.0
_LEGEND, _FOOTER_LINE = 118.0, 30.0


@dataclass(frozen=True, slots=True)
class Page:
    """Where everything stands.

    Parameters
    ----------
    size : tuple of int
        Width and height, px.
    unit : float
        px per design px.
    image : Box
        Where the frame goes, whole px.
    legend : Box
        The colour bar, its end caps included.
    tier : Tier
        Type sizes of the callouts.
    callouts : tuple of (Label, Place)
    strip : Strip or None
        The labels that found no place beside the frame, least hot ones.
    spots : tuple of (Label, Point)
        Every label that points somewhere, with the place on the page.
    captions : tuple of str
        What the legend calls its pins and its scale.
    """

    size: tuple[int, int]
    unit: float
    image: Box
    legend: Box
    tier: Tier
    callouts: tuple[tuple[Label, Place], ...]
    strip: Strip | None
    spots: tuple[tuple[Label, Point], ...]
    captions: tuple[str, str] = ("zone maxima", "scale, °C")

    def px(self, length: float) -> float:
        """Turn a design length into px of this page."""
        return length * self.unit


def unit_of(size: tuple[int, int]) -> float:
    """Px per design px: by height, unless the page is too narrow for its height."""
    return min(size[1] / _UNIT_HEIGHT, size[0] / _UNIT_WIDTH)


def plan_page(
    size: tuple[int, int],
    frame_shape: tuple[int, int],
    labels: Sequence[Label],
    header_px: float,
    footer_lines: int,
    *,
    legend: bool = True,
) -> Page:
    """Lay a page out.

    Parameters
    ----------
    size : tuple of int
        Width and height, px.
    frame_shape : tuple of int
        ``(rows, columns)`` of the frame.
    labels : sequence of Label
        The most important first; those that find no room beside the frame go to a strip below it.
    header_px : float
        Height of title and facts.
    footer_lines : int
        Lines of small print.
    legend : bool
        Whether room is left for a colour scale.

    Returns
    -------
    Page
    """
    unit = unit_of(size)
    sides = 2 if size[0] / size[1] >= _ONE_GUTTER_BELOW else 1
    legend_top = legend_top_px(size, footer_lines) + (0.0 if legend else unit * _LEGEND)
    plot = Box(theme.MARGIN * unit, header_px, size[0] - theme.MARGIN * unit, legend_top - 16.0 * unit)
    tier = _fitting_tier(len(labels), sides, plot, unit)
    strip = None
    if tier is None:
        tier = theme.TIERS[-1]
        strip = _strip_for(labels, sides, plot, tier, unit)
        plot = Box(plot.x0, plot.y0, plot.x1, strip.box.y0 - _ABOVE_STRIP * unit)
    beside = labels[: len(labels) - len(strip.labels)] if strip else labels
    image = _image_box(plot, frame_shape, _gutter_width(beside, tier, size[0], unit), sides if labels else 0, unit)
    points = [on_page(label.spot_px, image, frame_shape) for label in labels]
    height, gap = _callout_px(tier, unit)
    places = place_callouts(
        points[: len(beside)], _gutters(plot, image, sides, unit), height, gap, unit * 1.6 * theme.RING
    )
    return Page(
        size,
        unit,
        image,
        legend_box(size, footer_lines),
        tier,
        tuple(zip(beside, places, strict=True)),
        strip,
        tuple((label, point) for label, point in zip(labels, points, strict=True) if point is not None),
    )


def legend_top_px(size: tuple[int, int], footer_lines: int) -> float:
    """Where the room of the legend begins, px from the top."""
    return size[1] - unit_of(size) * (_LEGEND + 16.0 + _FOOTER_LINE * footer_lines)


def legend_box(size: tuple[int, int], footer_lines: int) -> Box:
    """Where the colour bar goes, its end caps included."""
    unit, top = unit_of(size), legend_top_px(size, footer_lines)
    return Box(theme.MARGIN * unit, top + 26.0 * unit, size[0] - theme.MARGIN * unit, top + 54.0 * unit)


def bare_page(size: tuple[int, int], footer_lines: int, image: Box) -> Page:
    """Lay out a page that has a legend and no callouts."""
    return Page(size, unit_of(size), image, legend_box(size, footer_lines), theme.TIERS[-1], (), None, ())


def on_page(spot_px: Point | None, image: Box, frame_shape: tuple[int, int]) -> Point | None:
    """Carry a place of the frame (pixel centres at integers) onto the page."""
    if spot_px is None:
        return None
    rows, columns = frame_shape
    return (
        image.x0 + (spot_px[0] + 0.5) * image.width / columns - 0.5,
        image.y0 + (spot_px[1] + 0.5) * image.height / rows - 0.5,
    )


def _callout_px(tier: Tier, unit: float) -> tuple[int, int]:
    return round(tier.height * unit), max(2, round(tier.gap * unit))


def _capacity(tier: Tier, sides: int, plot: Box, unit: float) -> int:
    return sides * Gutter("left", plot).capacity(*_callout_px(tier, unit))


def _fitting_tier(count: int, sides: int, plot: Box, unit: float) -> Tier | None:
    return next((tier for tier in theme.TIERS if count <= _capacity(tier, sides, plot, unit)), None)


def _strip_for(labels: Sequence[Label], sides: int, plot: Box, tier: Tier, unit: float) -> Strip:
    """Move labels to a strip, row by row, until the others fit beside what is left of the plot."""
    most_rows = max(1, int(_HIGHEST_STRIP * plot.height / (theme.STRIP_ROW * unit)))
    strips = (_strip_of(rows, labels, sides, plot, tier, unit) for rows in range(1, most_rows))
    return next(
        (strip for strip in strips if not strip.unlisted), _strip_of(most_rows, labels, sides, plot, tier, unit)
    )


def _strip_of(rows: int, labels: Sequence[Label], sides: int, plot: Box, tier: Tier, unit: float) -> Strip:
    box = Box(plot.x0, plot.y1 - rows * theme.STRIP_ROW * unit, plot.x1, plot.y1)
    room = _capacity(tier, sides, Box(plot.x0, plot.y0, plot.x1, box.y0 - _ABOVE_STRIP * unit), unit)
    return plan_strip(labels[room:], box, rows, unit)


def _gutter_width(labels: Sequence[Label], tier: Tier, page_width: float, unit: float) -> float:
    """Narrowest gutter that shows every value whole."""
    beside_text = (theme.CHIP + theme.CHIP_GAP + (_LEAST_NAME if tier.lines == 1 else 0.0)) * unit
    widest = max((value_width(label.value, tier, unit) for label in labels), default=0.0)
    return min(max(theme.GUTTER[0] * unit, widest + beside_text + 4.0 * unit), _WIDEST_GUTTER * page_width)


def _image_box(plot: Box, frame_shape: tuple[int, int], gutter: float, sides: int, unit: float) -> Box:
    """Fit the frame between the gutters, in its own proportions, on whole pixels."""
    rows, columns = frame_shape
    room = plot.width - sides * (gutter + theme.CHANNEL * unit)
    scale = min(room / columns, plot.height / rows)
    width, height = max(1, round(columns * scale)), max(1, round(rows * scale))
    x0 = round(plot.x0 if sides == 1 else plot.x0 + 0.5 * (plot.width - width))
    y0 = round(plot.y0 + 0.5 * (plot.height - height))
    return Box(x0, y0, x0 + width, y0 + height)


def _gutters(plot: Box, image: Box, sides: int, unit: float) -> list[Gutter]:
    channel, widest = theme.CHANNEL * unit, theme.GUTTER[1] * unit
    right = Box(image.x1 + channel, plot.y0, min(plot.x1, image.x1 + channel + widest), plot.y1)
    if sides == 1:
        return [Gutter("right", right)]
    left = Box(max(plot.x0, image.x0 - channel - widest), plot.y0, image.x0 - channel, plot.y1)
    return [Gutter("left", left), Gutter("right", right)]
