from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from datetime import datetime

import cv2
import numpy as np
import pytest
import tifffile

from irspot.camera import NO_CAMERA, Optics, RawLayout
from irspot.errors import FrameUnreadable, UsageError
from irspot.readers import open_frames, read_frame
from tests.readers.samples import CENTIKELVIN, COLUMNS, DEGC, ROWS, centikelvin, degc, png_of


def _write_all(folder, stem="frame"):
    tifffile.imwrite(folder / f"{stem}.tiff", centikelvin())
    (folder / f"{stem}.png").write_bytes(png_of(centikelvin()))
    np.save(folder / f"{stem}.npy", centikelvin())
    np.savez(folder / f"{stem}.npz", frame=centikelvin())
    np.savetxt(folder / f"{stem}.csv", centikelvin(), fmt="%d", delimiter=";")
    (folder / f"{stem}.raw").write_bytes(centikelvin().tobytes())
    return sorted(folder.glob(f"{stem}.*"))


RAW = replace(CENTIKELVIN, raw=RawLayout(COLUMNS, ROWS, "uint16"))


def test_the_content_decides_whatever_the_ending(tmp_path):
    for path in _write_all(tmp_path):
        for ending in (".tiff", ".png", ".dat", ""):
            camera = RAW if path.suffix in (".raw", ".csv") and ending != ".tiff" else CENTIKELVIN
            if path.suffix == ".raw" and camera is CENTIKELVIN:
                continue
            if path.suffix == ".csv":
                camera = CENTIKELVIN
            other = tmp_path / f"other{ending}"
            other.write_bytes(path.read_bytes())
            np.testing.assert_array_equal(read_frame(other, camera).stored, centikelvin())


def test_any_path_works(tmp_path):
    folder = tmp_path / "Prüfstand ≥ 5 µm" / "測定 #1 [a]"
    folder.mkdir(parents=True)
    for path in _write_all(folder, "kårt 'K7'"):
        for given in (path, str(path)):
            frame = read_frame(given, RAW)
            np.testing.assert_array_equal(frame.stored, centikelvin())
            assert frame.name == path.name


@pytest.mark.parametrize("ending", ["tiff", "png", "npy", "npz", "csv"])
def test_units_are_declared_never_guessed(tmp_path, ending):
    _write_all(tmp_path)
    with pytest.raises(FrameUnreadable, match=r"camera file with \[signal\] unit"):
        read_frame(tmp_path / f"frame.{ending}", NO_CAMERA)


@pytest.mark.parametrize("ending", ["tiff", "png", "npy", "npz", "csv", "raw"])
def test_the_camera_file_states_the_size(tmp_path, ending):
    _write_all(tmp_path)
    path = tmp_path / f"frame.{ending}"
    right = replace(RAW, optics=Optics(size_px=(COLUMNS, ROWS)))
    assert read_frame(path, right).shape == (ROWS, COLUMNS)
    for size, hint in (((64, 48), ""), ((ROWS, COLUMNS), "quarter")):
        with pytest.raises(FrameUnreadable) as caught:
            read_frame(path, replace(RAW, optics=Optics(size_px=size)))
        assert f"{COLUMNS} × {ROWS}" in caught.value.found
        assert f"{size[0]} × {size[1]}" in caught.value.wanted
        assert hint in caught.value.hint


@pytest.mark.parametrize("ending", ["tiff", "npy", "csv"])
def test_frames_without_a_number_are_refused(tmp_path, ending):
    path = tmp_path / f"frame.{ending}"
    nothing = np.full((9, 11), np.nan, "f4")
    if ending == "tiff":
        tifffile.imwrite(path, nothing)
    elif ending == "npy":
        np.save(path, nothing)
    else:
        np.savetxt(path, nothing, delimiter=";")
    with pytest.raises(FrameUnreadable, match="not one number"):
        read_frame(path, DEGC)


