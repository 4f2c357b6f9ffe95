"""Writing files so that they are whole or absent."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

from irspot.errors import OutputRefused


def write_atomic(path: Path, data: bytes, *, overwrite: bool = True) -> None:
    """Write a file through a temporary sibling, so that nobody ever sees half of it.

    Parameters
    ----------
    path : Path
        Its folder is made if need be.
    data : bytes
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    OutputRefused
        If the file exists and may not be replaced, or the system refuses.
    """
    write_atomic_by(path, lambda stream: stream.write(data), overwrite=overwrite)


def write_atomic_by(path: Path, write: Callable[[BinaryIO], object], *, overwrite: bool = True) -> None:
    """Write a file as `write_atomic` does, its content piece by piece.

    Parameters
    ----------
    path : Path
    write : callable
        Writes the content to a binary file; whatever it raises leaves no file behind.
    overwrite : bool

    Raises
    ------
    OutputRefused
        As `write_atomic`.
    """
    if not overwrite and path.exists():
        raise OutputRefused("the file exists already and is left as it is", file=str(path), hint="give another folder")
    temporary = ""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(prefix=f".{path.name[:40]}-", suffix=".part", dir=path.parent)
        os.close(handle)
        with open(temporary, "w+b") as stream:
            write(stream)
        # mkstemp makes private files; outputs follow the user's own umask like any other file.
        os.chmod(temporary, 0o666 & ~_umask())
        os.replace(temporary, path)
        temporary = ""
    except OSError as error:
        in_the_way = isinstance(error, FileExistsError | NotADirectoryError)
        reason = "a file stands where its folder should be" if in_the_way else error.strerror or error
        raise OutputRefused(
            f"cannot be written: {reason}", file=str(path), hint="check the folder and free space"
        ) from error
    finally:
        with contextlib.suppress(OSError):
            if temporary:
                os.unlink(temporary)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
