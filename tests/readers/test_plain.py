"""Where numbers lie bare in a file: read from there they are what the reader gives; what is packed says no."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile

from irspot.camera import Camera, RawLayout, Signal
from irspot.readers import open_frames
from irspot.readers.plain import Plain, plain_of

CAMERA = Camera(name="c", signal=Signal(unit="K", scale=0.01), declared=True)
STACK = np.random.default_rng(0).integers(29_000, 33_000, (5, 11, 17)).astype(np.uint16)


def bare(plain: Plain) -> np.ndarray:
    content = plain.path.read_bytes()
    count = plain.shape[0] * plain.shape[1]
    return np.stack([np.frombuffer(content, plain.dtype, count, at).reshape(plain.shape) for at in plain.offsets])


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize(
    "how",
    [
        {},
        {"rowsperstrip": 3},
        {"datetime": True, "contiguous": False},
        {"description": "x" * 40, "contiguous": False, "metadata": None},
    ],
)
@pytest.mark.parametrize("dtype", ["u2", "i2", "f4", "f8"])
def test_pages_of_bare_numbers_are_found(tmp_path: Path, order: str, how: dict[str, Any], dtype: str) -> None:
    with tifffile.TiffWriter(tmp_path / "s.tiff", byteorder=order) as writer:  # type: ignore[arg-type]
        for frame in STACK:
            numbers = (frame // 2 + 14_000).astype(dtype)
            writer.write(numbers, photometric="minisblack", **how)
    source = open_frames(tmp_path / "s.tiff", CAMERA)
    plain = plain_of(source)
    assert plain is not None
    assert np.array_equal(bare(plain), np.stack([source.frame(i).stored for i in range(source.count)]))


def test_stacks_and_dumps_lie_bare(tmp_path: Path) -> None:
    np.save(tmp_path / "s.npy", STACK)
    (tmp_path / "s.raw").write_bytes(b"head" + STACK.astype(">u2").tobytes())
    raw = RawLayout(17, 11, "uint16", "big", 4)
    for path, camera in ((tmp_path / "s.npy", CAMERA), (tmp_path / "s.raw", Camera(signal=CAMERA.signal, raw=raw))):
        plain = plain_of(open_frames(path, Camera(signal=CAMERA.signal, raw=camera.raw, declared=True)))
        assert plain is not None
        assert np.array_equal(bare(plain), STACK)


def test_what_is_packed_or_mixed_does_not(tmp_path: Path) -> None:
    np.save(tmp_path / "f.npy", np.asfortranarray(STACK))
    np.savez(tmp_path / "s.npz", frames=STACK)
    tifffile.imwrite(tmp_path / "deflate.tiff", STACK, photometric="minisblack", compression="zlib")
    tifffile.imwrite(tmp_path / "tiled.tiff", STACK, photometric="minisblack", tile=(16, 16))
    with tifffile.TiffWriter(tmp_path / "mixed.tiff") as writer:
        writer.write(STACK[0], photometric="minisblack")
        writer.write(STACK[1].astype(np.float32), photometric="minisblack")
    for name in ("f.npy", "s.npz", "deflate.tiff", "tiled.tiff", "mixed.tiff"):
        assert plain_of(open_frames(tmp_path / name, CAMERA)) is None, name
