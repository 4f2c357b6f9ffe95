"""Every frame of a recording: what its zones hold, block by block, kept beside the outputs until all is done.

What is kept (``series/RUN.csv.part``) begins with a line that says what it is of; behind it stand blocks of frames,
each with a check sum. A run that was interrupted goes on behind the last sound block, if file, study and method are the
same, and leaves in the end what an undisturbed one would have left.
"""

from __future__ import annotations

import hashlib
import json
import multiprocessing
import os
import threading
import zlib
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final

import numpy as np
from numpy.typing import NDArray

from irspot.constants import METHOD
from irspot.errors import FrameUnreadable, OutputRefused
from irspot.frame import FrameSource
from irspot.measurement.applied import applied_to
from irspot.measurement.full_rate import FIGURES, ZoneReader
from irspot.readers.plain import Plain
from irspot.readers.read_ahead import bare_frames, buffers
from irspot.workflow.opened import conditions_of
from irspot.workflow.stretches import Stretch
from irspot.workflow.tasks import MeasureTask

BLOCK: Final = 128
"""Frames of a block: what an interruption costs at most."""
THREADS: Final = min(2, os.cpu_count() or 1)
"""That work on blocks in one process: OpenCV and numpy let others run while they read pixels."""
_MARK: Final = "irspot part"
_HEAD_BYTES: Final = 65_536

Counting = Callable[[int, int], None]
"""Told frames done, and frames in all."""


def uncounted(_done: int, _total: int) -> None:
    """Show nothing."""


