"""Pictures are told from radiometric frames by content, whatever the file is called."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from irspot.decoding.kind import kind_of

RGB = np.arange(7 * 5 * 3, dtype=np.uint8).reshape(7, 5, 3)


def saved(image: Image.Image, kind: str) -> bytes:
    stream = io.BytesIO()
    image.save(stream, kind)
    return stream.getvalue()


def tiff(array: np.ndarray, **options: object) -> bytes:
    stream = io.BytesIO()
    tifffile.imwrite(stream, array, **options)
    return stream.getvalue()


PICTURES = {
    "rgb png": saved(Image.fromarray(RGB), "PNG"),
    "palette png": saved(Image.fromarray(RGB).convert("P"), "PNG"),
    "grey png": saved(Image.fromarray(RGB[..., 0]), "PNG"),
    "jpeg": saved(Image.fromarray(RGB), "JPEG"),
    "bmp": saved(Image.fromarray(RGB), "BMP"),
    "rgb tiff": tiff(RGB, photometric="rgb"),
    "big-endian rgb tiff": tiff(RGB, photometric="rgb", byteorder=">"),
    "grey tiff": tiff(RGB[..., 0], photometric="minisblack"),
}
OTHERS = {
    "uint16 tiff": tiff(RGB[..., 0].astype(np.uint16), photometric="minisblack"),
    "float tiff": tiff(RGB[..., 0].astype(np.float32), photometric="minisblack"),
    "16-bit png": saved(Image.fromarray(RGB[..., 0].astype(np.uint16)), "PNG"),
    "csv": b"1;2;3\n4;5;6\n",
    "empty": b"",
    "cut-off tiff": b"II*\0\xff\xff\xff\x7f",
    "cut-off png": b"\x89PNG\r\n\x1a\n",
}


@pytest.mark.parametrize("name", PICTURES)
def test_pictures(name: str, tmp_path: Path) -> None:
    path = tmp_path / "frame.dat"
    path.write_bytes(PICTURES[name])
    assert kind_of(path) == "picture"


@pytest.mark.parametrize("name", OTHERS)
def test_radiometric_frames_and_nothings(name: str, tmp_path: Path) -> None:
    path = tmp_path / "frame.png"
    path.write_bytes(OTHERS[name])
    assert kind_of(path) == "other"


def test_videos_and_what_is_not_there(tmp_path: Path) -> None:
    path = tmp_path / "clip.bin"
    path.write_bytes(b"\0\0\0\x18ftypmp42" + bytes(64))
    assert kind_of(path) == "video"
    path.write_bytes(b"RIFF\0\0\0\0AVI LIST")
    assert kind_of(path) == "video"
    assert kind_of(tmp_path / "missing.png") == "other"
    assert kind_of(tmp_path) == "other"
