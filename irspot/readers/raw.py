"""Raw dumps: frames of bare numbers one after another, described by the camera file's ``[raw]`` table."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from irspot.camera import Camera, RawLayout
from irspot.errors import FrameUnreadable
from irspot.frame import Frame, FrameSource
from irspot.readers.finish import Source, check_camera_size, finish, require_declared, taken_by_name
from irspot.readers.limits import check_size
from irspot.readers.plain import Plain, evenly
from irspot.readers.times import Taken


def accepts(head: bytes, path: Path, camera: Camera) -> bool:
    """Take anything, if the camera file has a ``[raw]`` table: the bytes of a dump tell nothing."""
    return camera.raw is not None


def open(path: Path, camera: Camera) -> FrameSource:
    """Open a dump of any number of frames.

    Raises
    ------
    FrameUnreadable
        If the file's size is not ``skip_bytes`` and a whole number of frames.
    """
    layout = camera.raw
    if layout is None:
        raise FrameUnreadable("a raw dump needs the [raw] table of a camera file", file=str(path))
    require_declared(camera, str(path))
    dtype = _dtype(layout, str(path))
    check_size(layout.width, layout.height, str(path))
    check_camera_size(layout.width, layout.height, camera, str(path))
    count = _count(path.stat().st_size, layout, dtype.itemsize, str(path))
    return RawFrames(Source(path, camera, count), layout, dtype)


@dataclass(frozen=True, slots=True)
class RawFrames:
    """Frames of a dump, read one at a time."""

    source: Source
    layout: RawLayout
    dtype: np.dtype[Any]

    @property
    def count(self) -> int:
        """Number of frames."""
        return self.source.count

    def taken(self) -> Iterator[Taken]:
        """Say when each frame was taken: the file's name may tell of the first."""
        return taken_by_name(self.source)

    def plain(self) -> Plain:
        """Say where the frames lie bare in the file."""
        layout = self.layout
        end = layout.skip_bytes + self.count * layout.width * layout.height * self.dtype.itemsize
        offsets = evenly(layout.skip_bytes, self.count, end)
        return Plain(self.source.path, self.dtype, (layout.height, layout.width), offsets)

    def frame(self, index: int) -> Frame:
        """Read one frame.

        Raises
        ------
        FrameUnreadable
            If the file has become shorter, or the numbers cannot be what they are declared to be.
        """
        self.source.check_index(index)
        size = self.layout.width * self.layout.height * self.dtype.itemsize
        with self.source.path.open("rb") as file:
            file.seek(self.layout.skip_bytes + index * size)
            content = file.read(size)
        if len(content) != size:
            raise FrameUnreadable("the file ends within a frame", file=self.source.file, key=f"frame {index}")
        stored = np.frombuffer(content, self.dtype).reshape(self.layout.height, self.layout.width)
        return finish(stored, self.source, index)


def _dtype(layout: RawLayout, file: str) -> np.dtype[Any]:
    try:
        dtype = np.dtype(layout.dtype)
    except TypeError:
        dtype = np.dtype(object)
    if dtype.kind not in "uif":
        raise FrameUnreadable(
            "the camera file names no number type", file=file, key="raw.dtype", found=layout.dtype, wanted="uint16, ..."
        )
    return dtype.newbyteorder("<" if layout.byte_order == "little" else ">")


def _count(size: int, layout: RawLayout, itemsize: int, file: str) -> int:
    frame = layout.width * layout.height * itemsize
    count, rest = divmod(size - layout.skip_bytes, frame)
    if count >= 1 and rest == 0:
        return count
    hint = "check width, height, dtype and skip_bytes under [raw] of the camera file"
    if size % frame != size and size % frame != layout.skip_bytes:
        hint += f"; skip_bytes = {size % frame} would make {size // frame} frames of it"
    raise FrameUnreadable(
        "the file's size does not fit the [raw] table of the camera file",
        file=file,
        found=f"{size} bytes",
        wanted=f"{layout.skip_bytes} and a whole number of times {frame} "
        f"({layout.width} × {layout.height} × {itemsize})",
        hint=hint,
    )
