"""Tags of a TIFF page read without its pixels and without a library: thousands of pages are a second's work."""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import IO, Final

from irspot.readers.tiff_pages import Layout, directory, layout_of

_SIZES: Final = {1: 1, 2: 1, 3: 2, 4: 4, 16: 8}
"""Bytes of the kinds of numbers that are read here: byte, text, short, long, long of big files."""
_LETTERS: Final = {1: "B", 3: "H", 4: "I", 16: "Q"}
_MOST_BYTES: Final = 1 << 20


@dataclass(frozen=True, slots=True)
class Entry:
    """What a page says under one tag: its kind, how many, and the number itself or where it is."""

    kind: int
    count: int
    value: bytes


class PageTags:
    """The tags of one page.

    Parameters
    ----------
    file : binary file
    layout : Layout
    entries : mapping of int to Entry
    """

    __slots__ = ("_entries", "_file", "_layout")

    def __init__(self, file: IO[bytes], layout: Layout, entries: Mapping[int, Entry]) -> None:
        self._file, self._layout, self._entries = file, layout, entries

    def text(self, tag: int) -> str:
        """Give a text; empty where there is none, or it cannot be read."""
        entry = self._entries.get(tag)
        if entry is None or entry.kind != 2:
            return ""
        return self._content(entry).split(b"\0")[0].decode("utf-8", "replace")

    def numbers(self, tag: int, default: tuple[int, ...] = ()) -> tuple[int, ...]:
        """Give whole numbers; the default where there is none of them."""
        entry = self._entries.get(tag)
        if entry is None or entry.kind not in _LETTERS:
            return default
        content = self._content(entry)
        size = _SIZES[entry.kind]
        count = min(entry.count, len(content) // size)
        return struct.unpack_from(f"{self._layout.mark}{count}{_LETTERS[entry.kind]}", content)

    def _content(self, entry: Entry) -> bytes:
        length = entry.count * _SIZES[entry.kind]
        if length <= len(entry.value):
            return entry.value[:length]
        at = self._layout.offset.unpack(entry.value)[0]
        if length > _MOST_BYTES:
            return b""
        self._file.seek(at)
        return self._file.read(length)


def page_tags(file: IO[bytes], offsets: tuple[int, ...], size: int, name: str) -> Iterator[PageTags]:
    """Give the tags of pages, one page after another.

    Parameters
    ----------
    file : binary file
    offsets : tuple of int
        Of their directories; see `irspot.readers.tiff_pages.page_offsets`.
    size : int
        Of the file, in bytes.
    name : str
        For messages.

    Yields
    ------
    PageTags
        To be asked before the next is taken.

    Raises
    ------
    FrameUnreadable
        If a directory lies beyond the file's end.
    """
    layout = layout_of(file, size, name)
    for offset in offsets:
        entries, _ = directory(file, offset, layout, size, name)
        found: dict[int, Entry] = {}
        for tag, kind, count, value in layout.entry.iter_unpack(entries):
            found.setdefault(tag, Entry(kind, count, value))
        yield PageTags(file, layout, found)
