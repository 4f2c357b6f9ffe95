"""Which column of a list is which: the headings that layout programs, and people, give them."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from typing import Final

from irspot.layout.lengths import parted

_PLACE: Final = ("", "mid", "middle", "center", "centre", "centroid", "cent", "body", "part", "comp", "component")
_KIND: Final = ("", "location", "loc", "position", "pos", "coordinate", "coord", "placement", "place", "abs")


def _coordinate(axis: str) -> tuple[str, ...]:
    """Every order of an axis with a word or two: ``midx``, ``xmid``, ``centerxpos``; middles before plain ones."""
    names = []
    for place, kind in itertools.product(_PLACE, _KIND):
        words = [word for word in (place, kind) if word]
        for order in itertools.permutations([*words, axis]):
            names.append("".join(order))
    middles = [name for name in names if any(word in name for word in _PLACE[1:7])]
    return tuple(dict.fromkeys([*middles, *names, f"ref{axis}", f"{axis}ref", f"origin{axis}", f"{axis}origin"]))


ALIASES: Final[dict[str, tuple[str, ...]]] = {
    "ref": (
        "refdes",
        "designator",
        "referencedesignator",
        "refdesignator",
        "designation",
        "reference",
        "ref",
        "refs",
        "partref",
        "partreference",
        "componentref",
        "item",
        "component",
        "componentname",
        "partname",
        "instance",
        "name",
        "part",
        "id",
    ),
    "x": _coordinate("x"),
    "y": _coordinate("y"),
    "rotation": ("rotation", "rot", "angle", "orientation", "orient", "theta", "rotate", "rota", "turn"),
    "side": (
        "side",
        "boardside",
        "mountside",
        "mountingside",
        "placementside",
        "layer",
        "boardlayer",
        "tb",
        "topbottom",
        "topbot",
        "face",
        "surface",
    ),
    "mirror": ("mirror", "mirrored", "flipped", "mirroredyn"),
    "package": (
        "package",
        "footprint",
        "footprintname",
        "pattern",
        "landpattern",
        "decal",
        "packagename",
        "pcbfootprint",
        "casecode",
        "case",
        "shape",
        "pkg",
        "geometry",
        "outline",
    ),
    "value": ("value", "val", "comment", "partvalue", "description", "partnumber"),
    "length": ("length", "bodylength", "sizex", "xsize", "dimx", "dx", "bodyx", "l"),
    "width": ("width", "bodywidth", "sizey", "ysize", "dimy", "dy", "bodyy", "w"),
    "height": ("height", "bodyheight", "sizez", "zsize", "thickness", "partheight", "componentheight", "h", "z"),
}
"""Column → its headings in lower case without blanks and signs, the surest first."""


def plain(heading: str) -> str:
    """Write a heading so that it can be compared.

    Examples
    --------
    >>> plain("Center-X (mm)"), plain("Ref Des")
    ('centerx', 'refdes')
    """
    return re.sub(r"[^0-9a-zµ]", "", parted(heading)[0].casefold())


def columns_of(cells: Sequence[str]) -> dict[str, int]:
    """Say which cell of a header heads which column.

    Parameters
    ----------
    cells : sequence of str

    Returns
    -------
    dict of str to int
        Keys of `ALIASES` that the header has; a column that has several takes the surest, of equals the first.

    Examples
    --------
    >>> columns_of(["Designator", "Ref X", "Mid X", "Mid Y", "Layer"])
    {'ref': 0, 'x': 2, 'y': 3, 'side': 4}
    """
    names = [plain(cell) for cell in cells]
    found = {}
    taken: set[int] = set()
    for column, aliases in ALIASES.items():
        index = next((names.index(alias) for alias in aliases if alias in names), None)
        if index is not None and index not in taken:
            found[column] = index
            taken.add(index)
    return found


def is_header(cells: Sequence[str]) -> bool:
    """Say whether a line heads a part position list: a designator and both coordinates."""
    return {"ref", "x", "y"} <= columns_of(cells).keys()
