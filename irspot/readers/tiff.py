"""TIFF frames and recordings: classic and big, either byte order, strips and tiles, the usual compressions."""

from __future__ import annotations

import json
import logging
import math
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Any, Final

import numpy as np

from irspot.camera import Camera
from irspot.errors import FrameUnreadable, IrspotError
from irspot.frame import Frame, FrameSource
from irspot.readers import times
from irspot.readers.finish import Source, check_camera_size, finish, require_declared, taken_or_named
from irspot.readers.plain import Plain
from irspot.readers.reading import expect_jumps
from irspot.readers.tiff_checks import Segments, check_codecs, check_kind, check_segments, check_streams
from irspot.readers.tiff_entries import page_tags
from irspot.readers.tiff_pages import is_tiff, layout_of, page_offsets
from irspot.readers.tiff_plain import plain_pages
from irspot.readers.times import Taken

_PROMISED: Final = re.compile(r'\A\{"shape": \[(\d{1,9}), \d+, \d+\]|^images=(\d{1,9})$', re.MULTILINE)
"""How two common writers state the number of frames in a description."""


def accepts(head: bytes, path: Path, camera: Camera) -> bool:
    """Say whether the content is a TIFF."""
    return is_tiff(head)


def open(path: Path, camera: Camera) -> FrameSource:
    """Open a TIFF; its first page is checked, no pixel is read.

    Raises
    ------
    FrameUnreadable
        If it is damaged, cut off, or no radiometric frame.
    LibraryMissing
        If its compression needs a library that is not installed.
    """
    name = str(path)
    size = path.stat().st_size
    with path.open("rb") as file:
        expect_jumps(file)
        offsets = page_offsets(file, size, name)
        with _page(file, offsets[0], 0, name) as page:
            check_kind(page, name)
            described = _says_degc(page, name)
            if not described:
                require_declared(camera, name)
            _check(page, camera, size, name)
            _check_promised(page, len(offsets), name)
    camera = camera.storing_degc() if described else camera
    return TiffFrames(Source(path, camera, len(offsets), described), offsets)


@dataclass(frozen=True, slots=True)
class TiffFrames:
    """Pages of a TIFF, read one at a time."""

    source: Source
    offsets: tuple[int, ...]

    @property
    def count(self) -> int:
        """Number of frames."""
        return len(self.offsets)

    def taken(self) -> Iterator[Taken]:
        """Say when each page was taken, from its tags alone.

        Raises
        ------
        FrameUnreadable
            If the file has become shorter.
        """
        path, name = self.source.path, self.source.file
        with path.open("rb") as file:
            expect_jumps(file)
            for index, tags in enumerate(page_tags(file, self.offsets, path.stat().st_size, name)):
                yield taken_or_named(_stamped(tags.text(270), tags.text(306)), self.source, index)

    def plain(self) -> Plain | None:
        """Say where the pages' numbers lie bare in the file; None where they are packed, or marked by irspot itself."""
        if self.source.self_described:
            return None
        with self.source.path.open("rb") as file:
            mark = layout_of(file, self.source.path.stat().st_size, self.source.file).mark
        return plain_pages(self.source.path, self.offsets, mark)

    def frame(self, index: int) -> Frame:
        """Read one page.

        Raises
        ------
        FrameUnreadable
            If its bytes are not what the header promised.
        LibraryMissing
            If its compression needs a library that is not installed.
        """
        self.source.check_index(index)
        name = self.source.file
        size = self.source.path.stat().st_size
        # Opened for every frame: no file stays open behind a frame, and none is in the way of a replacement.
        with self.source.path.open("rb") as file, _page(file, self.offsets[index], index, name) as page:
            check_kind(page, name)
            segments = _check(page, self.source.camera, size, name)
            check_streams(page, segments, file, name)
            stored = page.asarray(maxworkers=1)
            taken, notes, record = _taken(page), _notes(page), _record(page)
        frame = finish(stored, self.source, index, taken=taken, notes=notes)
        return _as_decoded(frame, record) if self.source.self_described else frame


