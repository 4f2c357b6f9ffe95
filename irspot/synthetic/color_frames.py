"""Colour-mapped pictures of known truth: temperatures drawn in colours, a bar burned in, and what lies over it."""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from irspot.color_picture import Box, End, Rgb
from irspot.synthetic.color_ink import Paint, draw_overlay, draw_text, text_size
from irspot.synthetic.color_style import ColorStyle

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class PrintedLabel:
    """A number printed at the bar: its words, its value, and the box of its ink."""

    text: str
    degc: float
    place: float
    box_px: Box


@dataclass(frozen=True, slots=True, eq=False)
class ColorFrame:
    """A picture and the truth behind it.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
    degc : ndarray of float, shape (rows, columns)
        Temperatures before colouring, not clipped.
    low_degc, high_degc : float
        Of the bar's ends: the outer edges of its first and last pixel.
    bar_px : tuple of int
        The bar's colours without border, ticks and gap.
    low_end : {"top", "bottom", "left", "right"}
    labels : tuple of PrintedLabel
    drawn : ndarray of bool, shape (rows, columns)
        Wherever something other than the scene's own colour was put: bar, panel, labels, overlays.
    """

    rgb: Rgb
    degc: FloatArray
    low_degc: float
    high_degc: float
    bar_px: Box
    low_end: End
    labels: tuple[PrintedLabel, ...]
    drawn: BoolArray


def color_table(cmap: str, steps: int | None) -> FloatArray:
    """Give a colour map's colours from low to high, 0 to 255.

    Parameters
    ----------
    cmap : str
        One of matplotlib's.
    steps : int or None
        None for the map's own colours (256 as a rule), between which `colored` then interpolates.

    Returns
    -------
    ndarray, shape (n, 3)
    """
    from matplotlib import colormaps

    chosen = colormaps[cmap]
    count = chosen.N if steps is None else steps
    return np.asarray(chosen((np.arange(count) + 0.5) / count)[:, :3] * 255.0, np.float64)


def colored(place: FloatArray, cmap: str, steps: int | None) -> Rgb:
    """Turn places on the bar into colours.

    Parameters
    ----------
    place : ndarray, any shape
        0 at the low end of the bar, 1 at the high end; clipped.
    cmap : str
    steps : int or None
        As in `color_table`.

    Returns
    -------
    ndarray of uint8, that shape + (3,)
    """
    table = color_table(cmap, steps)
    inside = np.clip(place, 0.0, 1.0)
    if steps is not None:
        index = np.minimum((inside * steps).astype(np.intp), steps - 1)
        return np.rint(table[index]).astype(np.uint8)
    at = (np.arange(len(table)) + 0.5) / len(table)
    channels = [np.interp(inside, at, table[:, channel]) for channel in range(3)]
    return np.rint(np.stack(channels, axis=-1)).astype(np.uint8)


def render(degc: FloatArray, low_degc: float, high_degc: float, style: ColorStyle) -> ColorFrame:
    """Draw temperatures as a colour-mapped picture of the same size.

    Parameters
    ----------
    degc : ndarray, shape (rows, columns)
    low_degc, high_degc : float
        Temperatures of the bar's ends.
    style : ColorStyle

    Returns
    -------
    ColorFrame

    Raises
    ------
    ValueError
        If the bar does not fit the picture.
    """
    rows, columns = degc.shape
    bar = bar_box(style, (columns, rows))
    paint = Paint(colored((degc - low_degc) / (high_degc - low_degc), style.cmap, style.steps))
    for overlay in style.overlays:
        draw_overlay(paint, overlay)
    _draw_panel(paint, style)
    _draw_surround(paint, bar, style)
    _draw_colors(paint, bar, style)
    labels = _draw_labels(paint, bar, low_degc, high_degc, style)
    for cover in style.covers:
        draw_overlay(paint, cover)
    return ColorFrame(
        paint.rgb, np.array(degc, np.float64), low_degc, high_degc, bar, style.low_end, labels, paint.drawn
    )


