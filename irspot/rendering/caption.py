"""What stands around a picture: title, facts, small print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from irspot.rendering import theme
from irspot.rendering.page import Page, unit_of
from irspot.rendering.sheet import Line
from irspot.rendering.text import clean, shortened, text_width, wrapped

_MOST_FOOTER_LINES = 2
FIRST_FACT_ROW = 112.0
FACT_ROW = 38.0
PLUS_MINUS = "± covers about 95 % (k = 2)"
_FACT_GAP = 34.0
_LABEL_GAP = 9.0


@dataclass(frozen=True, slots=True)
class Caption:
    """Words of a picture; empty ones are left out.

    Parameters
    ----------
    title : str
        The board's name.
    load : str
        Its name or description.
    side : str
        ``front`` or ``rear``.
    ambient : str
        With unit: ``21.3 ± 1.0 °C``.
    date : str
        When the frame was taken, with its time zone.
    camera : str
        Its name.
    lines : tuple of str
        Further small print.
    footer : str
        Last small print: what made the picture, say.
    emissivity : str
        How emissivities were applied.
    clock : str
        Of a moving picture: the time since its first frame, at the right of the title.
    facts : tuple of (str, str)
        Further facts and what they are called, in a row of their own.
    """

    title: str
    load: str = ""
    side: str = ""
    ambient: str = ""
    date: str = ""
    camera: str = ""
    lines: tuple[str, ...] = ()
    footer: str = ""
    emissivity: str = "per zone, default elsewhere"
    clock: str = ""
    facts: tuple[tuple[str, str], ...] = ()


def header_lines(caption: Caption, page: Page) -> list[Line]:
    """Set the title, and below it the facts, in as many rows as `fact_rows` gives."""
    left, room = page.px(theme.MARGIN), _room(page.size)
    title_px, base = page.px(theme.TITLE), page.px(66.0)
    lines = []
    if clock := clean(caption.clock):
        lines.append(Line(clock, left + room, base, title_px, "bold", align="right"))
        room -= text_width(clock, "bold", title_px) + page.px(_FACT_GAP)
    lines.insert(0, Line(clean(caption.title), left, base, title_px, "bold").within(room))
    for number, row in enumerate(fact_rows(caption, page.size)):
        base = page.px(FIRST_FACT_ROW + number * FACT_ROW)
        lines += _fact_lines(row, left, base, _room(page.size), page.unit)
    return lines


def header_px(caption: Caption, size: tuple[int, int]) -> float:
    """Height of title and facts on a page of a size."""
    rows = len(fact_rows(caption, size))
    return unit_of(size) * (FIRST_FACT_ROW + (rows - 1) * FACT_ROW + 26.0)


def fact_rows(caption: Caption, size: tuple[int, int]) -> list[list[tuple[str, str]]]:
    """Part the facts into rows: all in one where they fit, else the load, which may be long, in a row of its own."""
    further = [(clean(name), clean(value)) for name, value in caption.facts]
    return [*_usual_rows(caption, size), *([further] if further else [])]


def _usual_rows(caption: Caption, size: tuple[int, int]) -> list[list[tuple[str, str]]]:
    facts = _facts(caption)
    if not facts:
        return []
    values = [value for _, value in facts]
    unit = unit_of(size)
    width = _fixed_width(facts, unit) + sum(text_width(value, "regular", theme.FACT * unit) for value in values)
    if width <= _room(size) or not caption.load or len(facts) == 1:
        return [facts]
    return [facts[:1], facts[1:]]


def footer_lines(
    caption: Caption, cmap: str, *, bound_shown: bool, nan_shown: bool, size: tuple[int, int]
) -> list[str]:
    """Break the small print into lines for a page of a size."""
    parts = [
        f"surface temperature, colour map {clean(cmap)}",
        PLUS_MINUS,
        "≥ the true value may be higher" if bound_shown else "",
        f"emissivity {clean(caption.emissivity)}",
        "hatched: not measured" if nan_shown else "",
    ]
    return small_print(caption, parts, size)


def small_print(caption: Caption, parts: Sequence[str], size: tuple[int, int]) -> list[str]:
    """Break sentences, and what a caption adds to them, into lines for a page of a size; empty ones are left out."""
    camera = clean(caption.camera)
    added = (f"camera: {camera}" if camera else "", *(clean(line) for line in caption.lines), clean(caption.footer))
    told = [part for part in (*parts, *added) if part]
    return wrapped(told, "regular", theme.SMALL * unit_of(size), _room(size), _MOST_FOOTER_LINES)


def set_footer(lines: list[str], page: Page) -> list[Line]:
    """Place the small print at the foot of the page."""
    last = page.size[1] - page.px(24.0)
    pitch, size, left = page.px(30.0), page.px(theme.SMALL), page.px(theme.MARGIN)
    return [
        Line(text, left, last - (len(lines) - 1 - i) * pitch, size, color=theme.MUTED) for i, text in enumerate(lines)
    ]


def _facts(caption: Caption) -> list[tuple[str, str]]:
    facts = (
        ("load", caption.load),
        ("side", caption.side),
        ("ambient", caption.ambient),
        ("taken", caption.date),
    )
    return [(name, clean(value)) for name, value in facts if clean(value)]


def _fact_lines(facts: list[tuple[str, str]], x: float, y: float, room: float, unit: float) -> list[Line]:
    """Set ``name value`` pairs side by side; what is too long is cut, the longest first."""
    name_px, value_px = theme.FACT_LABEL * unit, theme.FACT * unit
    values = _cut_to([value for _, value in facts], room - _fixed_width(facts, unit), value_px)
    lines = []
    for (name, _), value in zip(facts, values, strict=True):
        lines.append(Line(name, x, y, name_px, color=theme.MUTED))
        x += text_width(name, "regular", name_px) + _LABEL_GAP * unit
        lines.append(Line(value, x, y, value_px))
        x += text_width(value, "regular", value_px) + _FACT_GAP * unit
    return lines


def _fixed_width(facts: list[tuple[str, str]], unit: float) -> float:
    """Width of everything in a row of facts but their values."""
    names = sum(text_width(name, "regular", theme.FACT_LABEL * unit) + _LABEL_GAP * unit for name, _ in facts)
    return names + (len(facts) - 1) * _FACT_GAP * unit


def _room(size: tuple[int, int]) -> float:
    return size[0] - 2.0 * theme.MARGIN * unit_of(size)


def _cut_to(values: list[str], room: float, size_px: float) -> list[str]:
    """Shorten values so that they fit side by side: short ones stay whole, long ones share what is left."""
    widths = [text_width(value, "regular", size_px) for value in values]
    left, widest = room, 0.0
    for rank, width in enumerate(sorted(widths)):
        widest = left / (len(widths) - rank)
        if width > widest:
            return [shortened(value, "regular", size_px, widest) for value in values]
        left -= width
    return values
