"""Text inside a PNG: what a picture shows, in words, travels with it."""

from __future__ import annotations

import struct
import zlib
from typing import Final

_HEADER_END: Final = 8 + 4 + 4 + 13 + 4
"""Signature, then the header chunk: length, type, 13 bytes, checksum."""


def with_text(png: bytes, keyword: str, text: str) -> bytes:
    """Put a text into a PNG, behind its header.

    Parameters
    ----------
    png : bytes
    keyword : str
        Latin-1, up to 79 characters; ``Description`` is one of the standard's own.
    text : str

    Returns
    -------
    bytes
        With an ``iTXt`` chunk in UTF-8 (ISO/IEC 15948:2004, 11.3.4.5), not compressed.
    """
    body = keyword.encode("latin-1") + b"\0" + b"\0\0" + b"\0" + b"\0" + text.encode("utf-8")
    kind = b"iTXt"
    chunk = struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
    return png[:_HEADER_END] + chunk + png[_HEADER_END:]
