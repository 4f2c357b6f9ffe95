"""What a JPEG's header says that a picture library keeps to itself: its size, chroma sampling and quantisation."""

from __future__ import annotations

import struct
from dataclasses import dataclass, replace
from typing import Final, Literal

Chroma = Literal["444", "422", "420"]
"""How many chroma samples there are: one a pixel, one for two beside one another, one for a square of four."""

_FRAME_MARKERS: Final = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_ALONE: Final = frozenset({0x01, *range(0xD0, 0xD8)})
_QUANTISATION: Final = 0xDB
_SCAN: Final = 0xDA


@dataclass(frozen=True, slots=True)
class JpegFacts:
    """A JPEG's header.

    Parameters
    ----------
    columns, rows : int
    components : int
        1 for grey, 3 for luma and chroma, 4 for inks.
    chroma : {"444", "422", "420"}
        Sampling coarser than four to one is called "420" too.
    luma_steps, chroma_steps : tuple of int
        Their 64 quantisation steps, coarse frequencies first; empty if the header has none.
    """

    columns: int
    rows: int
    components: int
    chroma: Chroma
    luma_steps: tuple[int, ...] = ()
    chroma_steps: tuple[int, ...] = ()


def jpeg_facts(content: bytes) -> JpegFacts | None:
    """Read a JPEG's header up to its first scan.

    The layout is that of ITU-T T.81 (1992), annex B.

    Parameters
    ----------
    content : bytes

    Returns
    -------
    JpegFacts or None
        None where the content is no JPEG or its header breaks off.
    """
    if not content.startswith(b"\xff\xd8\xff"):
        return None
    facts, tables = None, dict[int, tuple[int, ...]]()
    chosen: list[int] = []
    for marker, segment in _segments(content):
        if marker == _QUANTISATION:
            tables.update(_tables(segment))
        elif marker in _FRAME_MARKERS:
            facts = _frame(segment)
            chosen = [segment[8 + 3 * i] for i in range(facts.components)] if facts else []
    if facts is None:
        return None
    luma, chroma = (tables.get(number, ()) for number in (chosen[0], chosen[1] if len(chosen) > 1 else chosen[0]))
    return replace(facts, luma_steps=luma, chroma_steps=chroma)


def _segments(content: bytes) -> list[tuple[int, bytes]]:
    found, at = [], 2
    while at + 4 <= len(content) and content[at] == 0xFF:
        marker = content[at + 1]
        if marker == 0xFF or marker in _ALONE:
            at += 1 if marker == 0xFF else 2
            continue
        if marker == _SCAN:
            break
        (length,) = struct.unpack_from(">H", content, at + 2)
        if length < 2:
            break
        found.append((marker, content[at + 4 : at + 2 + length]))
        at += 2 + length
    return found


def _tables(segment: bytes) -> dict[int, tuple[int, ...]]:
    tables, at = {}, 0
    while at < len(segment):
        wide, number = segment[at] >> 4, segment[at] & 15
        size = 128 if wide else 64
        if at + 1 + size > len(segment):
            break
        tables[number] = struct.unpack_from(">64H" if wide else "64B", segment, at + 1)
        at += 1 + size
    return tables


def _frame(segment: bytes) -> JpegFacts | None:
    if len(segment) < 9:
        return None
    rows, columns, components = struct.unpack_from(">HHB", segment, 1)
    if not components or len(segment) < 6 + 3 * components:
        return None
    factors = [(segment[7 + 3 * i] >> 4, segment[7 + 3 * i] & 15) for i in range(components)]
    return JpegFacts(columns, rows, components, _sampling(factors))


def _sampling(factors: list[tuple[int, int]]) -> Chroma:
    if len(factors) < 3:
        return "444"
    across = factors[0][0] / max(1, factors[1][0])
    down = factors[0][1] / max(1, factors[1][1])
    if across <= 1.0 and down <= 1.0:
        return "444"
    return "422" if across * down <= 2.0 else "420"
