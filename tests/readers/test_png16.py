from __future__ import annotations

import zlib

import cv2
import numpy as np
import pytest
from PIL import Image

from irspot.errors import FrameTooLarge, FrameUnreadable
from irspot.readers import read_frame
from tests.readers.samples import CENTIKELVIN, centikelvin, png_bytes, png_chunk, png_of

ADAM7 = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))


@pytest.mark.parametrize("writer", ["pillow", "opencv", "by the book"])
def test_numbers_come_back(tmp_path, writer):
    path = tmp_path / "frame.png"
    stored = centikelvin()
    if writer == "pillow":
        Image.fromarray(stored).save(path)
    elif writer == "opencv":
        path.write_bytes(cv2.imencode(".png", stored)[1].tobytes())
    else:
        path.write_bytes(png_of(stored))
    frame = read_frame(path, CENTIKELVIN)
    assert frame.stored.dtype == np.dtype("u2")
    np.testing.assert_array_equal(frame.stored, stored)


@pytest.mark.parametrize("shape", [(37, 53), (1, 1), (3, 2), (9, 4)])
def test_interlaced_numbers_come_back(tmp_path, shape):
    path = tmp_path / "frame.png"
    stored = centikelvin(*shape)
    passes = [stored.astype(">u2")[y::dy, x::dx] for x, y, dx, dy in ADAM7]
    rows = b"".join(b"\0" + row.tobytes() for part in passes if part.size for row in part)
    path.write_bytes(png_bytes(shape[1], shape[0], 16, 0, zlib.compress(rows), interlace=1))
    np.testing.assert_array_equal(read_frame(path, CENTIKELVIN).stored, stored)


def test_chunks_about_display_do_not_touch_the_numbers(tmp_path):
    path = tmp_path / "frame.png"
    content = png_of(centikelvin())
    about = png_chunk(b"gAMA", (45455).to_bytes(4, "big")) + png_chunk(b"tRNS", (29300).to_bytes(2, "big"))
    about += png_chunk(b"tEXt", b"Comment\0unit degF")
    path.write_bytes(content[:33] + about + content[33:])
    np.testing.assert_array_equal(read_frame(path, CENTIKELVIN).stored, centikelvin())


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "P", "L", "1", "LA"])
def test_pictures_are_refused(tmp_path, mode):
    path = tmp_path / "picture.png"
    Image.new(mode, (11, 9)).save(path)
    with pytest.raises(FrameUnreadable, match="decoded by a later command"):
        read_frame(path, CENTIKELVIN)


def test_every_flipped_bit_is_noticed(tmp_path):
    path = tmp_path / "frame.png"
    content = png_of(centikelvin(9, 11))
    for place in range(8, len(content)):
        path.write_bytes(content[:place] + bytes([content[place] ^ 1]) + content[place + 1 :])
        with pytest.raises(FrameUnreadable):
            read_frame(path, CENTIKELVIN)


def test_every_cut_is_noticed(tmp_path):
    path = tmp_path / "frame.png"
    content = png_of(centikelvin(9, 11))
    for length in range(8, len(content)):
        path.write_bytes(content[:length])
        with pytest.raises(FrameUnreadable):
            read_frame(path, CENTIKELVIN)


@pytest.mark.parametrize("rows", [bytes(9 * 23 - 1), bytes(9 * 23 + 1), bytes(10_000_000), b"\x09" + bytes(9 * 23 - 1)])
def test_rows_that_do_not_fit_the_header_are_refused(tmp_path, rows):
    path = tmp_path / "frame.png"
    path.write_bytes(png_bytes(11, 9, 16, 0, zlib.compress(rows)))
    with pytest.raises(FrameUnreadable, match="rows"):
        read_frame(path, CENTIKELVIN)


def test_sizes_are_checked_before_anything_is_unpacked(tmp_path):
    path = tmp_path / "frame.png"
    path.write_bytes(png_bytes(2_000_000, 2_000_000, 16, 0, zlib.compress(b"")))
    with pytest.raises(FrameTooLarge, match="2000000 × 2000000"):
        read_frame(path, CENTIKELVIN)
    path.write_bytes(png_bytes(7000, 7000, 16, 0, zlib.compress(b"")))
    with pytest.raises(FrameUnreadable, match="too short"):
        read_frame(path, CENTIKELVIN)
