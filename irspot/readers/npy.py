"""NPY arrays and stacks, and NPZ archives of them; pickles are never loaded."""

from __future__ import annotations

import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Camera
from irspot.errors import FrameUnreadable
from irspot.frame import Frame, FrameSource
from irspot.readers.finish import Source, check_camera_size, finish, require_declared, stored_type, taken_by_name
from irspot.readers.limits import check_pixels, check_size
from irspot.readers.plain import Plain, evenly
from irspot.readers.times import Taken

MAGIC: Final = b"\x93NUMPY"
ZIP_MAGIC: Final = b"PK\x03\x04"
MEMBERS: Final = ("frames", "frame")
"""Names that tell the frames among several arrays of an archive."""
_MAX_DEFLATE_RATIO: Final = 1032


@dataclass(frozen=True, slots=True)
class _Header:
    """What an NPY header says.

    Parameters
    ----------
    shape : tuple of int
        ``(rows, columns)`` or ``(frames, rows, columns)``.
    column_first : bool
        Fortran order.
    dtype : numpy.dtype
        As stored, of any byte order.
    start : int
        Where the numbers begin.
    """

    shape: tuple[int, ...]
    column_first: bool
    dtype: np.dtype[Any]
    start: int

    @property
    def pixels(self) -> int:
        """Numbers of the whole array."""
        product = 1
        for side in self.shape:
            product *= side
        return product

    @property
    def end(self) -> int:
        """Size that the file must have."""
        return self.start + self.pixels * self.dtype.itemsize

    @property
    def frames(self) -> int:
        """Number of frames."""
        return self.shape[0] if len(self.shape) == 3 else 1


def accepts(head: bytes, path: Path, camera: Camera) -> bool:
    """Say whether the content is an NPY array or an archive that is not named otherwise."""
    return head.startswith(MAGIC) or head.startswith(ZIP_MAGIC)


def open(path: Path, camera: Camera) -> FrameSource:
    """Open an NPY file (mapped into memory, one frame read at a time) or an NPZ archive (read whole).

    Raises
    ------
    FrameUnreadable
        If the header does not fit the file's size, or is not that of a frame or a stack of frames.
    """
    require_declared(camera, str(path))
    with path.open("rb") as file:
        if file.read(len(MAGIC)) != MAGIC:
            return _open_archive(path, camera)
        file.seek(0)
        header = _read_header(file, str(path))
    _check(header, camera, str(path))
    size = path.stat().st_size
    if size != header.end:
        raise FrameUnreadable(
            "the file is not of the size its header states",
            file=str(path),
            found=f"{size} bytes",
            wanted=f"{header.end} ({header.start} and {header.shape} numbers of {header.dtype.itemsize})",
        )
    return NpyFrames(Source(path, camera, header.frames), header)


@dataclass(frozen=True, slots=True)
class NpyFrames:
    """Frames of an NPY file, read one at a time."""

    source: Source
    header: _Header

    @property
    def count(self) -> int:
        """Number of frames."""
        return self.source.count

    def taken(self) -> Iterator[Taken]:
        """Say when each frame was taken: the file's name may tell of the first."""
        return taken_by_name(self.source)

    def plain(self) -> Plain | None:
        """Say where the frames lie bare in the file; None where columns come first."""
        header = self.header
        if header.column_first:
            return None
        rows, columns = header.shape[-2:]
        return Plain(self.source.path, header.dtype, (rows, columns), evenly(header.start, header.frames, header.end))

    def frame(self, index: int) -> Frame:
        """Read one frame.

        Raises
        ------
        FrameUnreadable
            If the file has become shorter, or the numbers cannot be what they are declared to be.
        """
        self.source.check_index(index)
        header = self.header
        if self.source.path.stat().st_size != header.end:
            raise FrameUnreadable("the file has changed since it was opened", file=self.source.file)
        order = "F" if header.column_first else "C"
        mapped = np.memmap(self.source.path, header.dtype, "r", header.start, header.shape, order)  # type: ignore[call-overload]
        # A copy, so that the file is not held open by a frame.
        return finish(np.array(_of_stack(mapped, index)), self.source, index)


@dataclass(frozen=True, slots=True, eq=False)
class ArrayFrames:
    """Frames of an array in memory."""

    source: Source
    array: NDArray[Any]

    @property
    def count(self) -> int:
        """Number of frames."""
        return self.source.count

    def taken(self) -> Iterator[Taken]:
        """Say when each frame was taken: the file's name may tell of the first."""
        return taken_by_name(self.source)

    def frame(self, index: int) -> Frame:
        """Give one frame.

        Raises
        ------
        FrameUnreadable
            If its numbers cannot be what they are declared to be.
        """
        self.source.check_index(index)
        return finish(_of_stack(self.array, index), self.source, index)


