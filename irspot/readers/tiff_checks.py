"""Whether a TIFF page is one that irspot reads, and whether its bytes are all there, before anything is allocated."""

from __future__ import annotations

import importlib.util
import zlib
from dataclasses import dataclass
from typing import IO, Any, Final

import numpy as np

from irspot.errors import FrameUnreadable, LibraryMissing
from irspot.readers.finish import stored_type
from irspot.readers.limits import check_pixels, check_size
from irspot.readers.pictures import colour_picture

_NONE: Final = 1
_DEFLATE: Final = (8, 32946, 50013)
_MAX_RATIO: Final = {5: 4096, 8: 1032, 32946: 1032, 50013: 1032, 32773: 64, 34925: 10_000, 50000: 50_000}
"""Compressions that are read, with more than the most each can pack into one byte: LZW, deflate (its numbers),
PackBits, LZMA, Zstandard."""
_NEEDS_CODECS: Final = (5, 34925, 50000)
"""Compressions the TIFF library does not unpack by itself."""
_FLOAT_PREDICTOR: Final = 3


@dataclass(frozen=True, slots=True)
class Segments:
    """Strips or tiles of a page.

    Parameters
    ----------
    offsets, counts : tuple of int
        Where each begins, and its bytes in the file.
    unpacked : tuple of int
        Bytes each holds when unpacked.
    """

    offsets: tuple[int, ...]
    counts: tuple[int, ...]
    unpacked: tuple[int, ...]


def check_kind(page: Any, file: str) -> np.dtype[Any]:
    """Refuse colours, eight bits, packed bits and depth; give the type of the numbers.

    Parameters
    ----------
    page : tifffile.TiffPage
    file : str

    Raises
    ------
    FrameUnreadable
        If the page is no radiometric frame.
    """
    if page.samplesperpixel != 1 or int(page.photometric) not in (0, 1):
        raise colour_picture("a colour TIFF", file)
    if page.imagedepth != 1:
        raise FrameUnreadable("the TIFF page has depth; a frame is flat", file=file)
    if page.dtype is None or page.bitspersample not in (8, 16, 32, 64):
        raise FrameUnreadable(
            "pixels of this kind are not read",
            file=file,
            found=f"{page.bitspersample} bits",
            wanted="16- or 32-bit whole numbers, or 32- or 64-bit floats",
        )
    return stored_type(page.dtype, file)


def check_codecs(page: Any, file: str) -> None:
    """Refuse compressions that are not read.

    Raises
    ------
    FrameUnreadable
        If the compression is none of the usual lossless ones.
    LibraryMissing
        If it needs a library that is not installed.
    """
    compression, predictor = int(page.compression), int(page.predictor)
    if compression != _NONE and compression not in _MAX_RATIO:
        raise FrameUnreadable(
            "TIFF compression of this kind is not read",
            file=file,
            found=getattr(page.compression, "name", str(compression)),
            wanted="none, deflate, LZW, PackBits, Zstandard or LZMA",
        )
    if predictor not in (1, 2, _FLOAT_PREDICTOR):
        raise FrameUnreadable("a TIFF predictor of this kind is not read", file=file, found=str(predictor))
    if (compression in _NEEDS_CODECS or predictor == _FLOAT_PREDICTOR) and not has_codecs():
        raise LibraryMissing(
            "this TIFF is compressed in a way that needs the library imagecodecs",
            file=file,
            hint="run `pip install imagecodecs`, or save the frame uncompressed or with deflate",
        )


def has_codecs() -> bool:
    """Whether the library of further compressions is installed."""
    return importlib.util.find_spec("imagecodecs") is not None


def check_segments(page: Any, size: int, file: str) -> Segments:
    """Check that every strip or tile lies in the file, on no other, and is large enough for what it is to hold.

    Parameters
    ----------
    page : tifffile.TiffPage
    size : int
        Bytes of the file.
    file : str

    Raises
    ------
    FrameUnreadable
        If header and file do not agree.
    FrameTooLarge
        If the page, or one tile, has more pixels than the cap.
    """
    check_size(int(page.imagewidth), int(page.imagelength), file)
    offsets = tuple(int(n) for n in page.dataoffsets)
    counts = tuple(int(n) for n in page.databytecounts)
    unpacked = _unpacked_sizes(page, len(offsets), file)
    if not len(offsets) == len(counts) == len(unpacked):
        raise FrameUnreadable(
            "the TIFF's strips or tiles do not cover the frame",
            file=file,
            found=f"{len(offsets)} offsets, {len(counts)} sizes",
            wanted=str(len(unpacked)),
        )
    _check_places(offsets, counts, size, file)
    ratio = _MAX_RATIO.get(int(page.compression), 1)
    if any(wanted > count * ratio for wanted, count in zip(unpacked, counts, strict=True)):
        raise FrameUnreadable("the TIFF holds fewer bytes than its header promises", file=file)
    return Segments(offsets, counts, unpacked)


def _unpacked_sizes(page: Any, found: int, file: str) -> tuple[int, ...]:
    columns, rows, item = int(page.imagewidth), int(page.imagelength), int(page.dtype.itemsize)
    if page.is_tiled:
        across, down = int(page.tilewidth), int(page.tilelength)
        if across < 1 or down < 1:
            raise FrameUnreadable("the TIFF states tiles without size", file=file)
        check_pixels(across * down, f"a tile of {across} × {down}", file)
        return _repeat(-(-columns // across) * -(-rows // down), across * down * item, found)
    strip = min(int(page.rowsperstrip) or rows, rows)
    full, rest = divmod(rows, strip)
    last = (rest * columns * item,) if rest else ()
    return _repeat(full, strip * columns * item, found) + last


def _repeat(count: int, size: int, found: int) -> tuple[int, ...]:
    # A header may state billions of segments; one more than there are is enough to tell that they do not agree.
    return (size,) * min(count, found + 1)


def _check_places(offsets: tuple[int, ...], counts: tuple[int, ...], size: int, file: str) -> None:
    end_before = 8
    for offset, count in sorted(zip(offsets, counts, strict=True)):
        if count < 1 or offset < 8 or offset + count > size:
            raise FrameUnreadable(
                "the TIFF is cut off or damaged: a strip or tile lies outside the file",
                file=file,
                found=f"{count} bytes at {offset}",
                wanted=f"within {size}",
            )
        if offset < end_before:
            raise FrameUnreadable("the TIFF is damaged: strips or tiles lie on one another", file=file)
        end_before = offset + count


def check_streams(page: Any, segments: Segments, content: IO[bytes], file: str) -> None:
    """Unpack deflate streams once within bounds, which verifies their check sums and sizes.

    Raises
    ------
    FrameUnreadable
        If one is damaged, or holds more or less than the header promises.
    """
    if int(page.compression) not in _DEFLATE:
        return
    for offset, count, wanted in zip(segments.offsets, segments.counts, segments.unpacked, strict=True):
        content.seek(offset)
        if not _is_sound(content.read(count), wanted):
            raise FrameUnreadable("the TIFF is damaged: a compressed strip or tile does not unpack", file=file)


def _is_sound(packed: bytes, wanted: int) -> bool:
    stream = zlib.decompressobj()
    try:
        size = len(stream.decompress(packed, wanted + 1))
    except zlib.error:
        return False
    return size == wanted and stream.eof
