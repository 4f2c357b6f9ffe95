from __future__ import annotations

import io
import zipfile

import numpy as np
import pytest

from irspot.errors import FrameTooLarge, FrameUnreadable
from irspot.readers import open_frames, read_frame
from tests.readers.samples import CENTIKELVIN, DEGC, centikelvin, degc


def _npy(array, **how) -> bytes:
    content = io.BytesIO()
    np.lib.format.write_array(content, array, **how)
    return content.getvalue()


@pytest.mark.parametrize("version", [(1, 0), (2, 0), (3, 0)])
@pytest.mark.parametrize("order", ["C", "F"])
@pytest.mark.parametrize("dtype", ["<f4", ">f4", "<f8", "<u2", ">u2", "<i4", "<i8"])
def test_frames_of_any_order_and_type(tmp_path, dtype, order, version):
    path = tmp_path / "frame.npy"
    stored = degc() if "f" in dtype else centikelvin()
    path.write_bytes(_npy(np.asarray(stored.astype(dtype), order=order), version=version))
    frame = read_frame(path, DEGC if "f" in dtype else CENTIKELVIN)
    assert frame.stored.dtype == np.dtype(dtype).newbyteorder("=")
    np.testing.assert_array_equal(frame.stored, stored.astype(dtype))


@pytest.mark.parametrize("order", ["C", "F"])
def test_stacks_are_read_one_frame_at_a_time(tmp_path, order):
    path = tmp_path / "stack.npy"
    stack = np.stack([centikelvin() + 3 * n for n in range(5)])
    np.save(path, np.asarray(stack, order=order))
    source = open_frames(path, CENTIKELVIN)
    assert source.count == 5
    for index in (4, 0, 2):
        np.testing.assert_array_equal(source.frame(index).stored, stack[index])
        assert source.frame(index).name == f"stack.npy#{index}"
    # A view into the file would keep it open and change with it.
    assert not isinstance(source.frame(1).stored.base, np.memmap)


@pytest.mark.parametrize("packed", [np.savez, np.savez_compressed])
@pytest.mark.parametrize("names", [("anything",), ("frames", "mask"), ("mask", "frame")])
def test_archives_by_their_one_array_or_by_name(tmp_path, packed, names):
    path = tmp_path / "archive.npz"
    stack = np.stack([centikelvin() + 3 * n for n in range(3)])
    packed(path, **{name: np.zeros((2, 2)) if name == "mask" else stack for name in names})
    source = open_frames(path, CENTIKELVIN)
    assert source.count == 3
    np.testing.assert_array_equal(source.frame(2).stored, stack[2])


@pytest.mark.parametrize("names", [("a", "b"), ("frame", "frames")])
def test_archives_of_several_arrays_name_them(tmp_path, names):
    path = tmp_path / "archive.npz"
    np.savez(path, **{name: centikelvin() for name in names})
    with pytest.raises(FrameUnreadable, match=", ".join(names)):
        open_frames(path, CENTIKELVIN)


def test_pickles_are_never_loaded(tmp_path):
    path = tmp_path / "frame.npy"
    path.write_bytes(_npy(np.array([[{}]], dtype=object), allow_pickle=True))
    with pytest.raises(FrameUnreadable, match="never loaded"):
        open_frames(path, CENTIKELVIN)


@pytest.mark.parametrize(
    ("array", "reason"),
    [
        (np.zeros(5), "neither a frame nor a stack"),
        (np.zeros((2, 2, 2, 2)), "neither a frame nor a stack"),
        (np.zeros((9, 11, 3)), "neither a frame nor a stack"),
        (np.zeros((9, 11), "u1"), "eight bits"),
        (np.zeros((9, 11), bool), "type"),
        (np.zeros((9, 11), "c16"), "type"),
        (np.zeros((9, 11), [("a", "f4")]), "type"),
        (np.zeros((9, 11), "U3"), "type"),
        (np.zeros((0, 11)), "without pixels"),
        (np.zeros((0, 9, 11)), "no frames"),
        (np.full((9, 11), np.nan), "not one number"),
    ],
)
def test_other_arrays_are_refused(tmp_path, array, reason):
    path = tmp_path / "frame.npy"
    np.save(path, array)
    with pytest.raises(FrameUnreadable, match=reason):
        read_frame(path, DEGC)


@pytest.mark.parametrize("change", [-1, 1, -500])
def test_header_and_size_must_agree(tmp_path, change):
    path = tmp_path / "frame.npy"
    content = _npy(degc())
    path.write_bytes(content + bytes(change) if change > 0 else content[:change])
    with pytest.raises(FrameUnreadable, match="size its header states"):
        open_frames(path, DEGC)


@pytest.mark.parametrize(
    "header",
    [
        b"{'descr': '<f8', 'fortran_order': False, 'shape': (4000000000, 4000000000)}",
        b"{'descr': '<f8', 'fortran_order': False, 'shape': (-3, 5)}",
        b"{'descr': '<f8', 'fortran_order': False, 'shape': (-3, -5, 8)}",
        b"{'descr': 'zz', 'fortran_order': False, 'shape': (3, 5)}",
        b"(" * 900,
        b"-" * 9000 + b"1",
        b"{'descr': '<f8'}",
        b"\xff\xfe\x00",
    ],
)
def test_hostile_headers_end_in_one_line(tmp_path, header):
    path = tmp_path / "frame.npy"
    padded = header + b" " * (-(len(header) + 11) % 64) + b"\n"
    path.write_bytes(b"\x93NUMPY\x01\x00" + len(padded).to_bytes(2, "little") + padded + bytes(120))
    with pytest.raises(FrameUnreadable) as caught:
        open_frames(path, DEGC)
    assert "\n" not in str(caught.value)


def test_bombs_are_refused_by_what_they_declare(tmp_path):
    path = tmp_path / "bomb.npz"
    header = io.BytesIO()
    np.lib.format.write_array_header_1_0(header, {"descr": "<f8", "fortran_order": False, "shape": (9000, 9000)})
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("frame.npy", header.getvalue() + bytes(9_000_000))
    with pytest.raises(FrameTooLarge, match="9000 × 9000"):
        open_frames(path, DEGC)


def test_a_packed_stack_above_the_cap_is_refused(tmp_path, monkeypatch):
    path = tmp_path / "stack.npz"
    np.savez_compressed(path, np.stack([centikelvin()] * 4))
    monkeypatch.setenv("IRSPOT_MAX_PIXELS", "7000")
    with pytest.raises(FrameTooLarge, match="7844 in all frames"):
        open_frames(path, CENTIKELVIN)


def test_damaged_archives_end_in_one_line(tmp_path):
    path = tmp_path / "archive.npz"
    np.savez(path, frame=centikelvin())
    content = path.read_bytes()
    middle = len(content) // 2
    for broken in (content[:middle], content[:middle] + b"\x55\xaa" + content[middle + 2 :], b"PK\x03\x04junk"):
        path.write_bytes(broken)
        with pytest.raises(FrameUnreadable):
            open_frames(path, CENTIKELVIN)


def test_other_archives_are_refused(tmp_path):
    path = tmp_path / "document.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("sheet.xml", "<a/>")
    with pytest.raises(FrameUnreadable, match="no NPY array"):
        open_frames(path, CENTIKELVIN)


def test_a_file_changed_meanwhile_is_noticed(tmp_path):
    path = tmp_path / "frame.npy"
    np.save(path, degc())
    source = open_frames(path, DEGC)
    path.write_bytes(path.read_bytes()[:-8])
    with pytest.raises(FrameUnreadable, match="changed"):
        source.frame(0)
