"""16-bit grey PNG, every check sum of it verified."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Camera
from irspot.errors import FrameUnreadable
from irspot.frame import Frame, FrameSource
from irspot.readers.finish import Source, check_camera_size, finish, require_declared
from irspot.readers.limits import check_size
from irspot.readers.pictures import colour_picture

SIGNATURE: Final = b"\x89PNG\r\n\x1a\n"
_MAX_DEFLATE_RATIO: Final = 1032
"""Deflate packs at most this many bytes into one (zlib's technical details)."""


@dataclass(frozen=True, slots=True)
class _Header:
    """What IHDR says of a grey 16-bit picture."""

    columns: int
    rows: int
    interlaced: bool

    @property
    def unpacked_bytes(self) -> int:
        """Size of the filtered rows: one filter byte and two bytes a pixel each."""
        if not self.interlaced:
            return self.rows * (1 + 2 * self.columns)
        return sum(
            rows * (1 + 2 * columns)
            for x, y, dx, dy in _ADAM7
            if (columns := -(-(self.columns - x) // dx)) > 0 and (rows := -(-(self.rows - y) // dy)) > 0
        )


# Start and step of the seven passes of an interlaced PNG (PNG specification, third edition, 8.1).
_ADAM7: Final = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))


def accepts(head: bytes, path: Path, camera: Camera) -> bool:
    """Say whether the content is a PNG."""
    return head.startswith(SIGNATURE)


def open(path: Path, camera: Camera) -> FrameSource:
    """Open a PNG: its header is checked here, its rows are unpacked by ``frame``.

    Raises
    ------
    FrameUnreadable
        If it is broken, or a colour or 8-bit picture.
    """
    file = str(path)
    content = path.read_bytes()
    chunks = list(_chunks(content, file))
    header = _header(chunks, file)
    require_declared(camera, file)
    check_size(header.columns, header.rows, file)
    check_camera_size(header.columns, header.rows, camera, file)
    packed = b"".join(data for kind, data in chunks if kind == b"IDAT")
    if header.unpacked_bytes > len(packed) * _MAX_DEFLATE_RATIO:
        raise FrameUnreadable("the file is too short for the size its header states", file=file)
    return PngFrame(Source(path, camera), header, packed)


@dataclass(frozen=True, slots=True)
class PngFrame:
    """The one frame of a PNG, still packed."""

    source: Source
    header: _Header
    packed: bytes

    @property
    def count(self) -> int:
        """Number of frames: one."""
        return 1

    def frame(self, index: int) -> Frame:
        """Unpack the frame.

        Raises
        ------
        FrameUnreadable
            If the packed rows are not what the header promised.
        """
        self.source.check_index(index)
        _check_stream(self.packed, self.header.unpacked_bytes, self.source.file)
        return finish(_unpack(self.packed, self.header, self.source.file), self.source)


def _chunks(content: bytes, file: str) -> Iterator[tuple[bytes, bytes]]:
    at = len(SIGNATURE)
    kind = b""
    while kind != b"IEND":
        if at + 12 > len(content):
            raise FrameUnreadable("the PNG is cut off", file=file)
        length, kind = struct.unpack_from(">I4s", content, at)
        end = at + 8 + length
        if end + 4 > len(content):
            raise FrameUnreadable("the PNG is cut off", file=file)
        if zlib.crc32(content[at + 4 : end]) != int.from_bytes(content[end : end + 4], "big"):
            raise FrameUnreadable("the PNG is damaged: a check sum does not match", file=file, key=f"byte {at}")
        yield kind, content[at + 8 : end]
        at = end + 4


def _header(chunks: list[tuple[bytes, bytes]], file: str) -> _Header:
    kind, data = chunks[0]
    if kind != b"IHDR" or len(data) != 13:
        raise FrameUnreadable("the PNG does not begin with its header", file=file)
    columns, rows, bits, colour, packing, filtering, interlace = struct.unpack(">IIBBBBB", data)
    if bits not in (1, 2, 4, 8, 16) or packing or filtering or interlace > 1:
        raise FrameUnreadable("the PNG's header holds values that are not defined", file=file)
    if colour != 0:
        raise colour_picture("a colour PNG", file)
    if bits != 16:
        raise colour_picture(f"a PNG of {bits} bits a pixel", file)
    return _Header(columns, rows, interlace == 1)


def _check_stream(packed: bytes, wanted: int, file: str) -> None:
    """Unpack once with a bound, which verifies zlib's own check sum and the size."""
    stream = zlib.decompressobj()
    try:
        size = len(stream.decompress(packed, wanted + 1))
    except zlib.error as error:
        raise FrameUnreadable("the PNG is damaged: its packed rows cannot be unpacked", file=file) from error
    if size != wanted or not stream.eof:
        raise FrameUnreadable("the PNG's rows are not of the size its header states", file=file)


def _unpack(packed: bytes, header: _Header, file: str) -> NDArray[Any]:
    from PIL import Image

    size = (header.columns, header.rows)
    # The decoder alone, without the file parser: no chunk of the file (gamma, transparency) can touch the numbers.
    try:
        image = Image.frombytes("I;16", size, packed, "zip", ("I;16B", int(header.interlaced)))
    except (ValueError, OSError, MemoryError, SystemError) as error:
        raise FrameUnreadable("the PNG's rows cannot be unpacked", file=file, found=str(error)[:80]) from error
    return np.asarray(image)
