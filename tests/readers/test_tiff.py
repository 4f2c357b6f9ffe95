from __future__ import annotations

import importlib.util
import io
import json
import struct
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import tifffile

from irspot.camera import NO_CAMERA
from irspot.errors import FrameTooLarge, FrameUnreadable, LibraryMissing
from irspot.readers import open_frames, read_frame
from tests.readers.samples import CENTIKELVIN, COLUMNS, DEGC, ROWS, centikelvin, degc

LAYOUTS = {
    "one strip": {},
    "short strips": {"rowsperstrip": 5},
    "tiles": {"tile": (16, 32)},
}
COMPRESSIONS = [None, "zlib", "lzw", "packbits", "zstd", "lzma"]


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("compression", COMPRESSIONS)
@pytest.mark.parametrize("byteorder", ["<", ">"])
def test_every_usual_layout_gives_the_same_numbers(tmp_path, layout, compression, byteorder):
    path = tmp_path / "frame.tiff"
    stored = centikelvin()
    tifffile.imwrite(path, stored, compression=compression, byteorder=byteorder, **LAYOUTS[layout])
    frame = read_frame(path, CENTIKELVIN)
    assert frame.stored.dtype == np.dtype("u2")
    assert frame.stored.dtype.isnative
    np.testing.assert_array_equal(frame.stored, stored)
    assert frame.name == "frame.tiff"


@pytest.mark.parametrize("bigtiff", [False, True])
@pytest.mark.parametrize("predictor", [False, True])
@pytest.mark.parametrize("dtype", ["f4", "f8", "u2", "i2", "u4", "i4"])
def test_every_number_type_keeps_its_type(tmp_path, dtype, predictor, bigtiff):
    path = tmp_path / "frame.tiff"
    stored = degc(dtype=dtype) if dtype[0] == "f" else centikelvin(dtype="i4").astype(dtype)
    tifffile.imwrite(path, stored, predictor=predictor, compression="zlib", bigtiff=bigtiff, rowsperstrip=8)
    frame = read_frame(path, DEGC if dtype[0] == "f" else CENTIKELVIN)
    assert frame.stored.dtype == np.dtype(dtype)
    np.testing.assert_array_equal(frame.stored, stored)


def test_pages_are_frames_of_their_own(tmp_path):
    path = tmp_path / "recording.tiff"
    stack = np.stack([centikelvin() + 7 * n for n in range(4)])
    tifffile.imwrite(path, stack, photometric="minisblack", compression="zlib")
    source = open_frames(path, CENTIKELVIN)
    assert source.count == 4
    for index in (2, 0, 3, 1):
        frame = source.frame(index)
        assert frame.name == f"recording.tiff#{index}"
        np.testing.assert_array_equal(frame.stored, stack[index])


def test_previews_and_masks_are_no_frames(tmp_path):
    path = tmp_path / "frame.tiff"
    with tifffile.TiffWriter(path) as writer:
        writer.write(centikelvin(9, 11), subfiletype=1, metadata=None)
        writer.write(centikelvin(), metadata=None)
        writer.write(np.ones((ROWS, COLUMNS), bool), subfiletype=4, metadata=None)
    frame = read_frame(path, CENTIKELVIN)
    assert frame.shape == (ROWS, COLUMNS)


def test_a_stack_behind_one_page_is_refused_not_shortened(tmp_path):
    path = tmp_path / "recording.tiff"
    with tifffile.TiffWriter(path) as writer:
        writer.write(np.stack([centikelvin()] * 3), truncate=True, photometric="minisblack")
    with tifffile.TiffFile(path) as file:
        assert len(file.pages) == 1
    with pytest.raises(FrameUnreadable, match="more frames than it has pages"):
        open_frames(path, CENTIKELVIN)


def test_what_irspot_wrote_needs_no_camera_and_brings_its_time(tmp_path):
    path = tmp_path / "frame.tiff"
    written = degc(dtype="f4")
    written[3, 4] = np.nan
    about = {"irspot": {"unit": "degC", "time": "2026-03-01T15:23:05.250+01:00"}}
    tifffile.imwrite(path, written, description=json.dumps(about), metadata=None)
    frame = read_frame(path, NO_CAMERA)
    assert frame.camera.declared
    assert frame.camera.signal.unit == "degC"
    assert frame.time_utc == datetime(2026, 3, 1, 14, 23, 5, 250_000, tzinfo=UTC)
    np.testing.assert_array_equal(frame.stored, written)


