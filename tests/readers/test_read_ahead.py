"""Frames read in pieces by a thread: each as it lies in the file, whatever lies between, and faults told."""

from __future__ import annotations

import threading
from pathlib import Path

import numpy as np
import pytest

import irspot.readers.read_ahead
from irspot.errors import FrameUnreadable
from irspot.readers.plain import Plain
from irspot.readers.read_ahead import bare_frames

STACK = np.random.default_rng(0).integers(0, 65_536, (23, 11, 17)).astype(np.uint16)
SIZE = STACK[0].nbytes


def dump(path: Path, gaps: list[int], dtype: str = "<u2") -> Plain:
    offsets, content = [], b""
    for frame, gap in zip(STACK, gaps, strict=True):
        content += b"\xff" * gap
        offsets.append(len(content))
        content += frame.astype(dtype).tobytes()
    path.write_bytes(content)
    return Plain(path, np.dtype(dtype), (11, 17), np.array(offsets, np.int64))


@pytest.mark.parametrize("dtype", ["<u2", ">u2", "<f4", ">f8"])
@pytest.mark.parametrize("piece_bytes", [1, SIZE, 3 * SIZE + 5, 1 << 20])
@pytest.mark.parametrize("gap", [0, 3, 5000])
def test_frames_are_those_of_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, dtype: str, piece_bytes: int, gap: int
) -> None:
    monkeypatch.setattr(irspot.readers.read_ahead, "PIECE_BYTES", piece_bytes)
    plain = dump(tmp_path / "d", [gap] * len(STACK), dtype)
    for first, stop in ((0, 23), (5, 17), (22, 23), (4, 4)):
        indices = []
        for index, frame in bare_frames(plain, first, stop):
            assert frame.dtype.isnative
            assert np.array_equal(frame, STACK[index])
            indices.append(index)
        assert indices == list(range(first, stop))


def test_a_file_that_ends_early_is_told_with_its_frame(tmp_path: Path) -> None:
    plain = dump(tmp_path / "d", [0] * len(STACK))
    with (tmp_path / "d").open("r+b") as file:
        file.truncate(10 * SIZE + 7)
    with pytest.raises(FrameUnreadable, match="frame 10"):
        list(bare_frames(plain, 0, 23))
    (tmp_path / "d").unlink()
    with pytest.raises(FrameUnreadable, match="cannot be read"):
        list(bare_frames(plain, 0, 23))


def test_giving_up_ends_the_thread(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(irspot.readers.read_ahead, "PIECE_BYTES", SIZE)
    before = threading.active_count()
    frames = bare_frames(dump(tmp_path / "d", [0] * len(STACK)), 0, 23)
    next(frames)
    frames.close()  # type: ignore[attr-defined]
    assert threading.active_count() == before
