"""The numbers printed at a colour bar, read only where they are certain."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from irspot.color_picture import Bar, BarScale, Box, Rgb
from irspot.decoding.label_ink import Ink, Region, region_around
from irspot.decoding.label_places import LabelBox, label_boxes
from irspot.decoding.label_reading import LEAST_DIGITS_PX, Reading, number_like, read_label
from irspot.decoding.label_rules import Ends, Placed, Refused, Unit, ends_of
from irspot.decoding.ocr import engine
from irspot.errors import BarRefused

_BY_HAND = "give the temperatures of the bar's ends by hand: --low and --high, or color_scale_degc = [low, high]"
_UNCERTAIN = "the numbers at the colour bar cannot be read for certain"
_INKS: tuple[tuple[Ink, ...], ...] = (("white", "black"), ("light", "dark"))
"""Coloured print is sought where there is no white or black one."""
_SAME_HEIGHT = 0.12
_SAME_DISTANCE = 1.2
"""Of the digits' height, by which numbers of one column may differ in their distance from the bar."""
_SAME_ENDS = 0.015
"""Of the range: two columns, one of them continued to the ends, agree within it."""


@dataclass(frozen=True, slots=True)
class PrintedScale:
    """The scale that labels give, and how.

    Parameters
    ----------
    scale : BarScale
    texts : tuple of str
        The numbers as printed, from the low end up.
    unit : {"", "C", "F", "K"}
        As printed; none is taken for °C.
    bound_k : float
        How far either end may be off: what printing rounded away, and where the scale had to be continued to the ends,
        what the numbers' places are uncertain by.
    boxes_px : tuple of tuple of int
        Where they stand in the picture.
    """

    scale: BarScale
    texts: tuple[str, ...]
    unit: Unit
    bound_k: float
    boxes_px: tuple[Box, ...]

    @property
    def statement(self) -> str:
        """Say in a sentence what was read, and what was converted."""
        unit = {"": "", "C": " °C", "F": " °F", "K": " K"}[self.unit]
        read = f"labels {', '.join(self.texts)}{unit} read at the colour bar"
        if self.unit in ("F", "K"):
            return f"{read}, converted to {self.scale.low_degc:.2f} to {self.scale.high_degc:.2f} °C"
        return read


def read_labels(rgb: Rgb, bar: Bar, *, ambient_degc: float | None = None) -> BarScale:
    """Read the temperatures of a bar's ends from the numbers printed at it.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
    bar : Bar
    ambient_degc : float, optional
        Numbers far from it are refused: a cold end more than 60 K above it, a hot end more than 20 K below it.

    Returns
    -------
    BarScale

    Raises
    ------
    BarRefused
        With cause ``labels`` and the PNG of what was looked at in `crop_png`.
    LibraryMissing
        If the extra ``ocr`` is not installed.
    """
    return printed_scale(rgb, bar, ambient_degc=ambient_degc).scale


def printed_scale(rgb: Rgb, bar: Bar, *, ambient_degc: float | None = None) -> PrintedScale:
    """Read the numbers printed at a bar; see `read_labels`, which gives the scale alone."""
    engine()
    region = region_around(rgb, bar.box_px, _reach_px(rgb))
    reasons: list[tuple[int, str]] = []
    for inks in _INKS:
        boxes = label_boxes(region, bar.low_end, inks)
        scales = []
        for column in _columns(region, boxes):
            try:
                scales.append(_scale_of(region, bar, column, ambient_degc))
            except Refused as refusal:
                reasons.append((len(column), str(refusal)))
        scales.sort(key=lambda scale: len(scale.texts), reverse=True)
        if scales and all(_same(scale, scales[0]) for scale in scales):
            return scales[0]
        if scales:
            raise _refusal(rgb, bar, "two sets of numbers at the colour bar disagree")
        if boxes and max(box.height_px for box in boxes) < LEAST_DIGITS_PX:
            reasons.append((1, f"the digits at the colour bar are lower than {LEAST_DIGITS_PX} px"))
    raise _refusal(rgb, bar, max(reasons, default=(0, _UNCERTAIN))[1])


