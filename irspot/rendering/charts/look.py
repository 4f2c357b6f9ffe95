"""How charts look: two themes, type sizes, and a sheet on which everything is placed in pixels."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from irspot.errors import UsageError
from irspot.rendering.text import Weight, clean, paragraph, shortened, text_width

SIZES: Final[dict[str, tuple[int, int]]] = {"1080p": (1920, 1080), "4k": (3840, 2160)}
LEAST_TYPE: Final = 0.022
"""Of the height: type of 24 px at 1080 is still read on a phone that shows the chart 90 mm wide (common practice)."""
_LEAST_PX: Final = 320
_MOST_PX: Final = 8192
_DPI: Final = 100.0


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours of a chart.

    Parameters
    ----------
    page, ink, muted, rule : str
        Ground, text, lesser text, and lines of the grid.
    now, before : str
        Today's results, and a lighter or paler shade of the same hue for earlier ones.
    apart, bar_ink : str
        What is not compared; error bars and what is written over bars.
    limit, second, third : str
        Limits; further quantities over time.
    """

    page: str
    ink: str
    muted: str
    rule: str
    now: str
    before: str
    apart: str
    bar_ink: str
    limit: str
    second: str
    third: str


THEMES: Final[dict[str, Theme]] = {
    "dark": Theme(
        page="#10141b",
        ink="#f3f4f6",
        muted="#aab2be",
        rule="#2e3643",
        now="#3f8fd6",
        before="#a9cdee",
        apart="#6b7380",
        bar_ink="#f3f4f6",
        limit="#ff9e80",
        second="#f0c24b",
        third="#c7cdd6",
    ),
    "light": Theme(
        page="#fbfbf9",
        ink="#14181f",
        muted="#535c6a",
        rule="#dcdfe4",
        now="#134a86",
        before="#5791cf",
        apart="#8a919c",
        bar_ink="#14181f",
        limit="#b3400f",
        second="#8a6400",
        third="#3f4753",
    ),
}


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart in both formats.

    Parameters
    ----------
    name : str
        Of its files, without ending.
    title, alt : str
        What it is, and what it shows in words.
    svg, png : bytes
    texts : tuple of str
        Everything written in it.
    """

    name: str
    title: str
    alt: str
    svg: bytes
    png: bytes
    texts: tuple[str, ...]


def chart_size(text: str) -> tuple[int, int]:
    """Read a size: a name of `SIZES`, or width x height in px.

    Raises
    ------
    UsageError
        For anything else, and sizes no chart can have.

    Examples
    --------
    >>> chart_size("4k"), chart_size("1280x720")
    ((3840, 2160), (1280, 720))
    """
    if text in SIZES:
        return SIZES[text]
    match = re.fullmatch(r"(\d{1,5})[x×](\d{1,5})", text)
    size = (int(match[1]), int(match[2])) if match else (0, 0)
    return checked_size(size, text)


def checked_size(size: tuple[int, int], found: str = "") -> tuple[int, int]:
    """Refuse a size that no chart can have.

    Raises
    ------
    UsageError
    """
    if not all(_LEAST_PX <= side <= _MOST_PX for side in size):
        raise UsageError(
            "is no size of a chart",
            found=found or f"{size[0]}x{size[1]}",
            wanted=f"{', '.join(SIZES)}, or WIDTHxHEIGHT from {_LEAST_PX} to {_MOST_PX} px",
        )
    return size


def theme_of(name: str) -> Theme:
    """Look up a theme.

    Raises
    ------
    UsageError
        If there is none of that name.
    """
    if name not in THEMES:
        raise UsageError("is no theme", found=name, wanted=" or ".join(THEMES))
    return THEMES[name]


def file_name(*parts: str) -> str:
    """Make a file name of ids and words.

    Examples
    --------
    >>> file_name("ranking", "stock", "power stage", "front")
    'ranking-stock-power-stage-front'
    """
    return "-".join(re.sub(r"[^A-Za-z0-9._-]+", "-", part)[:60].strip("-") or "x" for part in parts)


class Sheet:
    """A page in pixels, y down, on which a chart is drawn.

    Parameters
    ----------
    size : tuple of int
        Width and height in px.
    theme : Theme
    """

    def __init__(self, size: tuple[int, int], theme: Theme) -> None:
        from matplotlib.figure import Figure

        self.width, self.height = size
        self.theme = theme
        self.unit = min(self.height, self.width / 1.2)
        self._figure = Figure(figsize=(self.width / _DPI, self.height / _DPI), dpi=_DPI, facecolor=theme.page)
        self._axes = self._figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self._axes.set_xlim(0.0, self.width)
        self._axes.set_ylim(self.height, 0.0)
        self._axes.set_axis_off()
        self.texts: list[str] = []
        self._above = 1.0

    def _next(self) -> float:
        """What is drawn later lies above."""
        self._above += 0.001
        return self._above

    def type_px(self, share: float = LEAST_TYPE) -> float:
        """Type size as a share of the height; of narrow pages of what their width allows. Never below the least."""
        return max(share, LEAST_TYPE) * self.unit

    def text(
        self,
        at: tuple[float, float],
        text: str,
        size_px: float,
        *,
        color: str = "",
        bold: bool = False,
        align: str = "left",
        width_px: float = float("inf"),
    ) -> str:
        """Write a line, its middle at a height, shortened visibly where it has not the room; give what was written."""
        weight: Weight = "bold" if bold else "regular"
        shown = shortened(drawable(text), weight, size_px, width_px)
        if shown:
            self._axes.text(
                *at,
                shown,
                fontsize=size_px * 72.0 / _DPI,
                color=color or self.theme.ink,
                fontweight="bold" if bold else "normal",
                fontfamily="DejaVu Sans",
                ha=align,
                va="center_baseline",
                parse_math=False,
                zorder=self._next(),
            )
            self.texts.append(shown)
        return shown

    @property
    def margin(self) -> float:
        """Beside everything."""
        return 0.037 * self.unit

    def heading(self, title: str, said: str, lines: int = 1) -> None:
        """Write the title, and below it on so many lines what is to be known; what has not the room is cut visibly."""
        small, width = self.type_px(), self.width - 2.0 * self.margin
        self.text((self.margin, 0.05 * self.unit), title, 0.042 * self.unit, bold=True, width_px=width)
        broken = paragraph(drawable(said), "regular", small, width)
        shown = [*broken[: lines - 1], " ".join(broken[lines - 1 :])]
        for number, line in enumerate(shown):
            at = (self.margin, 0.1 * self.unit + 1.35 * number * small)
            self.text(at, line, small, color=self.theme.muted, width_px=width)

    def bar(self, x: float, y: float, width: float, height: float, color: str, hatch: str = "") -> None:
        """Draw a filled rectangle, hatched in the page's colour where asked."""
        from matplotlib.patches import Rectangle

        edge = self.theme.page if hatch else color
        box = Rectangle((x, y), width, height, facecolor=color, edgecolor=edge, hatch=hatch, linewidth=0)
        box.set_zorder(self._next())
        self._axes.add_patch(box)

    def line(self, xs: Sequence[float], ys: Sequence[float], color: str, width_px: float, style: str = "-") -> None:
        """Draw a line through places; NaN breaks it."""
        wide = width_px * 72.0 / _DPI
        self._axes.plot(
            xs, ys, color=color, linewidth=wide, linestyle=style, solid_capstyle="butt", zorder=self._next()
        )

    def cased(self, xs: Sequence[float], ys: Sequence[float], color: str, width_px: float) -> None:
        """Draw a line cased in the page's colour, so that it shows on any ground."""
        self.line(xs, ys, self.theme.page, 2.6 * width_px)
        self.line(xs, ys, color, width_px)

    def dots(self, xs: Sequence[float], ys: Sequence[float], color: str, diameter_px: float, marker: str = "o") -> None:
        """Draw marks."""
        self._axes.plot(
            xs,
            ys,
            linestyle="",
            marker=marker,
            color=color,
            markersize=diameter_px * 72.0 / _DPI,
            markeredgewidth=0,
            zorder=self._next(),
        )

    def chart(self, name: str, title: str, alt: str) -> Chart:
        """Save it in both formats, byte for byte the same whenever it is drawn."""
        return Chart(name, title, alt, self._svg(title, alt), self._png(), tuple(self.texts))

    def _svg(self, title: str, alt: str) -> bytes:
        import matplotlib as mpl

        stream = io.BytesIO()
        about: dict[str, Any] = {"Date": None, "Creator": None, "Title": drawable(title), "Description": drawable(alt)}
        # Glyphs as outlines: the chart looks the same wherever it is opened, whatever fonts are there.
        with mpl.rc_context({"svg.hashsalt": "irspot", "svg.fonttype": "path", "svg.id": None}):
            self._figure.savefig(stream, format="svg", metadata=about, facecolor=self.theme.page)
        return _exact(stream.getvalue(), self.width, self.height, drawable(title), drawable(alt))

    def _png(self) -> bytes:
        stream = io.BytesIO()
        self._figure.savefig(stream, format="png", dpi=_DPI, facecolor=self.theme.page, metadata={"Software": None})
        return stream.getvalue()


