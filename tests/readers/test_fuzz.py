"""Damaged files: a refusal in one line or a sound frame, nothing else; no wrong number where the file can tell.

Two sorts of damage: random (bits, cuts, splices, runs of one byte) and aimed at headers, where hostile files differ.
"""

from __future__ import annotations

import io
import struct
import tempfile
import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from irspot.camera import Accuracy, RawLayout
from irspot.errors import FrameUnreadable, LibraryMissing
from irspot.frame import Frame
from irspot.readers import open_frames
from tests.readers.samples import CENTIKELVIN, DEGC, centikelvin, degc, png_of

ROWS, COLUMNS = 9, 13


def _tiff(stored, **how) -> bytes:
    content = io.BytesIO()
    tifffile.imwrite(content, stored, **how)
    return content.getvalue()


def _npy(array, save=np.save, **named) -> bytes:
    content = io.BytesIO()
    save(content, array, **named) if array is not None else save(content, **named)
    return content.getvalue()


def _grid(separator, decimal) -> bytes:
    rows = (separator.join(f"{n:.2f}".replace(".", decimal) for n in row) for row in degc(ROWS, COLUMNS))
    return ("# made for a test\nx;y\n" + "\n".join(rows) + "\n").encode()


SMALL = centikelvin(ROWS, COLUMNS)
STACK = np.stack([SMALL, SMALL + 5])
RAW = replace(CENTIKELVIN, raw=RawLayout(COLUMNS, ROWS, "uint16"))
FORMATS = {
    "tiff": [
        (_tiff(SMALL, rowsperstrip=2), CENTIKELVIN),
        (_tiff(degc(ROWS, COLUMNS, "f4"), byteorder=">", tile=(16, 16)), DEGC),
        (_tiff(STACK, photometric="minisblack", compression="packbits", bigtiff=True), CENTIKELVIN),
        (_tiff(SMALL, compression="lzw", predictor=True), CENTIKELVIN),
        (_tiff(degc(ROWS, COLUMNS, "f4"), metadata=None, description='{"irspot": {"unit": "degC"}}'), DEGC),
    ],
    "tiff-deflate": [(_tiff(SMALL, compression="zlib", rowsperstrip=4), CENTIKELVIN)],
    "png": [(png_of(SMALL), CENTIKELVIN)],
    "npy": [
        (_npy(SMALL), CENTIKELVIN),
        (_npy(np.asfortranarray(degc(ROWS, COLUMNS))), DEGC),
        (_npy(STACK), CENTIKELVIN),
    ],
    "npz": [
        (_npy(None, np.savez, frame=SMALL), CENTIKELVIN),
        (_npy(None, np.savez_compressed, frames=STACK), CENTIKELVIN),
    ],
    "grid": [(_grid(";", ","), DEGC), (_grid(",", "."), DEGC), (_grid("\t", "."), DEGC)],
    "raw": [(STACK.tobytes(), RAW)],
}
NUMBERS = (0, 1, 2, 3, 7, 8, 64, 255, 256, 4096, 32767, 65535, 1 << 24, (1 << 31) - 1, 1 << 31, (1 << 32) - 1)


@st.composite
def _damaged(draw, valid: bytes) -> bytes:
    content = bytearray(valid)
    for _ in range(draw(st.integers(1, 4))):
        # Half of the damage goes to the first bytes, where headers are.
        end = draw(st.sampled_from((min(160, len(content)), len(content))))
        at = draw(st.integers(0, max(0, end - 1)))
        how = draw(st.sampled_from(("bit", "byte", "number", "cut", "drop", "repeat", "splice", "fill")))
        length = draw(st.integers(1, 40))
        if how == "bit" and content:
            content[at] ^= 1 << draw(st.integers(0, 7))
        elif how == "byte":
            content[at : at + 1] = bytes([draw(st.integers(0, 255))])
        elif how == "number":
            order = draw(st.sampled_from((">", "<")))
            content[at : at + 4] = struct.pack(order + "I", draw(st.sampled_from(NUMBERS)))
        elif how == "cut":
            del content[at:]
        elif how == "drop":
            del content[at : at + length]
        elif how == "repeat":
            content[at:at] = content[at : at + length]
        elif how == "splice":
            other = draw(st.integers(0, max(0, len(valid) - 1)))
            content[at : at + length] = valid[other : other + length]
        else:
            content[at : at + length] = bytes([draw(st.integers(0, 255))]) * length
    return bytes(content)


