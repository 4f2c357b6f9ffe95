"""Where the pages of a TIFF are: its chain of directories, walked with nothing left out in silence.

A library that meets a broken chain gives the pages before the break; a recording would lose frames unnoticed.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import IO, Final, Literal

from irspot.errors import FrameUnreadable

_REDUCED_OR_MASK: Final = 0b101
"""Bits of NewSubfileType that say a page is no frame of its own (TIFF 6.0, section 8)."""
_NEW_SUBFILE_TYPE: Final = 254
_SHORT: Final = 3
_MAX_TAGS: Final = 4096


@dataclass(frozen=True, slots=True)
class Layout:
    """Sizes that differ between classic and big TIFF, as `struct` formats."""

    count: struct.Struct
    entry: struct.Struct
    offset: struct.Struct
    first_at: int
    order: Literal["little", "big"]

    @property
    def mark(self) -> str:
        """Byte order as `struct` writes it."""
        return "<" if self.order == "little" else ">"


def is_tiff(head: bytes) -> bool:
    """Say whether these are the first bytes of a classic or a big TIFF."""
    return head[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")


def page_offsets(file: IO[bytes], size: int, name: str) -> tuple[int, ...]:
    """Find the directories of all pages that are frames: previews and masks are left out.

    Parameters
    ----------
    file : binary file
    size : int
        Its size in bytes.
    name : str
        For messages.

    Raises
    ------
    FrameUnreadable
        If the chain leads out of the file or back into itself.
    """
    layout = layout_of(file, size, name)
    offset = layout.offset.unpack(_read(file, layout.first_at, layout.offset.size, size, name))[0]
    seen: set[int] = set()
    frames = []
    while offset:
        if offset in seen:
            raise FrameUnreadable("the TIFF is damaged: its list of pages leads back into itself", file=name)
        seen.add(offset)
        entries, following = directory(file, offset, layout, size, name)
        if _is_frame(entries, layout):
            frames.append(offset)
        offset = following
    if not frames:
        raise FrameUnreadable("the TIFF holds no full page", file=name)
    return tuple(frames)


def layout_of(file: IO[bytes], size: int, name: str) -> Layout:
    """Read from a TIFF's first bytes how its directories are written.

    Raises
    ------
    FrameUnreadable
        If the file is shorter than that.
    """
    head = _read(file, 0, 16, size, name)
    order: Literal["little", "big"] = "little" if head[:2] == b"II" else "big"
    formats, first_at = (("Q", "HHQ8s", "Q"), 8) if head[2:4] in (b"+\0", b"\0+") else (("H", "HHI4s", "I"), 4)
    count, entry, offset = (struct.Struct(("<" if order == "little" else ">") + letters) for letters in formats)
    return Layout(count, entry, offset, first_at, order)


def directory(file: IO[bytes], offset: int, layout: Layout, size: int, name: str) -> tuple[bytes, int]:
    """Read the entries of a page's directory, and where the next one is (0 after the last).

    Raises
    ------
    FrameUnreadable
        If it is cut off, or has no sensible number of entries.
    """
    count = layout.count.unpack(_read(file, offset, layout.count.size, size, name))[0]
    if not 0 < count <= _MAX_TAGS:
        raise FrameUnreadable("the TIFF is damaged: a page without a sensible list of tags", file=name)
    entries = count * layout.entry.size
    content = _read(file, offset + layout.count.size, entries + layout.offset.size, size, name)
    return content[:entries], layout.offset.unpack(content[entries:])[0]


def _is_frame(entries: bytes, layout: Layout) -> bool:
    is_frame = True
    for tag, kind, _, value in layout.entry.iter_unpack(entries):
        if tag == _NEW_SUBFILE_TYPE:
            number = int.from_bytes(value[: 2 if kind == _SHORT else 4], layout.order)
            is_frame = not number & _REDUCED_OR_MASK
    return is_frame


def _read(file: IO[bytes], at: int, length: int, size: int, name: str) -> bytes:
    if at + length > size:
        raise FrameUnreadable("the TIFF is cut off: a page lies beyond its end", file=name, found=f"{size} bytes")
    file.seek(at)
    content = file.read(length)
    if len(content) != length:
        raise FrameUnreadable("the TIFF is cut off", file=name)
    return content
