"""The page of a placement's picture: the frame in grey, and beside or below it what is to be said about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from irspot.rendering import theme
from irspot.rendering.callouts import Box
from irspot.rendering.page import unit_of
from irspot.rendering.resample import resample
from irspot.rendering.sheet import Line
from irspot.rendering.strokes import Image, frame_around
from irspot.rendering.text import Weight, clean, paragraph, shortened
from irspot.rendering.theme import Color
from irspot.uncertain import rounded

FloatArray = NDArray[np.float64]
Mark = Literal["none", "solid", "dashed", "dotted", "dots"]

_BESIDE_FROM: Final = 1.25
"""Width by height from which words stand beside the frame; else below it."""
_COLUMN: Final = 0.36
_HEADER: Final = 96.0
_KEY: Final = 78.0
"""Width of the sample of a line beside its words."""
_LEADING: Final = 1.3
_BETWEEN: Final = 0.55
_SIZES: Final = (1.35, 1.2, 1.1, 1.0, 0.9, 0.8, 0.7, 0.6, 0.5)
_GREYS: Final = (26, 232)
_ROBUST: Final = (0.5, 99.8)


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that is said.

    Parameters
    ----------
    text : str
    size : float
        Design px.
    weight : {"regular", "bold"}
    color : tuple of int
        Of the words.
    mark : {"none", "solid", "dashed", "dotted", "dots"}
        The sample of a line, or of dots, before the words.
    mark_color : tuple of int
    """

    text: str
    size: float
    weight: Weight = "regular"
    color: Color = theme.INK
    mark: Mark = "none"
    mark_color: Color = theme.INK


@dataclass(frozen=True, slots=True)
class Key:
    """The sample of a line on the page: where it starts, how long and of which kind it is."""

    x: float
    y: float
    width: float
    mark: Mark
    color: Color


@dataclass(frozen=True, slots=True)
class Plan:
    """A page before it is drawn.

    Parameters
    ----------
    size : tuple of int
    unit : float
        px per design px.
    image : Box
        Where the frame goes, whole px.
    frame_shape : tuple of int
        ``(rows, columns)`` of the frame.
    lines : tuple of Line
    keys : tuple of Key
    """

    size: tuple[int, int]
    unit: float
    image: Box
    frame_shape: tuple[int, int]
    lines: tuple[Line, ...]
    keys: tuple[Key, ...]

    def px(self, length: float) -> float:
        """Turn a design length into px of this page."""
        return length * self.unit

    def on_page(self, xy_px: FloatArray) -> FloatArray:
        """Carry places of the frame (pixel centres at integers) onto the page, shape (n, 2)."""
        rows, columns = self.frame_shape
        scale = np.array([self.image.width / columns, self.image.height / rows])
        return np.asarray((xy_px + 0.5) * scale - 0.5 + np.array([self.image.x0, self.image.y0]))

    def on_image(self, xy_px: FloatArray) -> FloatArray:
        """Carry places of the frame onto the part of the page that shows it."""
        return np.asarray(self.on_page(xy_px) - np.array([self.image.x0, self.image.y0]))

    @property
    def view(self) -> tuple[slice, slice]:
        """That part of the page as an index."""
        box = self.image
        return slice(int(box.y0), int(box.y1)), slice(int(box.x0), int(box.x1))


def plan_placement(
    size: tuple[int, int], frame_shape: tuple[int, int], title: str, subtitle: str, items: Sequence[Item]
) -> Plan:
    """Lay a page out; words are set smaller until they fit.

    Parameters
    ----------
    size : tuple of int
        Width and height, px.
    frame_shape : tuple of int
    title, subtitle : str
    items : sequence of Item
        In their order.
    """
    unit = unit_of(size)
    margin = theme.MARGIN * unit
    room = size[0] - 2.0 * margin
    header = [
        Line(shortened(clean(title), "bold", 44.0 * unit, room), margin, 62.0 * unit, 44.0 * unit, "bold"),
        Line(
            shortened(clean(subtitle), "regular", 29.0 * unit, room), margin, 104.0 * unit, 29.0 * unit,
            color=theme.MUTED,
        ),
    ]  # fmt: skip
    plot = Box(margin, (_HEADER + 36.0) * unit, size[0] - margin, size[1] - margin)
    if size[0] / size[1] >= _BESIDE_FROM:
        image, words = _beside(plot, frame_shape, unit)
    else:
        image, words = _stacked(plot, frame_shape, items, unit)
    lines, keys = _fitting(items, words, unit)
    return Plan(size, unit, image, frame_shape, (*header, *lines), tuple(keys))


