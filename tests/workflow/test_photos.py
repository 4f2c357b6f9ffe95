"""A run with a photo: where it is placed, what its pictures and results.json say, and what a bad photo costs."""

from __future__ import annotations

import hashlib
import json
import shutil
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
import tomlkit
from PIL import Image

from irspot.workflow.check import check_study
from irspot.workflow.run import StudyResult, run_study
from tests.tiny import STUDY, write_tiny

SMALL = (960, 540)
PHOTO = """photo = "photos/w1.jpg"
photo_corners_px = [[60, 340], [460, 340], [460, 60], [60, 60]]
photo_opacity = 0.5
"""
"""A photo of 520 x 400 px, 4 px a mm, with the board's corner at px (60, 340)."""


def write(folder: Path, keys: str = PHOTO) -> Path:
    """The tiny study whose front run has a photo: white left half, black right half of the board."""
    study = write_tiny(folder, STUDY.replace("ambient_degc = 21.5\n", f"ambient_degc = 21.5\n{keys}"))
    rgb = np.full((400, 520, 3), 128, np.uint8)
    rgb[60:340, 60:260], rgb[60:340, 260:460] = 255, 0
    (folder / "photos").mkdir(exist_ok=True)
    Image.fromarray(rgb).save(folder / "photos" / "w1.jpg", quality=95)
    return study


def run(study: Path, out: Path, **options: object) -> StudyResult:
    with ThreadPoolExecutor(1) as pool:
        return run_study(study, out, pool, size=SMALL, **options)  # type: ignore[arg-type]


def pixels(path: Path) -> np.ndarray:
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB")).astype(int)


def test_pictures_show_the_photo_and_numbers_do_not_change(tmp_path: Path) -> None:
    plain = run(write_tiny(tmp_path / "plain"), tmp_path / "out-plain")
    mixed = run(write(tmp_path / "s"), tmp_path / "out")
    assert mixed.problems == ()
    assert (tmp_path / "out" / "results.csv").read_bytes() == (tmp_path / "out-plain" / "results.csv").read_bytes()
    assert mixed.scale_degc == plain.scale_degc
    fronts = [name for name in mixed.outputs if "front" in name]
    assert len(fronts) == 2
    for name in fronts:
        with_photo, without = pixels(tmp_path / "out" / name), pixels(tmp_path / "out-plain" / name)
        # The frame stands in the middle of the page, and the board's middle in the frame's.
        middle = SMALL[0] // 2
        left, right = (
            (slice(200, 300), slice(middle - 80, middle - 30)),
            (slice(200, 300), slice(middle + 30, middle + 80)),
        )
        assert np.median(without[left]) == np.median(without[right])
        white, black = (np.median(with_photo[place] - 0.5 * without[place]) for place in (left, right))
        assert white == pytest.approx(127.5, abs=2.0)
        assert black == pytest.approx(0.0, abs=2.0)
    rear = next(name for name in mixed.outputs if "rear" in name)
    assert (tmp_path / "out" / rear).read_bytes() == (tmp_path / "out-plain" / rear).read_bytes()


def test_results_say_how_the_photo_was_placed(tmp_path: Path) -> None:
    study = write(tmp_path / "s")
    run(study, tmp_path / "out")
    document = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    front, rear = document["runs"]
    assert rear["photo"] is None
    assert (front["photo"]["file"], front["photo"]["opacity"]) == ("photos/w1.jpg", 0.5)
    placement = front["photo"]["placement"]
    np.testing.assert_allclose(placement["matrix_mm_to_px"], [[4, 0, 60], [0, -4, 340], [0, 0, 1]], atol=1e-9)
    assert placement["method"] == "corners"
    content = (tmp_path / "s" / "photos" / "w1.jpg").read_bytes()
    assert document["inputs"]["photos/w1.jpg"] == hashlib.sha256(content).hexdigest()


def test_a_rerun_gives_the_same_bytes(tmp_path: Path) -> None:
    study = write(tmp_path / "s")
    first = run(study, tmp_path / "a")
    run(study, tmp_path / "b")
    for name in first.outputs:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes(), name


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        (PHOTO.replace("[460, 60]", "[60, 60]").replace("[[60, 340], [460", "[[60, 340], [461"), "lie in one place"),
        (PHOTO.replace("[[60, 340], [460, 340]", "[[460, 340], [60, 340]"), "not in the order"),
        (PHOTO + 'photo_top = "down"\n', "top"),
    ],
)
def test_a_refused_photo_costs_the_photo_only(keys: str, said: str, tmp_path: Path) -> None:
    run(write_tiny(tmp_path / "plain"), tmp_path / "out-plain")
    result = run(write(tmp_path / "s", keys), tmp_path / "out")
    (problem,) = result.problems
    assert said in str(problem)
    assert "w1.jpg" in problem.file
    assert "run w1-stock-front" in problem.key
    for name in ("results.csv", *(name for name in result.outputs if name.startswith("pictures/"))):
        assert (tmp_path / "out" / name).read_bytes() == (tmp_path / "out-plain" / name).read_bytes(), name
    document = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    assert document["runs"][0]["photo"]["placement"] is None


