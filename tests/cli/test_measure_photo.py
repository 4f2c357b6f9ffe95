"""``irspot measure --photo``: a photo beneath the colours of one frame's picture."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from irspot.cli.main import main
from tests.tiny import write_tiny

CORNERS = "15,84 115,84 115,14 15,14"
PHOTO_CORNERS = "60,340 460,340 460,60 60,60"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_tiny(tmp_path)
    rgb = np.full((400, 520, 3), 30, np.uint8)
    rgb[60:340, 60:260] = 240
    Image.fromarray(rgb).save(tmp_path / "w1.png")
    return tmp_path


def measure(folder: Path, *arguments: str) -> Result:
    files = [str(folder / "frames/front-1.tiff"), "--board", str(folder / "boards/w1.toml")]
    files += ["--camera", str(folder / "camera.toml"), "--corners-px", CORNERS, "--top", "up", "--size", "960x540"]
    return CliRunner().invoke(main, ["measure", *files, *arguments])


def photo(folder: Path, *arguments: str) -> list[str]:
    return ["--photo", str(folder / "w1.png"), "--photo-corners-px", PHOTO_CORNERS, *arguments]


def picture(folder: Path) -> np.ndarray:
    with Image.open(folder / "pictures" / "front-1.png") as image:
        return np.asarray(image.convert("RGB")).astype(int)


def test_the_picture_shows_the_photo_and_the_table_is_the_same(folder: Path) -> None:
    plain = measure(folder, "-o", str(folder / "plain"))
    mixed = measure(folder, "-o", str(folder / "mixed"), *photo(folder))
    strong = measure(folder, "-o", str(folder / "strong"), *photo(folder, "--photo-opacity", "0.8"))
    assert (plain.exit_code, mixed.exit_code, strong.exit_code) == (0, 0, 0), mixed.stderr
    assert mixed.stdout == plain.stdout
    away = [np.abs(picture(folder / name) - picture(folder / "plain")).mean() for name in ("mixed", "strong")]
    assert 1.0 < away[0] < away[1]
    document = json.loads((folder / "strong" / "results.json").read_text(encoding="utf-8"))
    assert document["frame"]["photo"]["opacity"] == 0.8
    assert document["frame"]["photo"]["placement"]["method"] == "corners"
    assert "w1.png" in document["inputs"]


def test_marks_place_the_photo_too(folder: Path) -> None:
    text = (folder / "boards/w1.toml").read_text(encoding="utf-8")
    marks = [("h2", 95, 5), ("h3", 95, 65), ("h4", 5, 65)]
    text += "".join(f'[[mark]]\nid = "{name}"\nx_mm = {x}\ny_mm = {y}\n' for name, x, y in marks)
    (folder / "boards/w1.toml").write_text(text, encoding="utf-8")
    points = [("h1", 5, 5), *marks]
    given = [word for name, x, y in points for word in ("--photo-point", f"{name}={60 + 4 * x},{340 - 4 * y}")]
    result = measure(folder, "-o", str(folder / "out"), "--photo", str(folder / "w1.png"), *given, "--json")
    assert result.exit_code == 0, result.stderr
    placement = json.loads(result.stdout)["frame"]["photo"]["placement"]
    np.testing.assert_allclose(placement["matrix_mm_to_px"], [[4, 0, 60], [0, -4, 340], [0, 0, 1]], atol=1e-9)


def test_a_refused_photo_leaves_table_and_plain_picture_and_says_why(folder: Path) -> None:
    measure(folder, "-o", str(folder / "plain"))
    result = measure(folder, "-o", str(folder / "out"), *photo(folder, "--photo-top", "down"))
    assert result.exit_code == 1
    assert "w1.png" in result.stderr
    assert len(result.stdout.splitlines()) == 4
    np.testing.assert_array_equal(picture(folder / "out"), picture(folder / "plain"))


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--photo", "w1.png"], "-o"),
        (["--photo-opacity", "0.5"], "there is none"),
        (["--by-photo"], "there is none"),
        (["--by-photo", "--photo", "w1.png"], "contradicts"),
        (["--photo-point", "h1=3,4"], "--photo-point"),
        (["--photo-opacity", "1.5", "--photo", "w1.png"], "0.0<=x<=1.0"),
        (["--photo", "w1.png", "-o", "x", "--photo-point", "h1=3,4", "--photo-point", "h1=5,6"], "twice"),
        (["--photo", "w1.png", "-o", "x", "--photo-corners-px", PHOTO_CORNERS, "--photo-point", "h1=3,4"], "either"),
    ],
)
def test_misuse_is_told(arguments: list[str], said: str, folder: Path) -> None:
    result = measure(folder, *arguments)
    assert result.exit_code == 2
    assert said in result.stderr


def test_a_photo_that_cannot_be_read_is_one_line(folder: Path) -> None:
    result = measure(folder, "-o", str(folder / "out"), "--photo", str(folder / "none.jpg"))
    assert result.exit_code == 1
    assert "no such file" in result.stderr
    assert "Traceback" not in result.stderr
    assert not (folder / "out").exists()


def test_a_frame_may_be_placed_by_the_photo() -> None:
    samples = Path(__file__).parents[2] / "sample_images"
    files = [str(samples / "frames/t3-stock-front.tiff"), "--board", str(samples / "boards/t3.toml")]
    files += ["--camera", str(samples / "camera.toml"), "--top", "up", "--by-photo", "--json"]
    photo_file = ["--photo", str(samples / "photos/t3-stock-front.jpg")]
    result = CliRunner().invoke(main, ["measure", *files, *photo_file])
    assert result.exit_code == 0, result.stderr
    frame = json.loads(result.stdout)["frame"]
    assert (frame["placement"]["method"], frame["photo"]["placement"]["method"]) == ("photo", "auto")