def test_what_irspot_wrote_is_degc_whatever_the_camera_stores(tmp_path):
    path = tmp_path / "frame.tiff"
    tifffile.imwrite(path, degc(dtype="f4"), description='{"irspot": {"unit": "degC"}}', metadata=None)
    camera = read_frame(path, CENTIKELVIN).camera
    assert (camera.name, camera.signal.unit, camera.signal.scale) == ("test camera", "degC", 1.0)


def test_a_description_in_another_unit_is_refused(tmp_path):
    path = tmp_path / "frame.tiff"
    tifffile.imwrite(path, degc(dtype="f4"), description='{"irspot": {"unit": "furlong"}}', metadata=None)
    with pytest.raises(FrameUnreadable, match="furlong"):
        read_frame(path)


@pytest.mark.parametrize("description", ["[" * 100_000, '{"irspot": 5}', "[1]", '{"irspot": {"unit": null}}'])
def test_other_descriptions_declare_nothing(tmp_path, description):
    path = tmp_path / "frame.tiff"
    tifffile.imwrite(path, degc(dtype="f4"), description=description, metadata=None)
    with pytest.raises(FrameUnreadable, match="nothing says what the numbers"):
        read_frame(path)
    assert read_frame(path, DEGC).shape == (ROWS, COLUMNS)


def test_the_datetime_tag_is_local_time_of_its_page(tmp_path):
    path = tmp_path / "recording-20260101-000000.tiff"
    with tifffile.TiffWriter(path) as writer:
        for second in (5, 6):
            writer.write(centikelvin(), datetime=datetime(2026, 3, 1, 14, 23, second), metadata=None)
        writer.write(centikelvin(), metadata=None)
    source = open_frames(path, CENTIKELVIN)
    assert [source.frame(n).time_local for n in range(3)] == [
        datetime(2026, 3, 1, 14, 23, 5),
        datetime(2026, 3, 1, 14, 23, 6),
        None,
    ]
    assert source.frame(0).time_utc is None


def test_an_orientation_tag_is_stated_and_not_applied(tmp_path):
    path = tmp_path / "frame.tiff"
    tifffile.imwrite(path, centikelvin(), extratags=[(274, "H", 1, 3, True)], metadata=None)
    frame = read_frame(path, CENTIKELVIN)
    np.testing.assert_array_equal(frame.stored, centikelvin())
    assert "orientation tag (3) is not applied" in frame.notes[0]


@pytest.mark.parametrize(
    ("picture", "how", "reason"),
    [
        (np.zeros((9, 11, 3), "u1"), {"photometric": "rgb"}, "decoded by a later command"),
        (np.zeros((9, 11, 3), "u2"), {"photometric": "rgb"}, "decoded by a later command"),
        (np.zeros((9, 11), "u1"), {"photometric": "palette", "colormap": np.zeros((3, 256), "u2")}, "later command"),
        (np.zeros((9, 11), "u1"), {"photometric": "minisblack"}, "eight bits a pixel are a picture"),
        (np.zeros((9, 11), "c8"), {"photometric": "minisblack"}, "bits|type"),
        (np.zeros((9, 11), "f2"), {"photometric": "minisblack"}, "numbers of this type"),
        (np.zeros((9, 11), "u2"), {"photometric": "minisblack", "compression": "jpegxr"}, "JPEGXR"),
    ],
)
def test_pictures_and_odd_kinds_are_refused(tmp_path, picture, how, reason):
    path = tmp_path / "picture.tiff"
    tifffile.imwrite(path, picture, **how)
    for camera in (CENTIKELVIN, NO_CAMERA):
        with pytest.raises(FrameUnreadable, match=reason if camera.declared else "."):
            open_frames(path, camera)


