"""Pictures are read as stored, JPEG with its own luma and chroma; whatever is wrong is one line."""

from __future__ import annotations

import io
import struct
import tracemalloc
import zlib
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from irspot.decoding.jpeg import jpeg_facts
from irspot.decoding.picture import picture_of, read_picture, rgb_of, ycc_of
from irspot.errors import FrameTooLarge, FrameUnreadable, UsageError
from irspot.synthetic.color_frames import encode
from tests.decoding.reread_frames import picture_from

RGB = np.random.default_rng(1).integers(0, 256, (37, 53, 3), dtype=np.uint8)


def saved(path: Path, kind: str, **options: object) -> Path:
    Image.fromarray(RGB).save(path, kind, **options)
    return path


@pytest.mark.parametrize("kind", ["PNG", "BMP", "TIFF"])
def test_exact_formats_give_the_stored_colours(tmp_path: Path, kind: str) -> None:
    picture = read_picture(saved(tmp_path / "ünï frame.dat", kind))
    assert np.array_equal(picture.rgb, RGB)
    assert picture.ycc is None
    assert not picture.is_jpeg
    assert picture.shape == (37, 53)


@pytest.mark.parametrize(("factors", "chroma"), [("4:4:4", "444"), ("4:2:2", "422"), ("4:2:0", "420")])
def test_jpeg_facts(tmp_path: Path, factors: str, chroma: str) -> None:
    path = saved(tmp_path / "frame.jpg", "JPEG", quality=85, subsampling=factors)
    with Image.open(path) as image:
        tables = image.quantization
    picture = read_picture(path)
    assert picture.is_jpeg
    assert picture.chroma == chroma
    # Pillow gives its tables in rows; the header has them along the zigzag, whose first three are 0, 1 and 8.
    assert picture.luma_steps[:3] == (tables[0][0], tables[0][1], tables[0][8])
    assert picture.chroma_steps[:3] == (tables[1][0], tables[1][1], tables[1][8])


def test_a_jpegs_luma_is_the_decoders_own(tmp_path: Path) -> None:
    path = saved(tmp_path / "frame.jpg", "JPEG", quality=85, subsampling="4:2:0")
    picture = read_picture(path)
    with Image.open(path) as image:
        image.draft("L", image.size)
        grey = np.asarray(image.convert("L"))
    assert np.array_equal(picture.luma, grey.astype(np.float32))
    with Image.open(path) as image:
        assert np.abs(picture.rgb.astype(int) - np.asarray(image.convert("RGB"))).max() <= 1


def test_grey_and_palette_and_transparent_pictures(tmp_path: Path) -> None:
    grey = Image.fromarray(RGB[..., 0])
    grey.save(tmp_path / "grey.jpg", "JPEG", quality=95)
    assert read_picture(tmp_path / "grey.jpg").chroma == "444"
    grey.convert("P").save(tmp_path / "p.png")
    assert np.array_equal(read_picture(tmp_path / "p.png").rgb[..., 1], RGB[..., 0])
    Image.fromarray(np.dstack([RGB, np.full(RGB.shape[:2], 7, np.uint8)])).save(tmp_path / "a.png")
    clear = read_picture(tmp_path / "a.png")
    assert np.array_equal(clear.rgb, RGB)
    assert clear.notes == ("transparency was left out of account",)


def test_conversion_and_back_differs_by_rounding_only() -> None:
    assert np.abs(rgb_of(ycc_of(RGB)).astype(int) - RGB).max() <= 2
    grey = np.repeat(np.arange(256, dtype=np.uint8)[:, None, None], 3, axis=2)
    assert np.array_equal(ycc_of(grey)[:, 0], np.stack([np.arange(256), [128] * 256, [128] * 256], axis=1))


def test_pictures_in_memory_say_how_they_were_coded() -> None:
    assert picture_of(RGB).ycc is None
    assert picture_of(RGB, "video", "420").ycc is not None


