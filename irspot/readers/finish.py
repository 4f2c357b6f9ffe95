"""What every reader does last: checks that hold for any format, and the `Frame` itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.camera import Camera
from irspot.errors import FrameUnreadable, UsageError
from irspot.frame import Frame
from irspot.readers import times
from irspot.readers.times import UNKNOWN, Taken
from irspot.readers.units import check_declared, check_self_described, spread_of

STORED_TYPES: Final = ("f4", "f8", "u2", "i2", "u4", "i4", "u8", "i8")
"""What frames may be stored as; eight bits are a picture, not a measurement."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where a frame comes from.

    Parameters
    ----------
    path : Path
        As the user named it.
    camera : Camera
        Declares what the numbers are.
    count : int
        Frames in the file.
    self_described : bool
        Whether the file itself says that its numbers are °C.
    """

    path: Path
    camera: Camera
    count: int = 1
    self_described: bool = False

    @property
    def file(self) -> str:
        """Name for messages."""
        return str(self.path)

    def check_index(self, index: int) -> None:
        """Refuse an index that no frame has.

        Raises
        ------
        UsageError
            If it is negative or too large.
        """
        if not 0 <= index < self.count:
            raise UsageError(
                "no such frame in the file", file=self.file, found=f"index {index}", wanted=f"0 to {self.count - 1}"
            )

    def frame_name(self, index: int) -> str:
        """How tables name a frame."""
        return self.path.name if self.count == 1 else f"{self.path.name}#{index}"


def require_declared(camera: Camera, file: str) -> None:
    """Refuse numbers of which nothing says what they are.

    Raises
    ------
    FrameUnreadable
        Without a camera file.
    """
    if not camera.declared:
        raise FrameUnreadable(
            "nothing says what the numbers of this frame are",
            file=file,
            wanted="a camera file with [signal] unit",
            hint="give one with --camera, or `camera` in the study",
        )


def check_camera_size(columns: int, rows: int, camera: Camera, file: str) -> None:
    """Refuse a frame that is not of the size the camera file states.

    Raises
    ------
    FrameUnreadable
        Naming both sizes.
    """
    wanted = camera.optics.size_px
    if wanted is None or wanted == (columns, rows):
        return
    turned = wanted == (rows, columns)
    raise FrameUnreadable(
        "the frame is not of the camera file's size",
        file=file,
        found=f"{columns} × {rows}",
        wanted=f"{wanted[0]} × {wanted[1]} (optics.size_px)",
        hint="it seems to be turned by a quarter" if turned else "",
    )


def stored_type(dtype: np.dtype[Any], file: str) -> np.dtype[Any]:
    """Check that numbers of this type can be a measurement; give the type in the machine's byte order.

    Raises
    ------
    FrameUnreadable
        For eight bits, text, objects, complex numbers and the like.
    """
    native = dtype.newbyteorder("=")
    if native.str[1:] in STORED_TYPES:
        return native
    wanted = "16- or 32-bit whole numbers, or 32- or 64-bit floats"
    if dtype.kind in "ui" and dtype.itemsize == 1:
        raise FrameUnreadable(
            "eight bits a pixel are a picture, not a radiometric frame",
            file=file,
            found=str(dtype),
            wanted=wanted,
            hint="have the camera's software save the radiometric data",
        )
    raise FrameUnreadable("numbers of this type are not read", file=file, found=str(dtype)[:60], wanted=wanted)


def finish(
    stored: NDArray[Any], source: Source, index: int = 0, *, taken: Taken = UNKNOWN, notes: tuple[str, ...] = ()
) -> Frame:
    """Check the numbers of a frame and make it.

    Parameters
    ----------
    stored : ndarray, shape (rows, columns)
        As stored, of any byte order.
    source : Source
    index : int
    taken : Taken
        From the file's own tags; where they say nothing, the file's name is asked.
    notes : tuple of str

    Raises
    ------
    FrameUnreadable
        If the size is not the camera's, or not one number was measured.
    UnitImplausible
        If the numbers cannot be in the declared unit.
    """
    rows, columns = stored.shape
    check_camera_size(columns, rows, source.camera, source.file)
    numbers, lost = _without_infinities(np.ascontiguousarray(stored, dtype=stored.dtype.newbyteorder("=")))
    _check_numbers(numbers, source, index)
    when = taken_or_named(taken, source, index)
    more = (f"{lost} infinite values taken as not measured",) if lost else ()
    return Frame(
        numbers, source.camera, source.frame_name(index), time_utc=when.utc, time_local=when.local, notes=notes + more
    )


def check_frame(frame: Frame, path: Path) -> Frame:
    """Hold a frame that was made elsewhere to the same checks.

    Raises
    ------
    FrameUnreadable
        If nothing declares its numbers, its size is not the camera's, or not one number was measured.
    UnitImplausible
        If the numbers cannot be in the declared unit.
    """
    require_declared(frame.camera, str(path))
    rows, columns = frame.shape
    check_camera_size(columns, rows, frame.camera, str(path))
    stored_type(frame.stored.dtype, str(path))
    _check_numbers(frame.stored, Source(path, frame.camera), 0)
    return frame


def _check_numbers(numbers: NDArray[Any], source: Source, index: int) -> None:
    spread = spread_of(numbers)
    if spread is None:
        raise FrameUnreadable("the frame holds not one number", file=source.file, key=_key(source, index))
    if source.self_described:
        check_self_described(spread, source.file)
    else:
        check_declared(spread, source.camera, source.file)


def _without_infinities(numbers: NDArray[Any]) -> tuple[NDArray[Any], int]:
    if numbers.dtype.kind != "f":
        return numbers, 0
    infinite = np.isinf(numbers)
    lost = int(np.count_nonzero(infinite))
    return (np.where(infinite, numbers.dtype.type(np.nan), numbers), lost) if lost else (numbers, 0)


def taken_or_named(taken: Taken, source: Source, index: int) -> Taken:
    """Say when a frame was taken: as its own tags say, else as the file's name does.

    The name of a file of many frames tells when it was begun: that is the time of its first frame only.
    """
    return taken if taken.known or index else times.from_name(source.path.name)


def taken_by_name(source: Source) -> Iterator[Taken]:
    """Say when each frame of a file without tags was taken."""
    for index in range(source.count):
        yield taken_or_named(UNKNOWN, source, index)


def _key(source: Source, index: int) -> str:
    return "" if source.count == 1 else f"frame {index}"