@pytest.mark.parametrize("kept", [4, 8, 9, 100, 0.3, 0.9, 0.999])
@pytest.mark.parametrize("compression", [None, "zlib", "lzw"])
def test_a_file_cut_anywhere_is_refused(tmp_path, kept, compression):
    path = tmp_path / "cut.tiff"
    whole = io.BytesIO()
    # Resolution and software, which a file could lose without harm, are left out: then all that is there matters.
    about = {"metadata": None, "software": False, "resolution": None}
    with tifffile.TiffWriter(whole) as writer:
        for _ in range(2):
            writer.write(centikelvin(), compression=compression, **about)
    length = kept if isinstance(kept, int) else int(len(whole.getvalue()) * kept)
    path.write_bytes(whole.getvalue()[:length])
    with pytest.raises(FrameUnreadable):  # noqa: PT012 -- either step may notice it
        source = open_frames(path, CENTIKELVIN)
        for index in range(2):
            source.frame(index)


def test_every_flipped_bit_in_a_deflate_stream_is_noticed(tmp_path):
    path = tmp_path / "frame.tiff"
    tifffile.imwrite(path, centikelvin(), compression="zlib", rowsperstrip=8)
    content = path.read_bytes()
    with tifffile.TiffFile(path) as tiff:
        streams = list(zip(tiff.pages[0].dataoffsets, tiff.pages[0].databytecounts, strict=True))
    for offset, count in streams:
        for place in range(offset, offset + count, 23):
            path.write_bytes(content[:place] + bytes([content[place] ^ 16]) + content[place + 1 :])
            with pytest.raises(FrameUnreadable, match=r"frame\.tiff"):
                read_frame(path, CENTIKELVIN)


def test_a_page_list_that_leads_back_into_itself_ends(tmp_path):
    path = tmp_path / "loop.tiff"
    tifffile.imwrite(path, centikelvin(), metadata=None)
    content = bytearray(path.read_bytes())
    (first,) = struct.unpack_from("<I", content, 4)
    (tags,) = struct.unpack_from("<H", content, first)
    struct.pack_into("<I", content, first + 2 + 12 * tags, first)
    path.write_bytes(content)
    with pytest.raises(FrameUnreadable, match="leads back"):
        open_frames(path, CENTIKELVIN)


def _with_tag(content: bytes, tag: int, value: int) -> bytes:
    """Overwrite the value of a one-number tag of the first page of a little-endian classic TIFF."""
    changed = bytearray(content)
    (first,) = struct.unpack_from("<I", changed, 4)
    (tags,) = struct.unpack_from("<H", changed, first)
    for at in range(first + 2, first + 2 + 12 * tags, 12):
        if struct.unpack_from("<H", changed, at)[0] == tag:
            changed[at + 2 : at + 12] = struct.pack("<HII", 4, 1, value)
            return bytes(changed)
    raise AssertionError(f"no tag {tag}")


@pytest.mark.parametrize(
    ("tag", "value", "kind"),
    [
        (256, 2_000_000_000, FrameTooLarge),  # columns
        (257, 50_000, FrameUnreadable),  # rows, within the cap but not in the file
        (256, 0, FrameUnreadable),
        (279, 10, FrameUnreadable),  # bytes of the strip
        (279, 0, FrameUnreadable),
        (273, 4_000_000_000, FrameUnreadable),  # place of the strip
        (273, 0, FrameUnreadable),
        (278, 3, FrameUnreadable),  # rows a strip
    ],
)
def test_headers_that_do_not_fit_the_file_are_refused(tmp_path, tag, value, kind):
    path = tmp_path / "frame.tiff"
    tifffile.imwrite(path, centikelvin(), metadata=None)
    path.write_bytes(_with_tag(path.read_bytes(), tag, value))
    with pytest.raises(kind):
        open_frames(path, CENTIKELVIN)


def test_tiles_larger_than_any_frame_are_refused(tmp_path):
    path = tmp_path / "frame.tiff"
    tifffile.imwrite(path, centikelvin(), tile=(48, 64), compression="zlib", metadata=None)
    path.write_bytes(_with_tag(path.read_bytes(), 322, 1 << 31))
    with pytest.raises(FrameTooLarge, match="tile"):
        open_frames(path, CENTIKELVIN)