def bar_box(style: ColorStyle, size_px: tuple[int, int]) -> Box:
    """Say where the bar's colours lie in a picture of ``(columns, rows)``.

    Raises
    ------
    ValueError
        If it does not fit.
    """
    place = style.place
    along_size, across_size = (size_px[1], size_px[0]) if style.vertical else size_px
    length = round(place.length * along_size)
    start = round(place.along * (along_size - length))
    room = across_size - place.thickness_px
    if place.side == "inside":
        across = round(place.across * room)
    else:
        across = place.margin_px if place.side in ("left", "top") else room - place.margin_px
    if start < 0 or length < 2 or not 0 <= across <= room:
        raise ValueError(f"a bar of {length} by {place.thickness_px} px does not fit {size_px[0]} x {size_px[1]} px")
    along, over = (start, start + length), (across, across + place.thickness_px)
    (x0, x1), (y0, y1) = (over, along) if style.vertical else (along, over)
    return (x0, y0, x1, y1)


def _draw_panel(paint: Paint, style: ColorStyle) -> None:
    rows, columns = paint.drawn.shape
    width = style.place.panel_px
    boxes: dict[str, Box] = {
        "left": (0, 0, width, rows),
        "right": (columns - width, 0, columns, rows),
        "top": (0, 0, columns, width),
        "bottom": (0, rows - width, columns, rows),
    }
    if width and style.place.side in boxes:
        paint.fill(boxes[style.place.side], style.paper)


def grown(box: Box, by_px: int) -> Box:
    """Give a box with a margin on every side."""
    return (box[0] - by_px, box[1] - by_px, box[2] + by_px, box[3] + by_px)


def _draw_surround(paint: Paint, bar: Box, style: ColorStyle) -> None:
    if style.border_px:
        paint.fill(grown(bar, style.gap_px + style.border_px), style.ink)
    if style.gap_px:
        paint.fill(grown(bar, style.gap_px), style.paper)
    for place in np.linspace(0.0, 1.0, style.ticks):
        paint.fill(_tick_box(bar, float(place), style), style.ink)


def _place_px(bar: Box, place: float, style: ColorStyle) -> int:
    """Give the pixel along the bar that holds a place of it, the ends kept on their last pixels."""
    first, last = (bar[1], bar[3] - 1) if style.vertical else (bar[0], bar[2] - 1)
    share = place if style.low_end in ("top", "left") else 1.0 - place
    return round(first + share * (last - first))


def _tick_box(bar: Box, place: float, style: ColorStyle) -> Box:
    at = _place_px(bar, place, style)
    outside = style.gap_px + style.border_px
    before = style.labels.place == "before"
    if style.vertical:
        x = bar[0] - outside - style.tick_px if before else bar[2] + outside
        return (x, at, x + style.tick_px, at + 1)
    y = bar[1] - outside - style.tick_px if before else bar[3] + outside
    return (at, y, at + 1, y + style.tick_px)


def _draw_colors(paint: Paint, bar: Box, style: ColorStyle) -> None:
    length = bar[3] - bar[1] if style.vertical else bar[2] - bar[0]
    line = colored((np.arange(length) + 0.5) / length, style.cmap, style.steps)
    if style.low_end in ("bottom", "right"):
        line = line[::-1]
    paint.put(bar, line[:, None] if style.vertical else line[None])


def _draw_labels(paint: Paint, bar: Box, low: float, high: float, style: ColorStyle) -> tuple[PrintedLabel, ...]:
    labels = style.labels
    count = 2 if labels.place == "beyond" and labels.count else labels.count
    printed = []
    for place in np.linspace(0.0, 1.0, count):
        degc = low + float(place) * (high - low)
        text = f"{degc:.{labels.decimals}f}{labels.unit}"
        corner = _label_corner(bar, float(place), text_size(text, labels.size_px, labels.bold), style)
        if labels.plate:
            width, height = text_size(text, labels.size_px, labels.bold)
            paint.fill(grown((corner[0], corner[1], corner[0] + width, corner[1] + height), 2), style.paper)
        box = draw_text(paint, text, corner, labels.size_px, labels.bold, style.ink)
        printed.append(PrintedLabel(text, float(f"{degc:.{labels.decimals}f}"), float(place), box))
    return tuple(printed)