def test_a_photo_that_is_none_costs_the_photo_only(tmp_path: Path) -> None:
    study = write(tmp_path / "s")
    (tmp_path / "s" / "photos" / "w1.jpg").write_bytes(b"no photo")
    result = run(study, tmp_path / "out")
    (problem,) = result.problems
    assert "no picture" in str(problem)
    assert len(result.rows) == 8
    assert len([name for name in result.outputs if name.startswith("pictures/")]) == 3


def test_check_places_the_photo_too(tmp_path: Path) -> None:
    assert [p for p in check_study(write(tmp_path / "good")).problems if "w1.jpg" in p.file] == []
    bad = write(tmp_path / "bad", PHOTO + 'photo_top = "left"\n')
    (problem,) = [problem for problem in check_study(bad).problems if "w1.jpg" in problem.file]
    assert problem.severity == "error"


def test_an_output_never_goes_over_a_photo(tmp_path: Path) -> None:
    """A study whose photo lies where a picture would be written."""
    study = write(tmp_path, PHOTO.replace("photos/w1.jpg", "pictures/w1-stock-front--front-1.png"))
    (tmp_path / "pictures").mkdir()
    (tmp_path / "photos" / "w1.jpg").rename(tmp_path / "pictures" / "w1-stock-front--front-1.png")
    before = (tmp_path / "pictures" / "w1-stock-front--front-1.png").read_bytes()
    with pytest.raises(Exception, match="input"):
        run(study, tmp_path)
    assert (tmp_path / "pictures" / "w1-stock-front--front-1.png").read_bytes() == before


SAMPLES = Path(__file__).parents[2] / "sample_images"


def one_run(folder: Path, **changes: str | None) -> Path:
    """The sample study's run that has a photo, alone, with keys changed; None takes one away."""
    for part in ("boards", "photos"):
        shutil.copytree(SAMPLES / part, folder / part)
    (folder / "frames").mkdir()
    shutil.copy(SAMPLES / "camera.toml", folder)
    shutil.copy(SAMPLES / "frames" / "t3-stock-front.tiff", folder / "frames")
    document = tomlkit.parse((SAMPLES / "study.toml").read_text(encoding="utf-8"))
    (run_table,) = [table for table in document["run"] if "photo" in table]
    for key, value in changes.items():
        run_table.pop(key, None)
        if value is not None:
            run_table[key] = value
    document["run"] = [run_table]
    document["board"] = [board for board in document["board"] if board["id"] == "t3"]
    (folder / "study.toml").write_text(tomlkit.dumps(document), encoding="utf-8")
    return folder / "study.toml"


def placed_corners(out: Path, which: str) -> np.ndarray:
    """Where results.json has the board's corners, px of the undistorted image."""
    (entry,) = json.loads((out / "results.json").read_text(encoding="utf-8"))["runs"]
    placement = entry["photo"]["placement"] if which == "photo" else entry["frames"][0]["placement"]
    corners = np.array([[0, 0, 1], [244, 0, 1], [244, 244, 1], [0, 244, 1]]) @ np.array(placement["matrix_mm_to_px"]).T
    return corners[:, :2] / corners[:, 2:]


def test_a_photo_is_placed_by_itself_and_the_frame_by_the_photo(tmp_path: Path) -> None:
    """Nobody gives a corner: the board is found in the photo by its colour, in the frame by what both show."""
    truth = run(one_run(tmp_path / "given"), tmp_path / "out-given")
    study = one_run(tmp_path / "s", corners_px=None, photo_corners_px=None, placement="photo")
    result = run(study, tmp_path / "out")
    assert result.problems == ()
    (entry,) = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))["runs"]
    assert entry["frames"][0]["placement"]["method"] == "photo"
    assert entry["photo"]["placement"]["method"] == "auto"
    for which, most_px in (("photo", 3.0), ("frame", 3.0)):
        off = placed_corners(tmp_path / "out", which) - placed_corners(tmp_path / "out-given", which)
        assert np.hypot(*off.T).max() < most_px, which
    for row, known in zip(result.rows, truth.rows, strict=True):
        both_k = np.hypot(row.reading.U_max_k, known.reading.U_max_k)
        assert abs(row.reading.max_degc - known.reading.max_degc) < both_k, row.reading.zone


def test_a_frame_to_be_placed_by_a_photo_that_is_refused_is_refused(tmp_path: Path) -> None:
    study = one_run(tmp_path / "s", corners_px=None, placement="photo", photo_top="down")
    result = run(study, tmp_path / "out")
    assert {row.reading.verdict for row in result.rows} == {"retake"}
    (problem,) = result.problems
    assert "t3-stock-front.jpg" in problem.file
    assert problem.key.startswith("run t3-stock-front")
