"""What the system is told about how a file will be read, where it listens."""

from __future__ import annotations

import os
from typing import IO


def expect_jumps(file: IO[bytes]) -> None:
    """Tell the system that a file is read here and there: what lies beside need not be read ahead."""
    _advise(file, "POSIX_FADV_RANDOM")


def expect_all(file: IO[bytes]) -> None:
    """Tell the system that a file is read from beginning to end: the more is read ahead the better."""
    _advise(file, "POSIX_FADV_SEQUENTIAL")


def _advise(file: IO[bytes], name: str) -> None:
    advise, what = getattr(os, "posix_fadvise", None), getattr(os, name, None)
    if advise is not None and what is not None:
        advise(file.fileno(), 0, 0, what)
