"""``irspot lens`` from frames to the camera file."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import tifffile
from click.testing import CliRunner

from irspot.camera import Optics
from irspot.cli.main import main
from irspot.files import read_camera
from irspot.registration.lens_target import Target
from tests.registration.lens_scenes import poses_of, target_frame

SIZE = (241, 181)
TARGET = Target("dots", 7, 5, 20.0)
TRUE = Optics(focal_px=300.0, distortion=(-0.18, 0.04, 0.0, 0.0, 0.0))
CAMERA = """\
schema = 1
name = "Bench camera (invented)"   # no such product
[signal]
unit = "K"
scale = 0.01
[pixels]
dead_px = [[120, 90]]
[optics]
blur_px = 0.7   # measured once
"""


@pytest.fixture(scope="module")
def frames(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("lens")
    for number, view in enumerate(poses_of(TARGET, 300.0, SIZE, count=6)):
        degc = target_frame(TARGET, view, TRUE, SIZE, seed=number)
        degc[90, 120] = 300.0
        _write(folder / f"target-{number}.tiff", degc)
    _write(folder / "straight.tiff", target_frame(TARGET, poses_of(TARGET, 300.0, SIZE, tilt_deg=0.0)[0], TRUE, SIZE))
    for number, view in enumerate(poses_of(TARGET, 300.0, SIZE, count=3, tilt_deg=7.0)):
        _write(folder / f"flat-{number}.tiff", target_frame(TARGET, view, TRUE, SIZE, seed=number))
    _write(folder / "empty.tiff", np.full(SIZE[::-1], 25.0) + np.arange(SIZE[0]) * 0.01)
    _write(folder / "small.tiff", np.full((60, 80), 25.0))
    (folder / "camera.toml").write_text(CAMERA, encoding="utf-8")
    return folder


def _write(path: Path, degc: np.ndarray) -> None:
    tifffile.imwrite(path, np.rint((degc + 273.15) * 100.0).astype(np.uint16), photometric="minisblack")


def run(folder: Path, names: list[str], *more: str):
    files = [str(folder / name) for name in names]
    return CliRunner().invoke(main, ["lens", *files, "--dots", "7x5", "--pitch-mm", "20", *more])


ALL = [f"target-{number}.tiff" for number in range(6)]


def test_a_lens_is_fitted_reported_and_written(frames: Path, tmp_path: Path) -> None:
    camera = tmp_path / "camera.toml"
    camera.write_text(CAMERA, encoding="utf-8")
    result = run(frames, [*ALL, "empty.tiff"], "--write", str(camera), "--json")
    assert result.exit_code == 0, result.stderr
    found = json.loads(result.stdout)
    assert found["focal_px"] == pytest.approx(300.0, rel=0.01)
    assert abs(found["focal_px"] - 300.0) <= 3.0 * found["u_focal_px"]
    assert found["residual_px"] < 0.1
    assert found["points"] == 6 * 35
    assert found["frames"] == ALL
    assert found["without_target"] == ["empty.tiff"]
    assert found["warnings"] == []
    assert found["hfov_deg"] == pytest.approx(2 * np.degrees(np.arctan(241 / 2 / found["focal_px"])))
    text = camera.read_text(encoding="utf-8")
    assert all(line in text for line in CAMERA.splitlines())
    optics = read_camera(camera).optics
    assert optics.focal_px == pytest.approx(found["focal_px"], abs=found["u_focal_px"] / 50)
    np.testing.assert_allclose(optics.distortion[:2], found["distortion"][:2], atol=found["u_distortion"][0] / 20)
    assert optics.size_px == SIZE
    assert optics.principal_px is None


def test_the_table_for_people(frames: Path) -> None:
    result = run(frames, ALL[:4], "--camera", str(frames / "camera.toml"))
    assert result.exit_code == 0, result.stderr
    values = dict(line.split("\t") for line in result.stdout.splitlines())
    assert float(values["focal_px"]) == pytest.approx(300.0, rel=0.01)
    assert values["points"] == "140"
    assert "u_focal_px" in values


def test_a_target_hardly_tilted_is_warned_of_and_one_straight_on_refused(frames: Path) -> None:
    flat = run(frames, [f"flat-{number}.tiff" for number in range(3)], "--camera", str(frames / "camera.toml"))
    assert flat.exit_code == 0, flat.stderr
    assert "tilted by 7 degrees at most, too little to tell the focal length" in flat.stderr
    assert "only 3 of the frames" in flat.stderr
    straight = run(frames, ["straight.tiff"], "--camera", str(frames / "camera.toml"))
    assert straight.exit_code == 1
    assert "do not determine a lens" in straight.stderr


@pytest.mark.parametrize(
    ("names", "more", "status", "message"),
    [
        (["empty.tiff"], (), 1, "no frame shows the whole target of 7 x 5 dots"),
        (["target-0.tiff", "small.tiff"], (), 1, "not of one size"),
        (["target-0.tiff"], ("--checker", "8x6"), 2, "--dots or --checker"),
        (["target-0.tiff"], ("--pitch-mm", "0"), 2, "--pitch-mm"),
        (["target-0.tiff"], ("--dots", "2x9"), 2, "three or more"),
        (["none.tiff"], (), 1, "none.tiff"),
    ],
)
def test_what_cannot_be_done_is_one_line(frames: Path, names, more, status, message) -> None:
    result = run(frames, names, "--camera", str(frames / "camera.toml"), *more)
    assert result.exit_code == status
    assert message in result.stderr
    assert "Traceback" not in result.stderr


def test_a_field_of_view_in_the_file_is_refused_before_any_work(frames: Path, tmp_path: Path) -> None:
    camera = tmp_path / "camera.toml"
    text = CAMERA + f"hfov_deg = 43.0\nsize_px = [{SIZE[0]}, {SIZE[1]}]\n"
    camera.write_text(text, encoding="utf-8")
    result = run(frames, ALL, "--write", str(camera))
    assert result.exit_code == 1
    assert "hfov_deg" in result.stderr
    assert camera.read_text(encoding="utf-8") == text