def test_the_viewers_rotation_is_not_applied(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[274] = 6
    Image.fromarray(RGB).save(tmp_path / "turned.png", exif=exif)
    assert np.array_equal(read_picture(tmp_path / "turned.png").rgb, RGB)


def refusal(path: Path) -> str:
    """Say why a picture is refused; empty if it is read."""
    try:
        read_picture(path)
    except FrameUnreadable as error:
        return str(error)
    return ""


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "BMP", "GIF", "WEBP", "TIFF"])
def test_every_cut_of_a_file_is_refused_or_read_but_never_raises_anything_else(tmp_path: Path, kind: str) -> None:
    buffer = io.BytesIO()
    Image.fromarray(RGB).save(buffer, kind)
    whole, path = buffer.getvalue(), tmp_path / "cut"
    for length in range(0, len(whole), max(1, len(whole) // 60)):
        path.write_bytes(whole[:length])
        assert "\n" not in refusal(path)


# Files as they never should be.

SMALL = {
    "png": encode(RGB, "png"),
    "jpeg 444": encode(RGB, "jpeg", 85, "444"),
    "jpeg 420": encode(RGB, "jpeg", 70, "420"),
}
CAP_PX = 250_000
MOST_BYTES = 40 * CAP_PX
"""Decoding takes a picture of the cap in red, green and blue, as luma and chroma, and the decoder's own copies."""
DAMAGE = {
    "kind": st.sampled_from(sorted(SMALL)),
    "cut": st.one_of(st.none(), st.floats(0.0, 1.0)),
    "flips": st.lists(st.tuples(st.floats(0.0, 1.0, exclude_max=True), st.integers(0, 7)), max_size=12),
    "words": st.lists(
        st.tuples(st.integers(0, 250), st.sampled_from([0, 1, 0x7FFF, 0xFFFF, 0x7FFFFFFF, 0xFFFFFFFF])), max_size=2
    ),
    "sums": st.booleans(),
}


def damaged(
    kind: str, cut: float | None, flips: list[tuple[float, int]], words: list[tuple[int, int]], sums: bool
) -> bytes:
    """Damage a file: absurd words in its header, bits flipped, its end cut off; a PNG's sums may be set right again."""
    content = bytearray(SMALL[kind])
    for at, value in words:
        raw = struct.pack(">I" if value > 0xFFFF else ">H", value)
        content[at : at + len(raw)] = raw
    for place, bit in flips:
        content[int(place * len(content))] ^= 1 << bit
    if kind == "png" and sums:
        content[29:33] = struct.pack(">I", zlib.crc32(content[12:29]))
    return bytes(content if cut is None else content[: int(cut * len(content))])


def check_damaged(folder: Path, content: bytes) -> None:
    path = folder / "damaged"
    path.write_bytes(content)
    tracemalloc.start()
    try:
        assert "\n" not in refusal(path)
        assert tracemalloc.get_traced_memory()[1] <= MOST_BYTES
    finally:
        tracemalloc.stop()


@pytest.fixture(name="folder")
def _folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("IRSPOT_MAX_PIXELS", str(CAP_PX))
    return tmp_path


ONE_FOLDER = [HealthCheck.function_scoped_fixture]


@settings(max_examples=150, suppress_health_check=ONE_FOLDER, deadline=None)
@given(**DAMAGE)
def test_damaged_files_are_refused_or_read(folder: Path, **damage: Any) -> None:
    check_damaged(folder, damaged(**damage))


@pytest.mark.full
@settings(max_examples=2000, suppress_health_check=ONE_FOLDER, deadline=None)
@given(**DAMAGE)
def test_damaged_files_are_refused_or_read_in_full(folder: Path, **damage: Any) -> None:
    check_damaged(folder, damaged(**damage))


@pytest.mark.full
@settings(max_examples=2000, suppress_health_check=ONE_FOLDER, deadline=None)
@given(
    head=st.sampled_from([b"", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"BM", b"II*\0", b"RIFF"]),
    tail=st.binary(max_size=400),
)
def test_noise_behind_a_head_is_refused(folder: Path, head: bytes, tail: bytes) -> None:
    check_damaged(folder, head + tail)


def test_nonsense_directories_and_missing_files_are_refused(tmp_path: Path) -> None:
    (tmp_path / "text.png").write_text("no picture")
    for path in (tmp_path / "text.png", tmp_path, tmp_path / "missing.png", Path("a\0b")):
        with pytest.raises(FrameUnreadable):
            read_picture(path)


def test_a_header_that_promises_too_much_is_refused_before_anything_is_allocated(tmp_path: Path) -> None:
    content = bytearray(saved(tmp_path / "big.png", "PNG").read_bytes())
    content[16:24] = struct.pack(">II", 60_000, 60_000)
    content[29:33] = struct.pack(">I", zlib.crc32(content[12:29]))
    (tmp_path / "big.png").write_bytes(content)
    with pytest.raises(FrameTooLarge):
        read_picture(tmp_path / "big.png")


def test_the_cap_is_the_users(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = saved(tmp_path / "frame.png", "PNG")
    monkeypatch.setenv("IRSPOT_MAX_PIXELS", "1960")
    with pytest.raises(FrameTooLarge, match="IRSPOT_MAX_PIXELS=1961"):
        read_picture(path)
    monkeypatch.setenv("IRSPOT_MAX_PIXELS", "many")
    with pytest.raises(UsageError):
        read_picture(path)


def test_headers_that_lie_are_no_facts() -> None:
    assert jpeg_facts(b"") is None
    assert jpeg_facts(b"\xff\xd8\xff\xe0\x00\x01") is None
    assert jpeg_facts(b"\xff\xd8\xff\xc0\x00\x0b\x08\x00\x10\x00\x10\x00\x01\x11\x00") is None
    cut = b"\xff\xd8\xff\xc0\x00\x0b\x08\x00\x10\x00\x10\x03\x01\x22\x00"
    assert jpeg_facts(cut) is None


@pytest.mark.parametrize("kind", ["png", "jpeg"])
@pytest.mark.parametrize(
    ("taken", "stated"),
    [
        (None, ""),
        (datetime(2026, 3, 1, 14, 23, 5), "2026-03-01T14:23:05"),
        (datetime(2026, 3, 1, 14, 23, 5, tzinfo=timezone(timedelta(hours=2))), "2026-03-01T14:23:05+02:00"),
    ],
)
def test_the_time_of_a_picture_is_the_one_its_exif_states(
    kind: Literal["png", "jpeg"], taken: datetime | None, stated: str
) -> None:
    picture = picture_from(encode(np.full((20, 30, 3), 90, np.uint8), kind, taken=taken))
    assert picture.taken == stated


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=120))
def test_damaged_exif_costs_the_time_not_the_picture(block: bytes) -> None:
    buffer = io.BytesIO()
    Image.fromarray(np.full((20, 30, 3), 90, np.uint8)).save(buffer, "JPEG", exif=b"Exif\0\0" + block)
    assert picture_from(buffer.getvalue()).shape == (20, 30)


@pytest.mark.parametrize("dtype", [np.uint16, np.float32])
def test_numbers_that_are_no_colours_are_pointed_to_the_other_way(tmp_path: Path, dtype: type) -> None:
    Image.fromarray(np.full((20, 30), 29000, dtype)).save(tmp_path / "counts.tiff")
    with pytest.raises(FrameUnreadable, match="radiometric"):
        read_picture(tmp_path / "counts.tiff")
