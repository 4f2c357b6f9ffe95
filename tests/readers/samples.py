"""Frames whose numbers encode row and column, cameras to read them with, and writers of files for the tests."""

from __future__ import annotations

import struct
import zlib
from typing import Any

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Camera, Signal

CENTIKELVIN = Camera(name="test camera", signal=Signal(unit="K", scale=0.01))
DEGC = Camera(name="test camera", signal=Signal(unit="degC"))

ROWS, COLUMNS = 37, 53
"""Awkward on purpose: not square, odd, no multiple of a tile."""


def degc(rows: int = ROWS, columns: int = COLUMNS, dtype: str = "f8") -> NDArray[Any]:
    """20.00 °C at the upper left, 0.50 K a column, 0.01 K a row more: every place is told by its number."""
    return (20.0 + 0.5 * np.arange(columns) + 0.01 * np.arange(rows)[:, None]).astype(dtype)


def centikelvin(rows: int = ROWS, columns: int = COLUMNS, dtype: str = "u2") -> NDArray[Any]:
    """29300 at the upper left, 50 a column and 1 a row more."""
    return (29300 + 50 * np.arange(columns) + np.arange(rows)[:, None]).astype(dtype)


def png_bytes(columns: int, rows: int, bits: int, colour: int, packed: bytes, interlace: int = 0) -> bytes:
    """Compose a PNG by the book (PNG specification, third edition, 5.3 and 11.2)."""
    header = struct.pack(">IIBBBBB", columns, rows, bits, colour, 0, 0, interlace)
    chunks = ((b"IHDR", header), (b"IDAT", packed), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(png_chunk(kind, data) for kind, data in chunks)


def png_chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_of(numbers: NDArray[Any]) -> bytes:
    rows, columns = numbers.shape
    filtered = b"".join(b"\0" + row.tobytes() for row in numbers.astype(">u2"))
    return png_bytes(columns, rows, 16, 0, zlib.compress(filtered))