def _check(page: Any, camera: Camera, size: int, name: str) -> Segments:
    check_codecs(page, name)
    segments = check_segments(page, size, name)
    check_camera_size(int(page.imagewidth), int(page.imagelength), camera, name)
    return segments


@contextmanager
def _page(file: IO[bytes], offset: int, index: int, name: str) -> Iterator[Any]:
    """Give one page by the place of its directory, with whatever the library says or raises kept in."""
    with _quiet():
        try:
            from tifffile import TiffFile, TiffPage

            file.seek(0)
            with TiffFile(file, name="frame.tiff") as tiff:
                tiff.filehandle.seek(offset)
                yield TiffPage(tiff, index)
        except IrspotError:
            raise
        # A parser fed with damaged tags ends in one of many ways.
        except Exception as error:
            found = str(error).split("\n")[0][:80]
            raise FrameUnreadable("the TIFF is damaged or of an unusual kind", file=name, found=found) from error


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep the library's log and warnings from the user: what matters of them is checked here."""
    log = logging.getLogger("tifffile")
    before = log.disabled
    log.disabled = True
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        log.disabled = before


def _description(page: Any) -> str:
    text = page.tags.valueof(270)
    return text if isinstance(text, str) else ""


def _record(page: Any) -> dict[str, Any]:
    return _record_in(_description(page))


def _record_in(description: str) -> dict[str, Any]:
    """Read what irspot wrote into a description; empty where there is nothing of it."""
    if '"irspot"' not in description:
        return {}
    try:
        found = json.loads(description)
    except (ValueError, RecursionError):
        return {}
    record = found.get("irspot") if isinstance(found, dict) else None
    return record if isinstance(record, dict) else {}


def _as_decoded(frame: Frame, record: dict[str, Any]) -> Frame:
    """Give a frame that was decoded from a picture back its decoding uncertainty and its clipped ends."""
    u_k, low, high = (_number(record.get(name)) for name in ("u_decode_k", "low_degc", "high_degc"))
    if u_k is None or u_k < 0.0:
        return frame
    return replace(
        frame,
        u_decode_k=np.full(frame.shape, u_k, np.float32),
        clipped=None if high is None else frame.stored >= np.float32(high),
        clipped_low=None if low is None else frame.stored <= np.float32(low),
    )


def _number(value: object) -> float | None:
    usable = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    return float(value) if usable else None  # type: ignore[arg-type]


def _says_degc(page: Any, name: str) -> bool:
    unit = _record(page).get("unit")
    if unit is None:
        return False
    if unit != "degC":
        raise FrameUnreadable(
            "the file describes its numbers in a unit that is not read", file=name, found=str(unit)[:20], wanted="degC"
        )
    return True


def _check_promised(page: Any, pages: int, name: str) -> None:
    """Refuse stacks that keep many frames behind the directory of one: all but the first would be lost unnoticed."""
    description = _description(page)
    match = _PROMISED.search(description)
    promised = int(match[1] or match[2]) if match else 1
    if promised > pages == 1:
        raise FrameUnreadable(
            "the TIFF says it holds more frames than it has pages",
            file=name,
            found="1 page",
            wanted=str(promised),
            hint="save the recording with one page a frame",
        )


def _taken(page: Any) -> Taken:
    tag = page.tags.valueof(306)
    return _stamped(_description(page), tag if isinstance(tag, str) else "")


def _stamped(description: str, tag: str) -> Taken:
    written = _record_in(description).get("time")
    if isinstance(written, str) and (taken := times.from_iso(written)).known:
        return taken
    return times.from_tag(tag) if tag else times.UNKNOWN


def _notes(page: Any) -> tuple[str, ...]:
    orientation = page.tags.valueof(274)
    if orientation in (None, 1):
        return ()
    return (f"the orientation tag ({orientation}) is not applied: places are those of the stored rows",)