def _exact(svg: bytes, width: int, height: int, title: str, alt: str) -> bytes:
    """State size in pixels and say in words what is drawn, for readers of screens."""
    from xml.sax.saxutils import escape

    text = svg.decode("utf-8")
    text = re.sub(r'(<svg[^>]*?) width="[^"]*"', rf'\1 width="{width}px"', text, count=1)
    text = re.sub(r'(<svg[^>]*?) height="[^"]*"', rf'\1 height="{height}px"', text, count=1)
    said = f"<title>{escape(title)}</title>\n <desc>{escape(alt)}</desc>\n"
    return re.sub(r"(<svg[^>]*>)", lambda match: f'{match[1][:-1]} role="img">\n {said}', text, count=1).encode()


def drawable(text: str) -> str:
    """Reduce text to one line of glyphs that the font has; others show as a box."""
    known = _glyphs()
    return "".join(character if ord(character) in known else "□" for character in clean(text))


def _glyphs() -> frozenset[int]:
    global _KNOWN
    if _KNOWN is None:
        from matplotlib.ft2font import FT2Font

        from irspot.rendering.text import font_folder

        _KNOWN = frozenset(FT2Font(str(font_folder() / "DejaVuSans.ttf")).get_charmap())
    return _KNOWN


_KNOWN: frozenset[int] | None = None