def _reach_px(rgb: Rgb) -> int:
    rows, columns = rgb.shape[:2]
    return max(80, int(min(rows, columns)) // 3)


def _columns(region: Region, boxes: Iterable[LabelBox]) -> Iterator[list[Reading]]:
    """Read what looks like numbers of one height, side and distance from the bar."""
    columns: list[list[tuple[LabelBox, float]]] = []
    seen = {box: forms for box in boxes if (forms := number_like(region, box))}
    for box in seen:
        distance = _distance_px(box, region.bar_px)
        fitting = (column for column in columns if _fits(box, distance, column[0]))
        column = next(fitting, None)
        if column is None:
            columns.append([(box, distance)])
        else:
            column.append((box, distance))
    for column in columns:
        if len(column) >= 2:
            readings = [read_label(region, box, seen[box]) for box, _ in column]
            yield [reading for reading in readings if reading is not None]


def _fits(box: LabelBox, distance: float, first: tuple[LabelBox, float]) -> bool:
    other, other_distance = first
    alike = (box.ink, box.widest_px, box.side) == (other.ink, other.widest_px, other.side)
    height = max(box.height_px, other.height_px)
    return (
        alike
        and abs(box.height_px - other.height_px) <= max(1.0, _SAME_HEIGHT * height)
        and abs(distance - other_distance) <= _SAME_DISTANCE * height
    )


def _distance_px(box: LabelBox, bar: Box) -> float:
    """Give a label's distance from the bar; 0 beyond its ends, where labels need not be alike."""
    if box.side == "beyond":
        return 0.0
    x0, y0, x1, y1 = box.box_px
    return float(max(bar[0] - x1, x0 - bar[2], bar[1] - y1, y0 - bar[3]))


def _scale_of(region: Region, bar: Bar, column: Sequence[Reading], ambient_degc: float | None) -> PrintedScale:
    """Make a scale of a column of numbers: leading dashes are minus signs, or all of them are ticks of the bar."""
    if any(reading.dash is not None for reading in column) and _could_be_ticks(column):
        try:
            return _with_dashes(region, bar, column, ambient_degc, minus=True)
        except Refused:
            return _with_dashes(region, bar, column, ambient_degc, minus=False)
    return _with_dashes(region, bar, column, ambient_degc, minus=True)


def _could_be_ticks(column: Sequence[Reading]) -> bool:
    dashes = [reading.dash for reading in column if reading.dash is not None]
    beside = all(reading.label.side == "after" for reading in column)
    return beside and len(dashes) == len(column) and max(dashes) - min(dashes) <= 1.5


def _with_dashes(
    region: Region, bar: Bar, column: Sequence[Reading], ambient_degc: float | None, *, minus: bool
) -> PrintedScale:
    if minus and not all(reading.minus_read for reading in column if reading.dash is not None):
        raise Refused("a minus sign at the colour bar is not certain")
    ordered = sorted(column, key=lambda reading: reading.label.centre)
    placed = [_placed(reading, minus) for reading in ordered]
    x0, y0, x1, y1 = bar.box_px
    ends = ends_of(placed, float(y1 - y0 if bar.vertical else x1 - x0), ambient_degc)
    return _printed(region, ends, ordered, placed)


def _placed(reading: Reading, minus: bool) -> Placed:
    number = reading.unsigned
    if minus and reading.dash is not None:
        number = replace(number, text=f"-{number.text}", value=-number.value)
    label = reading.label
    return Placed(number, reading.unit, label.centre, label.reach, label.side == "beyond")


def _printed(region: Region, ends: Ends, ordered: Sequence[Reading], placed: Sequence[Placed]) -> PrintedScale:
    texts = tuple(label.number.text for label in placed)
    scale = BarScale(((0.0, ends.low_degc), (1.0, ends.high_degc)), "printed", ends.bound_k, texts)
    boxes = tuple(region.in_picture(reading.label.box_px) for reading in ordered)
    return PrintedScale(scale, texts, placed[0].unit, ends.bound_k, boxes)


def _same(a: PrintedScale, b: PrintedScale) -> bool:
    allowed = _SAME_ENDS * (b.scale.high_degc - b.scale.low_degc)
    return all(
        abs(one - other) <= allowed
        for one, other in ((a.scale.low_degc, b.scale.low_degc), (a.scale.high_degc, b.scale.high_degc))
    )


def _refusal(rgb: Rgb, bar: Bar, reason: str) -> BarRefused:
    crop = crop_px(rgb, bar)
    found = f"the picture's part {','.join(map(str, crop))}"
    return BarRefused(reason, cause="labels", crop_png=label_crop(rgb, bar), found=found, hint=_BY_HAND)


def crop_px(rgb: Rgb, bar: Bar) -> Box:
    """Give the box of the picture in which a bar's numbers are sought."""
    rows, columns = rgb.shape[:2]
    reach, (x0, y0, x1, y1) = _reach_px(rgb), bar.box_px
    return (max(0, x0 - reach), max(0, y0 - reach), min(columns, x1 + reach), min(rows, y1 + reach))


def label_crop(rgb: Rgb, bar: Bar) -> bytes:
    """Give that part of the picture as a PNG, for a person to read the numbers from."""
    from PIL import Image

    x0, y0, x1, y1 = crop_px(rgb, bar)
    buffer = io.BytesIO()
    Image.fromarray(rgb[y0:y1, x0:x1]).save(buffer, "PNG")
    return buffer.getvalue()