@dataclass(frozen=True, slots=True)
class Blocks:
    """How the frames of a recording are divided.

    Parameters
    ----------
    frames : int
    zones : int
        Of the side, and `elsewhere`.
    """

    frames: int
    zones: int

    @property
    def count(self) -> int:
        """Number of blocks."""
        return -(-self.frames // BLOCK)

    def frames_of(self, block: int) -> range:
        """Give the frames of a block; the last one may be shorter."""
        return range(block * BLOCK, min((block + 1) * BLOCK, self.frames))

    def bytes_of(self, block: int) -> int:
        """Give the size of a block with its check sum."""
        return len(self.frames_of(block)) * self.zones * FIGURES.itemsize + 4


@dataclass(frozen=True, slots=True, eq=False)
class Extraction:
    """A recording to be taken frame by frame.

    Parameters
    ----------
    task : MeasureTask
    source : FrameSource
        Asked for frames where `plain` is None.
    plain : Plain or None
        Where they lie bare in a file.
    stretches : tuple of Stretch
        All frames, in order.
    """

    task: MeasureTask
    source: FrameSource
    plain: Plain | None
    stretches: tuple[Stretch, ...]

    @property
    def layout(self) -> Blocks:
        """How what is kept is divided."""
        return Blocks(self.source.count, len(self.task.board.zones_of(self.task.run.side)) + 1)


def extract(extraction: Extraction, part: Path, processes: int = 1, counting: Counting = uncounted) -> None:
    """Take every frame and keep what was found in a file; what an interrupted run left there is gone on with.

    Parameters
    ----------
    extraction : Extraction
    part : Path
        The file.
    processes : int
    counting : callable

    Raises
    ------
    FrameUnreadable
        If a frame cannot be read.
    OutputRefused
        If the file is not ours, or cannot be written.
    """
    layout = extraction.layout
    done = _begun(layout, part, head_of(extraction))
    counting(min(done * BLOCK, layout.frames), layout.frames)
    try:
        with part.open("r+b") as stream:
            stream.seek(0, os.SEEK_END)
            for block, content in enumerate(_blocks(extraction, done, processes), start=done):
                stream.write(content + zlib.crc32(content).to_bytes(4, "little"))
                stream.flush()
                counting(layout.frames_of(block).stop, layout.frames)
    except OSError as error:
        raise OutputRefused(f"cannot be written: {error.strerror}", file=str(part), hint="check free space") from error


def kept_figures(part: Path, layout: Blocks) -> Iterator[NDArray[np.void]]:
    """Give what a finished extraction kept, block by block.

    Yields
    ------
    ndarray of `FIGURES`, shape (frames, zones and elsewhere)

    Raises
    ------
    FrameUnreadable
        If it is not whole.
    """
    with part.open("rb") as stream:
        stream.readline()
        for block in range(layout.count):
            content = _sound_block(stream, layout, block)
            if content is None:
                raise FrameUnreadable("what was kept of the recording is damaged", file=str(part), hint="run again")
            yield np.frombuffer(content, FIGURES).reshape(-1, layout.zones)


def head_of(extraction: Extraction) -> bytes:
    """Write the line that says what a file of blocks is of."""
    task = extraction.task
    files = [_file_facts(file) for file in task.run.frame_files]
    about = hashlib.sha256(repr((task.run, task.board, task.utc_offset)).encode()).hexdigest()
    head: dict[str, Any] = {_MARK: 1, "method": METHOD, "study": about, "files": files}
    head |= {"frames": extraction.layout.frames, "zones": extraction.layout.zones}
    head |= {"block": BLOCK, "record": FIGURES.itemsize}
    return json.dumps(head, sort_keys=True).encode() + b"\n"


def _file_facts(path: Path) -> dict[str, Any]:
    stat = path.stat()
    with path.open("rb") as file:
        digest = hashlib.sha256(file.read(_HEAD_BYTES)).hexdigest()
    return {"name": path.name, "bytes": stat.st_size, "modified_ns": stat.st_mtime_ns, "head_sha256": digest}


def is_part(path: Path) -> bool:
    """Say whether a file is one of ours."""
    try:
        with path.open("rb") as stream:
            return _MARK in json.loads(stream.readline(1 << 20))
    except (OSError, ValueError, TypeError):
        return False


def _begun(layout: Blocks, part: Path, head: bytes) -> int:
    """Make the file ready to be written on, and give the blocks that are done."""
    try:
        if part.exists() and part.stat().st_size and not is_part(part):
            raise OutputRefused(
                "exists and was not left by irspot", file=str(part), hint="move it, or give another folder"
            )
        part.parent.mkdir(parents=True, exist_ok=True)
        with part.open("a+b") as stream:
            stream.seek(0)
            if stream.readline(1 << 20) != head:
                stream.truncate(0)
                stream.write(head)
                return 0
            done, sound = 0, len(head)
            while done < layout.count and _sound_block(stream, layout, done) is not None:
                sound += layout.bytes_of(done)
                done += 1
            stream.truncate(sound)
            return done
    except OSError as error:
        reason = error.strerror or error
        raise OutputRefused(f"cannot be written: {reason}", file=str(part), hint="check the folder") from error


def _sound_block(stream: IO[bytes], layout: Blocks, block: int) -> bytes | None:
    content = stream.read(layout.bytes_of(block))
    if len(content) != layout.bytes_of(block) or zlib.crc32(content[:-4]).to_bytes(4, "little") != content[-4:]:
        return None
    return content[:-4]


def _blocks(extraction: Extraction, first: int, processes: int) -> Iterator[bytes]:
    """Give the content of the blocks from one on, in order."""
    blocks = range(first, extraction.layout.count)
    # Readers that unpack are not made for threads: their libraries' warnings are silenced for all of a process.
    threads = THREADS if extraction.plain is not None else 1
    if len(blocks) < 2 or max(processes, threads) <= 1:
        yield from _read_blocks(extraction, first, blocks.stop)
        return
    waiting: deque[Future[bytes]] = deque()
    with _workers(extraction, processes) as pool:
        try:
            for block in blocks:
                waiting.append(pool.submit(_one_block, block))
                if len(waiting) > 2 * max(processes, THREADS):
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            pool.shutdown(cancel_futures=True)


def _workers(extraction: Extraction, processes: int) -> Executor:
    """Give threads of this process, or further processes; each has a reading of its own."""
    if processes <= 1:
        return ThreadPoolExecutor(THREADS, initializer=_take, initargs=(extraction,))
    spawn = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(processes, spawn, initializer=_take_alone, initargs=(extraction,))


_mine = threading.local()


def _take(extraction: Extraction) -> None:
    _mine.reading = _Reading(extraction)


def _take_alone(extraction: Extraction) -> None:
    from irspot.opencv import load_cv2

    load_cv2().setNumThreads(1)
    _take(extraction)


def _one_block(block: int) -> bytes:
    reading: _Reading = _mine.reading
    return b"".join(_read_blocks(reading.extraction, block, block + 1, reading))


def _read_blocks(extraction: Extraction, first: int, stop: int, reading: _Reading | None = None) -> Iterator[bytes]:
    reading = reading or _Reading(extraction)
    begin, end = first * BLOCK, min(stop * BLOCK, extraction.source.count)
    block = np.empty((BLOCK, extraction.layout.zones), FIGURES)
    for index, frame in _frames(extraction, begin, end, reading.buffers):
        block[index % BLOCK] = reading.figures(index, frame)
        if index % BLOCK == BLOCK - 1 or index == end - 1:
            yield block[: index % BLOCK + 1].tobytes()


def _frames(extraction: Extraction, first: int, stop: int, into: list[bytearray]) -> Iterator[tuple[int, NDArray[Any]]]:
    if extraction.plain is not None:
        yield from bare_frames(extraction.plain, first, stop, into)
        return
    for index in range(first, stop):
        yield index, extraction.source.frame(index).stored


class _Reading:
    """The stretch that is being read."""

    def __init__(self, extraction: Extraction) -> None:
        self.extraction = extraction
        self.buffers = buffers()
        self._stretch: Stretch | None = None
        self._zones: ZoneReader | None = None
        self._nothing = np.array([(np.nan, np.nan, np.nan, -1, -1, 0)] * extraction.layout.zones, FIGURES)

    def figures(self, index: int, frame: NDArray[Any]) -> NDArray[np.void]:
        """Read the zones of one frame."""
        stretch = self._stretch
        if stretch is None or not stretch.first <= index < stretch.stop:
            stretch = next(each for each in self.extraction.stretches if each.first <= index < each.stop)
            self._stretch, self._zones = stretch, None
        if frame.shape != stretch.shape:
            found, wanted = str(frame.shape), str(stretch.shape)
            name = self.extraction.task.run.frame_files[0].name
            raise FrameUnreadable(
                "its frames differ in size", file=name, key=f"frame {index}", found=found, wanted=wanted
            )
        if stretch.placement is None:
            return self._nothing
        if self._zones is None:
            self._zones = zone_reader(self.extraction.task, stretch, frame.dtype)
        return self._zones.figures(frame)


def zone_reader(task: MeasureTask, stretch: Stretch, dtype: np.dtype[Any]) -> ZoneReader:
    """Prepare to read the zones of a stretch."""
    from irspot.measurement.geometry import geometry_of
    from irspot.measurement.readings import elsewhere_zone

    assert stretch.placement is not None
    run, board = task.run, task.board
    zones = (*board.zones_of(run.side), elsewhere_zone(board, run.side))
    sound = np.ones(stretch.shape, np.bool_)
    sound.flat[stretch.declared] = False
    sound.flat[stretch.found] = False
    conditions = conditions_of(run)
    applied = [applied_to(zone, conditions) for zone in zones]
    return ZoneReader(geometry_of(board, stretch.placement), sound, applied, stretch.camera, dtype)
