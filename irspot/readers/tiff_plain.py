"""Whether all pages of a TIFF are bare numbers of one size and kind, and where each page's numbers begin."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np

from irspot.readers.plain import Plain
from irspot.readers.reading import expect_jumps
from irspot.readers.tiff_entries import PageTags, page_tags

_COLUMNS, _ROWS, _BITS, _COMPRESSION = 256, 257, 258, 259
_STRIP_OFFSETS, _SAMPLES, _STRIP_COUNTS, _PREDICTOR, _TILE_COLUMNS, _FORMAT = 273, 277, 279, 317, 322, 339
_FILL_ORDER: Final = 266
_KINDS: Final = {1: "u", 2: "i", 3: "f"}
"""Sample formats, as numpy names them (TIFF 6.0, section 19)."""


def plain_pages(path: Path, pages: tuple[int, ...], mark: str) -> Plain | None:
    """Find where the numbers of every page begin; None where any is packed, tiled, in pieces, or of another kind.

    Parameters
    ----------
    path : Path
    pages : tuple of int
        Places of the directories.
    mark : {"<", ">"}
        Byte order.

    Raises
    ------
    FrameUnreadable
        If a directory lies beyond the file's end.
    """
    size, name = path.stat().st_size, str(path)
    offsets = np.empty(len(pages), np.int64)
    first: tuple[str, int, int] | None = None
    with path.open("rb") as file:
        expect_jumps(file)
        for index, tags in enumerate(page_tags(file, pages, size, name)):
            kind, begin = _kind(tags, mark), _one_piece(tags)
            first = first or kind
            if kind is None or kind != first or begin is None:
                return None
            offsets[index] = begin
    assert first is not None
    plain = Plain(path, np.dtype(first[0]), (first[1], first[2]), offsets)
    rising = bool(np.all(np.diff(offsets) >= plain.frame_bytes))
    return plain if rising and offsets[-1] + plain.frame_bytes <= size else None


def _kind(tags: PageTags, mark: str) -> tuple[str, int, int] | None:
    """Type, rows and columns of a page of bare numbers."""
    (bits, *_), (kind, *_) = tags.numbers(_BITS, (1,)), tags.numbers(_FORMAT, (1,))
    bare = (
        tags.numbers(_COMPRESSION, (1,)) == (1,)
        and tags.numbers(_SAMPLES, (1,)) == (1,)
        and tags.numbers(_PREDICTOR, (1,)) == (1,)
        and tags.numbers(_FILL_ORDER, (1,)) == (1,)
        and not tags.numbers(_TILE_COLUMNS)
    )
    rows, columns = tags.numbers(_ROWS), tags.numbers(_COLUMNS)
    if not bare or kind not in _KINDS or bits not in (16, 32, 64) or (kind == 3 and bits == 16):
        return None
    return (f"{mark}{_KINDS[kind]}{bits // 8}", *rows, *columns) if len(rows) == len(columns) == 1 else None


def _one_piece(tags: PageTags) -> int | None:
    """Where a page's numbers begin, if its strips follow one another without gaps and hold the whole page."""
    begins, counts = tags.numbers(_STRIP_OFFSETS), tags.numbers(_STRIP_COUNTS)
    (bits, *_) = tags.numbers(_BITS, (1,))
    if not begins or len(begins) != len(counts):
        return None
    wanted = tags.numbers(_ROWS)[0] * tags.numbers(_COLUMNS)[0] * bits // 8
    together = all(at + count == after for at, count, after in zip(begins, counts, begins[1:], strict=False))
    return begins[0] if together and sum(counts) == wanted else None