def test_strips_that_lie_on_one_another_are_refused(tmp_path):
    path = tmp_path / "frame.tiff"
    tifffile.imwrite(path, centikelvin(), rowsperstrip=8, metadata=None)
    content = path.read_bytes()
    with tifffile.TiffFile(path) as tiff:
        offsets = struct.pack("<5I", *tiff.pages[0].dataoffsets)
    assert content.count(offsets) == 1
    path.write_bytes(content.replace(offsets, offsets[:4] + offsets[:16]))
    with pytest.raises(FrameUnreadable, match="on one another"):
        open_frames(path, CENTIKELVIN)


def test_a_deflate_bomb_is_not_unpacked(tmp_path):
    import zlib

    path = tmp_path / "bomb.tiff"
    tifffile.imwrite(path, np.full((64, 64), 29500, "u2"), compression="zlib", metadata=None)
    bomb = zlib.compress(bytes(50_000_000), 9)
    content = _with_tag(path.read_bytes(), 273, len(path.read_bytes()))
    path.write_bytes(_with_tag(content, 279, len(bomb)) + bomb)
    with pytest.raises(FrameUnreadable, match="does not unpack"):
        read_frame(path, CENTIKELVIN)


@pytest.mark.parametrize(
    "how", [{"compression": "lzw"}, {"compression": "zstd"}, {"compression": "zlib", "predictor": 3}]
)
def test_compressions_of_the_optional_library_say_so_without_it(tmp_path, monkeypatch, how):
    path = tmp_path / "frame.tiff"
    tifffile.imwrite(path, degc(dtype="f4"), **how)
    find = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None if name == "imagecodecs" else find(name))
    with pytest.raises(LibraryMissing, match="pip install imagecodecs"):
        open_frames(path, DEGC)


WITHOUT_CODECS = """
import sys
from importlib.machinery import PathFinder

class Without:
    def find_spec(self, name, path=None, target=None):
        return None if name == "imagecodecs" else PathFinder.find_spec(name, path, target)

sys.meta_path[sys.meta_path.index(PathFinder)] = Without()
import numpy as np
from irspot.readers import read_frame
from tests.readers.samples import CENTIKELVIN, centikelvin
for path in sys.argv[1:]:
    assert np.array_equal(read_frame(path, CENTIKELVIN).stored, centikelvin()), path
assert "imagecodecs" not in sys.modules
print("read", len(sys.argv) - 1)
"""


def test_deflate_packbits_and_the_integer_predictor_need_no_optional_library(tmp_path):
    ways = [
        {"compression": "zlib"},
        {"compression": "zlib", "predictor": True, "tile": (16, 32), "byteorder": ">"},
        {"compression": "packbits", "rowsperstrip": 5},
        {"compression": None},
    ]
    paths = [str(tmp_path / f"{n}.tiff") for n in range(len(ways))]
    for path, how in zip(paths, ways, strict=True):
        tifffile.imwrite(path, centikelvin(), **how)
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_CODECS, *paths], capture_output=True, text=True, cwd=root, check=False
    )
    assert (done.stdout, done.stderr) == ("read 4\n", "")


def test_nothing_of_the_library_leaks(tmp_path, caplog, capfd, recwarn):
    path = tmp_path / "frame.tiff"
    tifffile.imwrite(path, centikelvin(), metadata=None, description="x")
    # A tag of a type that does not exist makes the library log an error.
    content = bytearray(_with_tag(path.read_bytes(), 305, 7))
    content[content.index(struct.pack("<HHII", 305, 4, 1, 7)) + 2] = 99
    path.write_bytes(content)
    read_frame(path, CENTIKELVIN)
    assert not caplog.records
    assert not recwarn.list
    assert capfd.readouterr() == ("", "")


def test_no_file_stays_open(tmp_path):
    path = Path(tmp_path / "frame.tiff")
    tifffile.imwrite(path, centikelvin())
    source = open_frames(path, CENTIKELVIN)
    source.frame(0)
    path.unlink()
    with pytest.raises(FrameUnreadable, match="no such file"):
        source.frame(0)
