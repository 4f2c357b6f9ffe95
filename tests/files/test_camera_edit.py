"""A lens written into a camera file: its values change, everything else stays to the letter."""

from __future__ import annotations

from pathlib import Path

import pytest

from irspot.errors import FileInvalid
from irspot.files import read_camera
from irspot.files.camera_edit import with_lens

FILE = """\
# Our bench camera (invented).
schema = 1
name = "Prüfkamera"

[optics]   # from the maker's sheet
blur_px = 0.8
focal_px = 800.0      # guessed
distortion = [0.0, 0.0, 0.0, 0.0, 0.0]
principal_px = [300.5, 250.25]

[signal]
unit = "K"
scale = 0.01
"""
LENS = {"size_px": [640, 512], "focal_px": 812.34, "distortion": [-0.21, 0.06, 0.0, 0.0, 0.0]}


def written(folder: Path, text: str, values: dict = LENS) -> str:
    path = folder / "camera.toml"
    path.write_bytes(text.encode())
    changed = with_lens(path, values)
    assert path.read_bytes() == text.encode(), "only the caller writes"
    path.write_bytes(changed)
    return changed.decode()


def test_only_the_lens_changes(tmp_path: Path) -> None:
    changed = written(tmp_path, FILE)
    expected = FILE.replace("focal_px = 800.0 ", "focal_px = 812.34 ")
    expected = expected.replace("distortion = [0.0, 0.0, 0.0, 0.0, 0.0]", "distortion = [-0.21, 0.06, 0.0, 0.0, 0.0]")
    kept = [line for line in changed.splitlines() if "size_px" not in line]
    assert [line.split("#")[0].rstrip() for line in kept if line] == [
        line.split("#")[0].rstrip() for line in expected.splitlines() if line
    ]
    for comment in ("# Our bench camera (invented).", "# from the maker's sheet", "# guessed"):
        assert comment in changed
    optics = read_camera(tmp_path / "camera.toml").optics
    assert (optics.focal_px, optics.size_px) == (812.34, (640, 512))
    assert optics.distortion == (-0.21, 0.06, 0.0, 0.0, 0.0)
    assert optics.principal_px == (300.5, 250.25)
    assert optics.blur_px == 0.8


def test_a_file_without_optics_gets_them(tmp_path: Path) -> None:
    changed = written(tmp_path, "schema = 1\n[signal]\nunit = 'degC'  # as it is\n")
    assert "unit = 'degC'  # as it is" in changed
    assert read_camera(tmp_path / "camera.toml").optics.focal_px == 812.34


def test_a_size_that_stands_there_stays(tmp_path: Path) -> None:
    written(tmp_path, FILE.replace("blur_px", "size_px = [320, 256]\nblur_px").replace("300.5", "160.5"))
    assert read_camera(tmp_path / "camera.toml").optics.size_px == (320, 256)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("focal_px = 800.0", "hfov_deg = 43.0\nsize_px = [640, 512]", "hfov_deg"),
        ("blur_px", "blurr_px", "blurr_px"),
        ("[optics]", "[optics", "not valid TOML"),
    ],
)
def test_files_that_cannot_take_a_lens_are_refused(tmp_path: Path, old: str, new: str, message: str) -> None:
    with pytest.raises(FileInvalid, match=message):
        written(tmp_path, FILE.replace(old, new, 1))


def test_line_ends_stay(tmp_path: Path) -> None:
    changed = written(tmp_path, FILE.replace("\n", "\r\n"))
    assert changed.count("\r\n") >= FILE.count("\n") - 1
    assert read_camera(tmp_path / "camera.toml").optics.focal_px == 812.34