def _label_corner(bar: Box, place: float, size: tuple[int, int], style: ColorStyle) -> tuple[int, int]:
    width, height = size
    tick = style.tick_px if style.ticks else 0
    away = style.gap_px + style.border_px + style.labels.distance_px
    middle = ((bar[0] + bar[2]) // 2 - width // 2, (bar[1] + bar[3]) // 2 - height // 2)
    at = _place_px(bar, place, style)
    if style.labels.place == "beyond":
        first = (place == 0.0) == (style.low_end in ("top", "left"))
        if style.vertical:
            return middle[0], bar[1] - away - height if first else bar[3] + away
        return bar[0] - away - width if first else bar[2] + away, middle[1]
    before = style.labels.place == "before"
    if style.vertical:
        return bar[0] - away - tick - width if before else bar[2] + away + tick, at - height // 2
    return at - width // 2, bar[1] - away - tick - height if before else bar[3] + away + tick


def encode(
    rgb: Rgb,
    kind: Literal["png", "jpeg"] = "png",
    quality: int = 85,
    subsampling: Literal["444", "422", "420"] = "420",
    about: str = "",
    taken: datetime | None = None,
) -> bytes:
    """Pack a picture into a file.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (rows, columns, 3)
    kind : {"png", "jpeg"}
    quality : int
        Of a JPEG.
    subsampling : {"444", "422", "420"}
        Of a JPEG's chroma.
    about : str
        Said inside the file: a PNG's description, a JPEG's comment.
    taken : datetime, optional
        Stated in EXIF, without a zone where it has none.
    """
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    buffer = io.BytesIO()
    tags = b"" if taken is None else _exif(taken)
    if kind == "png":
        words = PngInfo()
        words.add_text("Description", about)
        Image.fromarray(rgb).save(buffer, "PNG", pnginfo=words if about else None, exif=tags)
    else:
        factors = {"444": "4:4:4", "422": "4:2:2", "420": "4:2:0"}[subsampling]
        Image.fromarray(rgb).save(buffer, "JPEG", quality=quality, subsampling=factors, comment=about, exif=tags)
    return buffer.getvalue()


def _exif(taken: datetime) -> bytes:
    """Write a time as EXIF states it (CIPA DC-008: DateTimeOriginal, OffsetTimeOriginal)."""
    from PIL import Image

    exif = Image.Exif()
    inner = exif.get_ifd(0x8769)
    inner[0x9003] = f"{taken:%Y:%m:%d %H:%M:%S}"
    if taken.tzinfo is not None:
        inner[0x9011] = taken.isoformat()[-6:]
    return exif.tobytes()


def decoded(content: bytes) -> Rgb:
    """Unpack a picture file."""
    from PIL import Image

    with Image.open(io.BytesIO(content)) as image:
        return np.array(image.convert("RGB"), np.uint8)


def resized(
    frame: ColorFrame, factor: float, how: Literal["nearest", "bilinear", "bicubic"] = "bilinear"
) -> ColorFrame:
    """Give the frame as a resized screenshot shows it, its truth carried along.

    Boxes are rounded to whole px; temperatures are interpolated linearly, the mask of what was drawn is widened.

    Parameters
    ----------
    frame : ColorFrame
    factor : float
        New size over old size.
    how : {"nearest", "bilinear", "bicubic"}
    """
    from PIL import Image

    rows, columns = frame.degc.shape
    size = (round(columns * factor), round(rows * factor))
    rgb = np.array(Image.fromarray(frame.rgb).resize(size, getattr(Image.Resampling, how.upper())), np.uint8)
    degc = np.array(Image.fromarray(frame.degc.astype(np.float32)).resize(size, Image.Resampling.BILINEAR), np.float64)
    share = Image.fromarray(frame.drawn.astype(np.float32)).resize(size, Image.Resampling.BILINEAR)
    scale = (size[0] / columns, size[1] / rows) * 2
    labels = tuple(replace(label, box_px=_scaled(label.box_px, scale)) for label in frame.labels)
    return replace(
        frame, rgb=rgb, degc=degc, bar_px=_scaled(frame.bar_px, scale), labels=labels, drawn=np.array(share) > 0.0
    )


def _scaled(box: Box, scale: tuple[float, ...]) -> Box:
    x0, y0, x1, y1 = (round(edge * factor) for edge, factor in zip(box, scale, strict=True))
    return (x0, y0, x1, y1)
