"""The picture of zones before they are used: drawn anew as often as one likes, and over nothing else."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from irspot.atomic import write_atomic
from irspot.board import Board, Zone
from irspot.errors import OutputRefused, UsageError

_KEY: Final = b"tEXt"
_SAYS: Final = b"Comment\x00irspot preview of zones"
_AFTER_HEADER: Final = 33
"""Signature and header of a PNG; other chunks follow (W3C PNG, 5.2 and 11.2.2)."""


def refuse_preview(path: Path) -> None:
    """Refuse a name that is no picture's, and a file that is no preview: both before any work.

    Raises
    ------
    UsageError
    OutputRefused
    """
    if path.suffix.lower() != ".png":
        raise UsageError("the preview is a PNG", found=str(path), wanted="a name that ends in .png")
    if path.exists() and not (path.is_file() and _is_preview(path)):
        raise OutputRefused("is there already and is no preview", file=str(path), hint="give another name")


def write_preview(
    path: Path,
    board: Board,
    zones: Sequence[Zone],
    *,
    facts: Sequence[str],
    subtitle: str,
    size: tuple[int, int],
    refused: str = "",
) -> None:
    """Draw zones on their board and write the picture.

    Parameters
    ----------
    path : Path
        That `refuse_preview` let pass.
    board : Board
    zones : sequence of Zone
    facts : sequence of str
    subtitle : str
    size : tuple of int
        Width and height, px.
    refused : str
        Why the zones were not taken; empty where they were.
    """
    from irspot.rendering.layout_picture import layout_picture

    picture = layout_picture(board, zones, facts=facts, refused=refused, subtitle=subtitle, size=size)
    png = picture.png_bytes()
    write_atomic(path, png[:_AFTER_HEADER] + _chunk() + png[_AFTER_HEADER:])


def _chunk() -> bytes:
    return struct.pack(">I", len(_SAYS)) + _KEY + _SAYS + struct.pack(">I", zlib.crc32(_KEY + _SAYS))


def _is_preview(path: Path) -> bool:
    with path.open("rb") as stream:
        return stream.read(_AFTER_HEADER + len(_chunk()))[_AFTER_HEADER:] == _chunk()