@pytest.fixture(scope="module")
def place():
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder) / "frame"


def _read_all(path: Path, content: bytes, camera) -> list[Frame]:
    """Read every frame of a file; anything but a refusal of the file is left to fail the test."""
    told = str(path)
    path.write_bytes(content)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            source = open_frames(path, camera)
            frames = [source.frame(index) for index in range(min(source.count, 8))]
    except (FrameUnreadable, LibraryMissing) as refusal:
        told = str(refusal)
        frames = []
    assert "\n" not in told
    assert str(path) in told
    for frame in frames:
        assert frame.stored.ndim == 2
        assert frame.stored.dtype.isnative
        assert frame.stored.dtype.kind in "fui"
        assert np.isfinite(frame.stored).any()
        assert not np.isinf(frame.stored).any()
    return frames


def _fuzz(name: str, examples: int, place: Path) -> None:
    kinds = st.sampled_from(range(len(FORMATS[name])))

    @settings(max_examples=examples, deadline=None, database=None, derandomize=True,
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(data=st.data(), kind=kinds)
    def run(data, kind):
        valid, camera = FORMATS[name][kind]
        content = data.draw(_damaged(valid))
        frames = _read_all(place, content, camera)
        if name in _CHECKED:
            _CHECKED[name](frames, valid, content, camera)

    run()


def _same_numbers_or_none(frames, valid, content, camera):
    """Check sums over all numbers: whatever is read is what was written."""
    for frame in frames:
        assert any(
            frame.stored.shape == numbers.shape and np.array_equal(frame.stored, numbers) for numbers in (SMALL, *STACK)
        )


def _size_must_agree(frames, valid, content, camera):
    """A size to tell by: the frames read are all the bytes there are."""
    if frames and camera.raw is not None:
        assert sum(frame.stored.nbytes for frame in frames) == len(content)


_CHECKED = {"png": _same_numbers_or_none, "raw": _size_must_agree}


@pytest.mark.parametrize("name", FORMATS)
def test_damaged_files_are_refused_or_sound(name, place):
    _fuzz(name, 150, place)


@pytest.mark.full
@pytest.mark.parametrize("name", FORMATS)
def test_many_damaged_files_are_refused_or_sound(name, place):
    _fuzz(name, 2500, place)


@settings(max_examples=150, deadline=None, database=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_damaged_compressed_numbers_are_never_read_wrongly(data, place):
    """Damage within the packed numbers only: TIFF's and NPZ's check sums must notice every bit."""
    which = data.draw(st.sampled_from(("tiff-deflate", "npz")))
    valid, camera = FORMATS[which][-1]
    if which == "npz":
        start, end = valid.index(b".npy") + 4, valid.index(b"PK\x01\x02")
    else:
        with tifffile.TiffFile(io.BytesIO(valid)) as tiff:
            page = tiff.pages[0]
            start, end = page.dataoffsets[0], page.dataoffsets[-1] + page.databytecounts[-1]
    at = data.draw(st.integers(start, end - 1))
    content = valid[:at] + bytes([valid[at] ^ (1 << data.draw(st.integers(0, 7)))]) + valid[at + 1 :]
    _same_numbers_or_none(_read_all(place, content, camera), valid, content, camera)


@pytest.mark.parametrize("name", FORMATS)
def test_the_undamaged_files_are_read(name, place):
    for valid, camera in FORMATS[name]:
        assert _read_all(place, valid, camera)


@settings(max_examples=150, deadline=None, database=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(head=st.sampled_from((b"", b"II*\0", b"MM\0+", b"\x93NUMPY", b"PK\x03\x04", b"\x89PNG\r\n\x1a\n", b"1;2\n")),
       rest=st.binary(max_size=300))  # fmt: skip
def test_noise_behind_any_first_bytes_is_refused_or_sound(head, rest, place):
    for camera in (CENTIKELVIN, replace(RAW, accuracy=Accuracy(range_degc=(-20.0, 150.0)))):
        _read_all(place, head + rest, camera)
