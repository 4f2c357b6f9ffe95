"""Telling colour-mapped pictures and videos from radiometric frames, by their first bytes.

Eight bits a sample are colours (or greys) for a person to look at; more are numbers to be measured.
"""

from __future__ import annotations

import struct
from pathlib import Path
from typing import BinaryIO, Final, Literal

Kind = Literal["picture", "video", "other"]

_HEAD: Final = 4096
_TIFF_BITS: Final = 258
_TIFF_STARTS: Final = {b"II*\0": "<", b"MM\0*": ">"}


def kind_of(path: Path) -> Kind:
    """Say what a file is.

    Parameters
    ----------
    path : Path

    Returns
    -------
    {"picture", "video", "other"}
        ``other`` for radiometric frames, and for what cannot be read: the frame readers say what is wrong with it.
    """
    try:
        with path.open("rb") as stream:
            head = stream.read(_HEAD)
            if head[:4] in _TIFF_STARTS:
                return "picture" if _eight_bit_tiff(head, stream) else "other"
    except OSError:
        return "other"
    return _kind_of_head(head)


def _kind_of_head(head: bytes) -> Kind:
    if head.startswith((b"\xff\xd8\xff", b"GIF87a", b"GIF89a")) or (head[:4] == b"RIFF" and head[8:12] == b"WEBP"):
        return "picture"
    if head.startswith(b"BM") and head[6:10] == b"\0\0\0\0":
        return "picture"
    if head.startswith(b"\x89PNG\r\n\x1a\n") and len(head) > 25:
        # Bit depth and colour type of IHDR: sixteen bits of grey (type 0) are the one PNG that holds numbers.
        return "other" if (head[24], head[25]) == (16, 0) else "picture"
    if (head[:4] == b"RIFF" and head[8:12] == b"AVI ") or head[4:8] == b"ftyp" or head[:4] == b"\x1a\x45\xdf\xa3":
        return "video"
    return "other"


def _eight_bit_tiff(head: bytes, stream: BinaryIO) -> bool:
    """Look up BitsPerSample in a TIFF's first directory; False where that cannot be done."""
    order = _TIFF_STARTS[head[:4]]
    (offset,) = struct.unpack_from(order + "I", head, 4)
    directory = _bytes_at(offset, 2 + 12 * 64, stream)
    if len(directory) < 2:
        return False
    (count,) = struct.unpack_from(order + "H", directory)
    for entry in range(min(count, 64)):
        place = 2 + 12 * entry
        if place + 12 > len(directory):
            break
        tag, _, values, inline = struct.unpack_from(order + "HHII", directory, place)
        if tag == _TIFF_BITS:
            return _bits(order, directory[place + 8 : place + 12], values, inline, stream) == 8
    return False


def _bits(order: str, inline_bytes: bytes, values: int, offset: int, stream: BinaryIO) -> int:
    raw = inline_bytes if values <= 2 else _bytes_at(offset, 2, stream)
    return int(struct.unpack_from(order + "H", raw)[0]) if len(raw) >= 2 else 0


def _bytes_at(offset: int, count: int, stream: BinaryIO) -> bytes:
    stream.seek(offset)
    return stream.read(count)