def width_of(text: str, size_px: float, *, bold: bool = False) -> float:
    """Width of a line, in px."""
    return text_width(drawable(text), "bold" if bold else "regular", size_px)


def wrapped(parts: Sequence[str], joint: str, size_px: float, width_px: float, most: int) -> list[str]:
    """Set parts on as few lines as hold them, at most so many; the last line takes whatever is left.

    Examples
    --------
    >>> wrapped(["one", "two", "three"], "; ", 10.0, 60.0, 2)
    ['one; two', 'three']
    """
    lines: list[str] = []
    for part in parts:
        longer = f"{lines[-1]}{joint}{part}" if lines else part
        if lines and (width_of(longer, size_px) <= width_px or len(lines) == most):
            lines[-1] = longer
        else:
            lines.append(part)
    return lines


def ticks(low: float, high: float, most: int) -> list[float]:
    """Choose round numbers along an axis.

    Examples
    --------
    >>> ticks(0.0, 63.0, 8)
    [0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0]
    """
    import math

    span = max(high - low, 1e-9)
    raw = span / max(most - 1, 1)
    base = 10.0 ** math.floor(math.log10(raw))
    step = next((factor * base for factor in (1.0, 2.0, 5.0, 10.0) if factor * base >= raw * 0.999), 10.0 * base)
    first = math.ceil(low / step - 1e-9)
    return [round(step * k, 9) for k in range(first, math.floor(high / step + 1e-9) + 1)]
