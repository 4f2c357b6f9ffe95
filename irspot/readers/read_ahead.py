"""Bare frames of a file one after another, read in large pieces by a thread of its own while others are worked on.

Pieces go into a few buffers that are used again and again, so that memory does not grow with the recording; a memory
map would count every page it touched.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO, Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.errors import FrameUnreadable, IrspotError
from irspot.readers.plain import Plain
from irspot.readers.reading import expect_all

PIECE_BYTES: Final = 8 << 20
"""Large enough that a disk reads at its speed, small enough to stay in a processor's outer cache."""
_BUFFERS: Final = 3


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """Frames read: the first's index, how many, and the buffer that holds them."""

    first: int
    count: int
    buffer: bytearray


def buffers() -> list[bytearray]:
    """Make buffers for `bare_frames`; they grow to what they have to hold when they are used first."""
    return [bytearray() for _ in range(_BUFFERS)]


def bare_frames(
    plain: Plain, first: int, stop: int, into: list[bytearray] | None = None
) -> Iterator[tuple[int, NDArray[Any]]]:
    """Give frames in their order, in the machine's byte order.

    Parameters
    ----------
    plain : Plain
    first, stop : int
        Indices of the frames, the second exclusive.
    into : list of bytearray, optional
        From `buffers`, used by one call at a time: memory that is new costs more time than what is read into it.

    Yields
    ------
    int
        Index of the frame.
    ndarray, shape (rows, columns)
        To be used before the next is taken: its memory is used again.

    Raises
    ------
    FrameUnreadable
        If the file has become shorter, or cannot be read.
    """
    free: queue.Queue[bytearray] = queue.Queue()
    for buffer in buffers() if into is None else into:
        free.put(buffer)
    full: queue.Queue[_Piece | Exception | None] = queue.Queue()
    ended = threading.Event()
    thread = threading.Thread(target=_read_pieces, args=(plain, first, stop, free, full, ended), daemon=True)
    thread.start()
    native = np.empty(plain.shape, plain.dtype.newbyteorder("="))
    try:
        while (piece := full.get()) is not None:
            if isinstance(piece, Exception):
                raise piece
            yield from _frames_in(piece, plain, native)
            free.put(piece.buffer)
    finally:
        ended.set()
        free.put(bytearray())
        thread.join()


def _frames_in(piece: _Piece, plain: Plain, native: NDArray[Any]) -> Iterator[tuple[int, NDArray[Any]]]:
    start = int(plain.offsets[piece.first])
    size = plain.shape[0] * plain.shape[1]
    as_it_is = plain.dtype.isnative
    for index in range(piece.first, piece.first + piece.count):
        at = int(plain.offsets[index]) - start
        frame = np.frombuffer(piece.buffer, plain.dtype, size, at).reshape(plain.shape)
        if as_it_is and frame.flags.aligned:
            yield index, frame
        else:
            np.copyto(native, frame)
            yield index, native


def _read_pieces(
    plain: Plain,
    first: int,
    stop: int,
    free: queue.Queue[bytearray],
    full: queue.Queue[_Piece | Exception | None],
    ended: threading.Event,
) -> None:
    try:
        with plain.path.open("rb", buffering=0) as file:
            expect_all(file)
            while first < stop and not ended.is_set():
                buffer = free.get()
                count = _count_of_piece(plain, first, stop)
                _fill(file, plain, first, count, buffer)
                full.put(_Piece(first, count, buffer))
                first += count
        full.put(None)
    except IrspotError as error:
        full.put(error)
    except OSError as error:
        full.put(FrameUnreadable("the file cannot be read", file=str(plain.path), found=error.strerror or ""))


def _count_of_piece(plain: Plain, first: int, stop: int) -> int:
    """How many frames fit a piece; one where a frame, or the gap behind it, is larger than that."""
    ends = plain.offsets[first:stop] + plain.frame_bytes - plain.offsets[first]
    return max(1, int(np.searchsorted(ends, PIECE_BYTES, side="right")))


def _fill(file: IO[bytes], plain: Plain, first: int, count: int, buffer: bytearray) -> None:
    length = int(plain.offsets[first + count - 1] - plain.offsets[first]) + plain.frame_bytes
    if len(buffer) < length:
        buffer.extend(bytes(length - len(buffer)))
    file.seek(int(plain.offsets[first]))
    view = memoryview(buffer)[:length]
    done = 0
    while done < length:
        got = file.readinto(view[done:])  # type: ignore[attr-defined]
        if not got:
            key = f"frame {first + done // plain.frame_bytes}"
            raise FrameUnreadable("the file ends within a frame", file=str(plain.path), key=key)
        done += got
