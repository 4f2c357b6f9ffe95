"""How large a frame may be, against hostile or mistaken files."""

from __future__ import annotations

import os

from irspot.constants import MAX_PIXELS
from irspot.errors import FrameTooLarge, FrameUnreadable, UsageError

VARIABLE = "IRSPOT_MAX_PIXELS"
"""Environment variable that replaces `irspot.constants.MAX_PIXELS`."""


def max_pixels() -> int:
    """Pixels that one frame may have.

    Raises
    ------
    UsageError
        If the environment variable is set to anything but a positive whole number.
    """
    text = os.environ.get(VARIABLE, "").strip()
    if not text:
        return MAX_PIXELS
    if not (text.isascii() and text.isdigit() and len(text) < 16 and int(text) > 0):
        raise UsageError(f"environment variable {VARIABLE} is not usable", found=text, wanted="a positive whole number")
    return int(text)


def check_size(columns: int, rows: int, file: str) -> None:
    """Refuse a frame without pixels or with more than the cap, before anything is allocated for it.

    Raises
    ------
    FrameUnreadable
        If a side is not positive.
    FrameTooLarge
        If there are more pixels than `max_pixels`.
    """
    if columns <= 0 or rows <= 0:
        raise FrameUnreadable("the header promises a frame without pixels", file=file, found=f"{columns} × {rows}")
    check_pixels(columns * rows, f"{columns} × {rows} pixels", file)


def check_pixels(pixels: int, found: str, file: str) -> None:
    """Refuse more pixels than the cap.

    Raises
    ------
    FrameTooLarge
        If there are more pixels than `max_pixels`.
    """
    cap = max_pixels()
    if pixels > cap:
        raise FrameTooLarge(
            "more pixels than irspot reads at once",
            file=file,
            found=found,
            wanted=f"at most {cap}",
            hint=f"if the file is right, raise the cap with the environment variable {VARIABLE}={pixels}",
        )
