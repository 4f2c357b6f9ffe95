from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from irspot.camera import RawLayout
from irspot.errors import FrameTooLarge, FrameUnreadable, UsageError
from irspot.readers import open_frames, read_frame
from tests.readers.samples import CENTIKELVIN, COLUMNS, ROWS, centikelvin


def _camera(**raw):
    return replace(CENTIKELVIN, raw=RawLayout(**{"width": COLUMNS, "height": ROWS, "dtype": "uint16", **raw}))


@pytest.mark.parametrize("skip", [0, 1, 64])
@pytest.mark.parametrize("order", ["little", "big"])
@pytest.mark.parametrize("dtype", ["uint16", "int16", "float32", "uint32"])
def test_dumps_of_any_number_of_frames(tmp_path, dtype, order, skip):
    path = tmp_path / "sensor words"
    stack = np.stack([centikelvin(dtype="i4") + n for n in range(3)])
    stack = (stack - 20000).astype(dtype) if dtype == "int16" else stack.astype(dtype)
    camera = _camera(dtype=dtype, byte_order=order, skip_bytes=skip)
    if dtype == "int16":
        camera = replace(camera, signal=replace(camera.signal, offset=200.0))
    path.write_bytes(
        b"\xfe" * skip + stack.astype(stack.dtype.newbyteorder("<" if order == "little" else ">")).tobytes()
    )
    source = open_frames(path, camera)
    assert source.count == 3
    for index in (2, 0):
        np.testing.assert_array_equal(source.frame(index).stored, stack[index])
        assert source.frame(index).stored.dtype == np.dtype(dtype)
        assert source.frame(index).name == f"sensor words#{index}"


def test_size_mismatch_gives_the_numbers(tmp_path):
    path = tmp_path / "frame.raw"
    path.write_bytes(centikelvin().tobytes() + bytes(40))
    with pytest.raises(FrameUnreadable) as caught:
        open_frames(path, _camera())
    told = str(caught.value)
    assert f"found {ROWS * COLUMNS * 2 + 40} bytes" in told
    assert f"{ROWS * COLUMNS * 2} ({COLUMNS} × {ROWS} × 2)" in told
    assert "skip_bytes = 40 would make 1 frames of it" in told


@pytest.mark.parametrize("size", [1, 63, 64])
def test_files_shorter_than_one_frame_are_refused(tmp_path, size):
    path = tmp_path / "frame.raw"
    path.write_bytes(b"\xff" * size)
    with pytest.raises(FrameUnreadable, match=f"found {size} bytes"):
        open_frames(path, _camera(skip_bytes=64))


def test_wrong_byte_order_is_noticed(tmp_path):
    path = tmp_path / "frame.raw"
    path.write_bytes(centikelvin().tobytes())
    with pytest.raises(FrameUnreadable):
        read_frame(path, _camera(byte_order="big"))


def test_words_that_look_like_text_are_still_words(tmp_path):
    path = tmp_path / "frame.raw"
    stored = np.full((ROWS, COLUMNS), 0x7330, "<u2")  # "0s0s0s..."
    path.write_bytes(stored.tobytes())
    np.testing.assert_array_equal(read_frame(path, _camera()).stored, stored)


def test_odd_descriptions_end_in_one_line(tmp_path):
    path = tmp_path / "frame.raw"
    path.write_bytes(centikelvin().tobytes())
    with pytest.raises(FrameUnreadable, match=r"raw\.dtype"):
        open_frames(path, _camera(dtype="word"))
    with pytest.raises(FrameTooLarge):
        open_frames(path, _camera(width=100_000, height=100_000))
    with pytest.raises(FrameUnreadable, match="without pixels"):
        open_frames(path, _camera(width=0))


def test_an_index_that_no_frame_has_is_misuse(tmp_path):
    path = tmp_path / "frame.raw"
    path.write_bytes(centikelvin().tobytes() * 2)
    with pytest.raises(UsageError, match="2 frames"):
        read_frame(path, _camera())
    for index in (-1, 2):
        with pytest.raises(UsageError, match="0 to 1"):
            read_frame(path, _camera(), index)