def test_the_name_tells_the_time_where_tags_do_not(tmp_path):
    for path in _write_all(tmp_path, "k7_20260301-142305"):
        assert read_frame(path, RAW).time_local == datetime(2026, 3, 1, 14, 23, 5)


def test_the_name_of_a_recording_tells_the_time_of_its_first_frame(tmp_path):
    path = tmp_path / "20260301-142305.npy"
    np.save(path, np.stack([centikelvin()] * 2))
    source = open_frames(path, CENTIKELVIN)
    assert source.frame(0).time_local == datetime(2026, 3, 1, 14, 23, 5)
    assert source.frame(1).time_local is None


def test_one_of_several_must_be_chosen(tmp_path):
    path = tmp_path / "stack.npy"
    np.save(path, np.stack([centikelvin()] * 3))
    with pytest.raises(UsageError, match="the file holds 3 frames"):
        read_frame(path, CENTIKELVIN)
    assert read_frame(path, CENTIKELVIN, 2).name == "stack.npy#2"


def test_stored_numbers_are_read_only(tmp_path):
    for path in _write_all(tmp_path):
        assert not read_frame(path, RAW).stored.flags.writeable


def test_files_that_are_none(tmp_path):
    (tmp_path / "empty.tiff").touch()
    for place, reason in (
        (tmp_path / "absent.tiff", "there is no such file"),
        (tmp_path, "this is a directory"),
        (tmp_path / "empty.tiff", "the file is empty"),
        (tmp_path / "a\0b", "no file can have this name"),
        (tmp_path / ("x" * 5000), "cannot be read"),
        (tmp_path / "empty.tiff" / "below", "cannot be read"),
    ):
        with pytest.raises(FrameUnreadable, match=reason) as caught:
            open_frames(place, CENTIKELVIN)
        assert "\n" not in str(caught.value)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes")
def test_pipes_are_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe.tiff")
    with pytest.raises(FrameUnreadable, match="not a regular file"):
        open_frames(tmp_path / "pipe.tiff", CENTIKELVIN)


@pytest.mark.parametrize("ending", [".jpg", ".bmp", ".webp"])
def test_pictures_are_told_and_refused(tmp_path, ending):
    path = tmp_path / "frame.tiff"
    path.write_bytes(cv2.imencode(ending, np.zeros((37, 53, 3), np.uint8))[1].tobytes())
    with pytest.raises(FrameUnreadable, match="decoded by a later command"):
        open_frames(path, CENTIKELVIN)


@pytest.mark.parametrize("head", [b"\0\0\0\x18ftypmp42", b"RIFF\0\0\0\0AVI LIST", b"\x1a\x45\xdf\xa3", b"GIF89a"])
def test_videos_are_told_and_refused(tmp_path, head):
    path = tmp_path / "frame.bin"
    path.write_bytes(head + bytes(50))
    with pytest.raises(FrameUnreadable, match="decoded by a later command"):
        open_frames(path, CENTIKELVIN)


@pytest.mark.parametrize(
    ("name", "reason"), [("a.tif", "named as TIFF"), ("a.csv", r"named as text.*\[raw\]"), ("a.bin", r"\[raw\]")]
)
def test_unknown_content_is_told_with_what_the_name_promised(tmp_path, name, reason):
    path = tmp_path / name
    path.write_bytes(bytes(range(256)))
    with pytest.raises(FrameUnreadable, match=reason):
        open_frames(path, CENTIKELVIN)


def test_reading_text_loads_no_heavy_library(tmp_path):
    path = tmp_path / "frame.csv"
    np.savetxt(path, degc(), delimiter=";")
    program = (
        "import sys; from irspot.readers import read_frame; from irspot.camera import Camera; "
        f"read_frame({str(path)!r}, Camera()); "
        "print([m for m in ('cv2', 'scipy', 'skimage', 'matplotlib', 'tifffile', 'PIL', 'importlib.metadata') "
        "if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