def _of_stack(array: NDArray[Any], index: int) -> NDArray[Any]:
    frame: NDArray[Any] = array[index] if array.ndim == 3 else array
    return frame


def _read_header(file: IO[bytes], name: str) -> _Header:
    from numpy.lib import format as npy_format

    try:
        # Headers of Python 2 are read with a warning, which is nobody's concern here.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            version = npy_format.read_magic(file)
            # Version 3 differs from 2 by names of fields in UTF-8 alone, and a frame has no fields.
            read = npy_format.read_array_header_1_0 if version == (1, 0) else npy_format.read_array_header_2_0
            shape, column_first, dtype = read(file)
    # The header is a Python literal: parsing a hostile one ends in one of many ways.
    except Exception as error:
        raise FrameUnreadable("the NPY header is damaged", file=name, found=str(error).split("\n")[0][:80]) from error
    return _Header(tuple(int(side) for side in shape), bool(column_first), dtype, file.tell())


def _check(header: _Header, camera: Camera, file: str) -> None:
    if header.dtype.hasobject:
        raise FrameUnreadable("the array holds Python objects (a pickle), which are never loaded", file=file)
    stored_type(header.dtype, file)
    if len(header.shape) not in (2, 3) or (len(header.shape) == 3 and 1 <= header.shape[2] <= 4):
        raise FrameUnreadable(
            "the array is neither a frame nor a stack of frames",
            file=file,
            found=f"shape {header.shape}",
            wanted="(rows, columns) or (frames, rows, columns)",
        )
    if header.frames <= 0:
        raise FrameUnreadable("the stack holds no frames", file=file, found=f"shape {header.shape}")
    rows, columns = header.shape[-2:]
    check_size(columns, rows, file)
    check_camera_size(columns, rows, camera, file)


def _open_archive(path: Path, camera: Camera) -> FrameSource:
    file = str(path)
    try:
        with zipfile.ZipFile(path) as archive:
            member = _member(archive, file)
            return _read_member(archive, member, path, camera)
    except FrameUnreadable:
        raise
    # zipfile raises BadZipFile, zlib.error, EOFError, RuntimeError (encrypted), NotImplementedError, ValueError, ...
    except Exception as error:
        raise FrameUnreadable("the NPZ archive is damaged", file=file, found=str(error)[:80]) from error


def _member(archive: zipfile.ZipFile, file: str) -> zipfile.ZipInfo:
    arrays = {info.filename[: -len(".npy")]: info for info in archive.infolist() if info.filename.endswith(".npy")}
    if not arrays:
        raise FrameUnreadable("the archive holds no NPY array", file=file)
    named = [name for name in MEMBERS if name in arrays]
    if len(named) == 1 or len(arrays) == 1:
        return arrays[named[0]] if named else next(iter(arrays.values()))
    raise FrameUnreadable(
        "the archive holds several arrays, and which of them are the frames is not clear",
        file=file,
        found=", ".join(sorted(arrays))[:200],
        wanted="one named frames (or frame)",
    )


def _read_member(archive: zipfile.ZipFile, info: zipfile.ZipInfo, path: Path, camera: Camera) -> FrameSource:
    file = str(path)
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise FrameUnreadable("the archive is compressed in an unusual way", file=file, key=info.filename)
    packed = min(info.compress_size, path.stat().st_size)
    if info.file_size > packed * _MAX_DEFLATE_RATIO:
        raise FrameUnreadable("the archive promises more than it can hold", file=file, key=info.filename)
    with archive.open(info) as member:
        header = _read_header(member, file)
        _check(header, camera, file)
        # Archives are unpacked whole, so the cap of one frame holds for all of it.
        check_pixels(header.pixels, f"{header.pixels} in all frames of a packed archive", file)
        if info.file_size != header.end:
            raise FrameUnreadable(
                "an array of the archive is not of the size its header states",
                file=file,
                key=info.filename,
                found=f"{info.file_size} bytes",
                wanted=str(header.end),
            )
        content = member.read()
        if len(content) != header.end - header.start:
            raise FrameUnreadable("the archive ends within its array", file=file, key=info.filename)
    array = np.frombuffer(content, header.dtype).reshape(header.shape, order="F" if header.column_first else "C")
    return ArrayFrames(Source(path, camera, header.frames), array)
