"""Pictures and videos, told from radiometric frames by their first bytes, and refused with what to do about it."""

from __future__ import annotations

from pathlib import Path

from irspot.camera import Camera
from irspot.errors import FrameUnreadable
from irspot.frame import FrameSource


def colour_picture(what: str, file: str) -> FrameUnreadable:
    """Make the error for a frame that holds colours instead of temperatures."""
    return FrameUnreadable(
        f"this is {what}, not a radiometric frame; colour-mapped frames are decoded by a later command",
        file=file,
        hint="if the camera's software can save radiometric data as well, use that: colours lose detail",
    )


def accepts(head: bytes, path: Path, camera: Camera) -> bool:
    """Say whether the content is a picture or a video that no other reader takes."""
    return bool(_kind(head))


def open(path: Path, camera: Camera) -> FrameSource:
    """Refuse the file.

    Raises
    ------
    FrameUnreadable
        Always.
    """
    with path.open("rb") as file:
        raise colour_picture(_kind(file.read(16)), str(path))


def _kind(head: bytes) -> str:
    if head.startswith(b"\xff\xd8\xff"):
        return "a JPEG picture"
    if head.startswith(b"BM") and head[6:10] == b"\0\0\0\0":
        return "a BMP picture"
    if head.startswith((b"GIF87a", b"GIF89a")):
        return "a GIF picture"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "a WebP picture"
    if (head[:4] == b"RIFF" and head[8:12] == b"AVI ") or head[4:8] == b"ftyp" or head[:4] == b"\x1a\x45\xdf\xa3":
        return "a video"
    return ""
