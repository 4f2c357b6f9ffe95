"""Type: DejaVu as matplotlib ships it, and people's text shown as nothing but text."""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from irspot.errors import LibraryMissing

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

Weight = Literal["regular", "bold"]

_FILES: dict[Weight, str] = {"regular": "DejaVuSans.ttf", "bold": "DejaVuSans-Bold.ttf"}
_LONGEST = 400
"""Characters ever drawn; more would not fit any picture."""
ELLIPSIS = "…"


@lru_cache(maxsize=1)
def font_folder() -> Path:
    """Find matplotlib's fonts without importing matplotlib.

    Raises
    ------
    LibraryMissing
        If matplotlib is not installed.
    """
    from importlib.util import find_spec

    spec = find_spec("matplotlib")
    places = list(spec.submodule_search_locations or ()) if spec else []
    folders = [Path(place) / "mpl-data" / "fonts" / "ttf" for place in places]
    for folder in folders:
        if (folder / _FILES["regular"]).is_file():
            return folder
    raise LibraryMissing("the DejaVu fonts that matplotlib ships were not found", hint="install matplotlib again")


@lru_cache(maxsize=64)
def font(weight: Weight, size_px: float) -> FreeTypeFont:
    """Load a font at a size, whole px, at least 5."""
    from PIL import ImageFont

    # The basic layout: widths do not depend on which shaping library happens to be there.
    path = font_folder() / _FILES[weight]
    return ImageFont.truetype(path, max(5, round(size_px)), layout_engine=ImageFont.Layout.BASIC)


def clean(text: str) -> str:
    r"""Reduce text to what can be drawn on one line: no control, format or surrogate characters, single spaces.

    Examples
    --------
    >>> clean("bank\tA\x1b[31m \u202eleft\n")
    'bank A[31m left'
    """
    composed = unicodedata.normalize("NFC", text[: 4 * _LONGEST])
    spaced = "".join(" " if c.isspace() else c for c in composed)
    kept = (c for c in spaced if unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Cn"))
    return " ".join("".join(kept).split())[:_LONGEST]


@lru_cache(maxsize=4096)
def text_width(text: str, weight: Weight, size_px: float) -> float:
    """Width of a line of cleaned text, in px."""
    return float(font(weight, size_px).getlength(text)) if text else 0.0


def shortened(text: str, weight: Weight, size_px: float, width_px: float) -> str:
    """Cut a line to a width, with an ellipsis where something is missing.

    Parameters
    ----------
    text : str
        Cleaned.
    weight : {"regular", "bold"}
    size_px, width_px : float

    Returns
    -------
    str
        Empty if not even the ellipsis fits.
    """
    if text_width(text, weight, size_px) <= width_px:
        return text
    if text_width(ELLIPSIS, weight, size_px) > width_px:
        return ""
    fits, too_long = 0, len(text)
    while too_long - fits > 1:
        middle = (fits + too_long) // 2
        if text_width(text[:middle].rstrip() + ELLIPSIS, weight, size_px) <= width_px:
            fits = middle
        else:
            too_long = middle
    return text[:fits].rstrip() + ELLIPSIS


def wrapped(parts: list[str], weight: Weight, size_px: float, width_px: float, most: int) -> list[str]:
    """Set parts one after another, ``·`` between them, on as few lines as hold them.

    Parameters
    ----------
    parts : list of str
        Cleaned; one that would take more than half a line is shortened, so that none crowds out the others.
    weight : {"regular", "bold"}
    size_px, width_px : float
    most : int
        Lines; the last is shortened if there is more.
    """
    lines: list[str] = []
    for part in (shortened(part, weight, size_px, 0.5 * width_px) for part in parts):
        joined = f"{lines[-1]}  ·  {part}" if lines else part
        if lines and (len(lines) == most or text_width(joined, weight, size_px) <= width_px):
            lines[-1] = joined
        else:
            lines.append(part)
    return [shortened(line, weight, size_px, width_px) for line in lines]


def paragraph(text: str, weight: Weight, size_px: float, width_px: float) -> list[str]:
    """Break a text between words into lines of a width; a word too long for a line is shortened.

    Parameters
    ----------
    text : str
        Cleaned.
    weight : {"regular", "bold"}
    size_px, width_px : float
    """
    lines: list[str] = []
    for word in text.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(joined, weight, size_px) <= width_px:
            lines[-1] = joined
        else:
            lines.append(shortened(word, weight, size_px, width_px))
    return lines