def _beside(plot: Box, frame_shape: tuple[int, int], unit: float) -> tuple[Box, Box]:
    """Give the words a column, and the frame what is left; a frame that needs less leaves the rest to the words."""
    gap = 36.0 * unit
    room = Box(plot.x0, plot.y0, plot.x1 - _COLUMN * plot.width - gap, plot.y1)
    image = _fitted(room, frame_shape)
    image = Box(image.x0, round(plot.y0), image.x1, round(plot.y0) + image.height)
    return image, Box(image.x1 + gap, plot.y0, plot.x1, plot.y1)


def _stacked(plot: Box, frame_shape: tuple[int, int], items: Sequence[Item], unit: float) -> tuple[Box, Box]:
    """Give the frame the page's width where the words then have room below it, else what they leave."""
    gap = 26.0 * unit
    _, bottom = _flowed(items, Box(plot.x0, 0.0, plot.x1, plot.y1), unit, 1.0)
    most = max(0.45 * plot.height, plot.height - gap - bottom)
    image = _fitted(Box(plot.x0, plot.y0, plot.x1, plot.y0 + most), frame_shape)
    return image, Box(plot.x0, image.y1 + gap, plot.x1, plot.y1)


def _fitted(room: Box, frame_shape: tuple[int, int]) -> Box:
    """Fit the frame into a room, in its own proportions, at its upper left, on whole pixels."""
    rows, columns = frame_shape
    scale = min(room.width / columns, room.height / rows)
    width, height = max(1, round(columns * scale)), max(1, round(rows * scale))
    x0, y0 = round(room.x0), round(room.y0)
    return Box(x0, y0, x0 + width, y0 + height)


def _fitting(items: Sequence[Item], box: Box, unit: float) -> tuple[list[Line], list[Key]]:
    """Set the words in the largest size that fits their box; the last size is taken in any case, and cut off."""
    for share in _SIZES:
        (lines, keys), bottom = _flowed(items, box, unit, share)
        if bottom <= box.y1:
            return lines, keys
    return [line for line in lines if line.y <= box.y1], [key for key in keys if key.y <= box.y1]


def _flowed(items: Sequence[Item], box: Box, unit: float, share: float) -> tuple[tuple[list[Line], list[Key]], float]:
    """Set words one below the other; give them, their samples of lines, and where they end."""
    lines: list[Line] = []
    keys: list[Key] = []
    y = box.y0
    for item in items:
        size = item.size * unit * share
        indent = 0.0 if item.mark == "none" else _KEY * unit * share
        for number, text in enumerate(paragraph(clean(item.text), item.weight, size, box.width - indent)):
            if number == 0 and indent:
                keys.append(Key(box.x0, y + 0.62 * size, 0.8 * indent, item.mark, item.mark_color))
            lines.append(Line(text, box.x0 + indent, y + 0.95 * size, size, item.weight, item.color))
            y += _LEADING * size
        y += _BETWEEN * size
    return (lines, keys), y


def begun(plan: Plan, degc: NDArray[Any]) -> Image:
    """Begin a page: its ground, and the frame in greys."""
    image = np.empty((plan.size[1], plan.size[0], 3), np.uint8)
    image[:] = np.full((plan.size[0], 3), theme.PAGE, np.uint8)
    draw_grey(image, plan, degc)
    return image


def draw_grey(image: Image, plan: Plan, degc: NDArray[Any]) -> tuple[float, float]:
    """Show the frame in greys between its robust extremes; what was not measured is hatched.

    Returns
    -------
    tuple of float
        Temperatures of black and white; NaN where nothing was measured.
    """
    from irspot.rendering.frame_layer import hatch

    view = image[plan.view]
    shown = resample(degc, view.shape[1], view.shape[0])
    missing = ~np.isfinite(shown)
    low, high = grey_range(degc)
    if np.isfinite(low):
        share = np.clip((shown - low) / max(high - low, 1e-6), 0.0, 1.0)
        grey = _GREYS[0] + (_GREYS[1] - _GREYS[0]) * np.where(missing, 0.0, share)
        view[:] = np.rint(grey).astype(np.uint8)[..., None]
    if missing.any():
        view[missing] = hatch(view.shape[:2], max(3, round(plan.px(9.0))))[missing]
    box = plan.image
    frame_around(image, (box.x0, box.y0, box.x1, box.y1), plan.px(1.5), theme.HAIRLINE)
    return low, high


def grey_range(degc: NDArray[Any]) -> tuple[float, float]:
    """Give the temperatures that black and white stand for; NaN where nothing was measured."""
    known = degc[np.isfinite(degc)]
    if not known.size:
        return float("nan"), float("nan")
    low, high = (float(end) for end in np.percentile(known, _ROBUST))
    return low, max(high, low + 1e-3)


def grey_words(low_degc: float, high_degc: float) -> str:
    """Say what the greys stand for."""
    low, high = rounded(low_degc, 1), rounded(high_degc, 1)
    return f"grey: {low} °C (black) to {high} °C (white), as emissivity 1 would have it"
