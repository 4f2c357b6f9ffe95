"""Which reader takes a file: its content decides first, its ending second, plug-ins last."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import Any, Final

from irspot.camera import NO_CAMERA, Camera
from irspot.errors import FrameUnreadable, UsageError
from irspot.frame import Frame, FrameSource
from irspot.readers.plain import Plain, plain_of, taken_of
from irspot.readers.times import Taken

HEAD_BYTES: Final = 4096
"""How much of a file readers are shown to decide by."""

_BUILT_IN: Final = ("tiff", "png16", "npy", "pictures", "grid", "raw")
"""In the order they are asked: those told by their first bytes, then text, then raw dumps, which tell nothing."""
_ENDINGS: Final = {
    ".tif": "TIFF",
    ".tiff": "TIFF",
    ".png": "PNG",
    ".npy": "NPY",
    ".npz": "NPZ",
    ".csv": "text",
    ".tsv": "text",
    ".txt": "text",
}


def open_frames(path: str | os.PathLike[str], camera: Camera = NO_CAMERA) -> FrameSource:
    """Open a file of one or many frames, without reading a pixel where the format allows it.

    Parameters
    ----------
    path : path-like
    camera : Camera, optional
        Declares what the stored numbers are; frames that irspot wrote do not need it.

    Returns
    -------
    FrameSource
        Its ``frame(index)`` reads one frame.

    Raises
    ------
    FrameUnreadable
        If there is no such file, or it is not a frame as declared.
    LibraryMissing
        If its compression needs a library that is not installed.
    """
    place = Path(path)
    with _told(str(place)):
        source = _opener(_head(place), place, camera)()
    return OpenedFrames(source, str(place))


def read_frame(path: str | os.PathLike[str], camera: Camera = NO_CAMERA, index: int | None = None) -> Frame:
    """Read one frame.

    Parameters
    ----------
    path : path-like
    camera : Camera, optional
        Declares what the stored numbers are; frames that irspot wrote do not need it.
    index : int, optional
        Which of several, counted from 0.

    Raises
    ------
    FrameUnreadable
        If there is no such file, or it is not a frame as declared.
    UnitImplausible
        If its numbers cannot be in the declared unit.
    UsageError
        If the file holds several frames and `index` is missing, or no frame has that index.
    """
    source = open_frames(path, camera)
    if index is None and source.count > 1:
        raise UsageError(
            f"the file holds {source.count} frames", file=str(path), wanted=f"an index from 0 to {source.count - 1}"
        )
    return source.frame(index or 0)


@dataclass(frozen=True, slots=True)
class OpenedFrames:
    """Frames of any reader; what goes wrong with the file itself is told in one line as well."""

    source: FrameSource
    file: str

    @property
    def count(self) -> int:
        """Number of frames."""
        return self.source.count

    def taken(self) -> Iterator[Taken]:
        """Say when each frame was taken; see `irspot.readers.plain`."""
        with _told(self.file):
            yield from taken_of(self.source)

    def plain(self) -> Plain | None:
        """Say where the frames lie bare in the file; see `irspot.readers.plain`."""
        with _told(self.file):
            return plain_of(self.source)

    def frame(self, index: int) -> Frame:
        """Read one frame.

        Raises
        ------
        FrameUnreadable
            If its bytes are not what the header promised, or the file has gone.
        """
        with _told(self.file):
            return self.source.frame(index)


@contextmanager
def _told(file: str) -> Iterator[None]:
    try:
        yield
    except (OSError, MemoryError) as error:
        raise _unreadable(error, file) from error


def _head(path: Path) -> bytes:
    try:
        mode = path.stat().st_mode
    except ValueError as error:
        raise FrameUnreadable("no file can have this name", file=str(path)) from error
    if stat.S_ISDIR(mode):
        raise FrameUnreadable("this is a directory", file=str(path), wanted="a frame file", hint="name a file in it")
    # Reading from a pipe or a device could wait or go on for ever.
    if not stat.S_ISREG(mode):
        raise FrameUnreadable("this is not a regular file", file=str(path))
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    if not head:
        raise FrameUnreadable("the file is empty", file=str(path))
    return head


def _opener(head: bytes, path: Path, camera: Camera) -> Callable[[], FrameSource]:
    for name in _BUILT_IN:
        reader: Any = import_module(f"irspot.readers.{name}")
        if reader.accepts(head, path, camera):
            return partial(reader.open, path, camera)
    from irspot.readers import plugins

    if opener := plugins.reader_for(head, path, camera):
        return opener
    raise _unknown(path)


def _unknown(path: Path) -> FrameUnreadable:
    expected = _ENDINGS.get(path.suffix.lower())
    if expected:
        return FrameUnreadable(
            f"the file is named as {expected}, but its content is something else",
            file=str(path),
            hint="a raw dump needs a camera file with a [raw] table" if expected == "text" else "",
        )
    return FrameUnreadable(
        "the content is of no known kind",
        file=str(path),
        wanted="TIFF, 16-bit PNG, CSV or TSV, NPY or NPZ",
        hint="a raw dump needs a camera file with a [raw] table",
    )


def _unreadable(error: OSError | MemoryError, file: str) -> FrameUnreadable:
    if isinstance(error, FileNotFoundError):
        return FrameUnreadable("there is no such file", file=file)
    if isinstance(error, PermissionError):
        return FrameUnreadable("the file may not be read by this user", file=file)
    if isinstance(error, MemoryError):
        return FrameUnreadable("the frame does not fit into memory", file=file)
    return FrameUnreadable("the file cannot be read", file=file, found=error.strerror or type(error).__name__)
