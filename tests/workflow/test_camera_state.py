"""Cold frames, references and warm-up in studies and single frames: tables, pictures, results.json, the check."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
import tifffile
from click.testing import CliRunner
from PIL import Image

import irspot
from irspot.cli.main import main
from irspot.errors import ColdFrameRefused, UsageError
from irspot.results import Reading
from irspot.workflow.check import check_study
from irspot.workflow.run import StudyResult, run_study
from tests.tiny import BOARD, CAMERA, COLUMNS, ROWS, STUDY, temperatures, write_tiff, write_tiny

SMALL = (960, 540)
ROOM_DEGC = 21.5
PATCH_DEGC = 45.0


def pattern() -> np.ndarray:
    """Shading, and pixels that differ, in kelvins at room temperature; nothing at the frame's median."""
    y, x = np.mgrid[-1 : 1 : ROWS * 1j, -1 : 1 : COLUMNS * 1j]
    deviation_k = 1.2 * (x * x + y * y) / 2.0 + 0.3 * np.random.default_rng(3).standard_normal((ROWS, COLUMNS))
    return np.asarray(deviation_k - np.median(deviation_k))


def with_pattern(degc: np.ndarray) -> np.ndarray:
    """Add to every pixel's radiance what makes the pattern at room temperature, by Planck's law."""
    from irspot.camera import Band
    from irspot.radiometry import band_table

    table = band_table(Band(8.0, 14.0))
    added = table.radiance(ROOM_DEGC + pattern()) - table.radiance(ROOM_DEGC)
    return np.asarray(table.temperature_degc(table.radiance(degc) + added))


def with_block(degc: np.ndarray) -> np.ndarray:
    """A block of 45 °C on the bench, black, 12 px across."""
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    return np.where(np.hypot(x - 123, y - 90) <= 6.2, PATCH_DEGC, degc)


REFERENCE = """\
[[reference]]
id = "block"
px = [123.0, 90.0, 6.0]
side = "front"
temperature_degc = 45.0
u_k = 0.2
emissivity = 1.0
u_emissivity = 0.0
"""


def noisy(degc: np.ndarray, seed: int) -> np.ndarray:
    return degc + np.random.default_rng(seed).normal(0.0, 0.02, degc.shape)


def study_of(
    folder: Path, keys: str = "", *, patterned: bool = True, offset_k: float = 0.0, references: str = ""
) -> Path:
    """The tiny study by a camera with a pattern and an offset; its front run has the keys."""
    study = write_tiny(folder, STUDY.replace("ambient_degc = 21.5\n", f"ambient_degc = 21.5\n{keys}"))
    (folder / "boards" / "w1.toml").write_text(BOARD + references, encoding="utf-8")
    for name, ps, chip in (("front-1", 80.0, 60.0), ("front-2", 82.0, 61.0)):
        degc = with_block(temperatures(ps, chip))
        shown = with_pattern(degc) if patterned else degc
        write_tiff(folder / "frames" / f"{name}.tiff", noisy(shown, int(ps)) + offset_k)
    return study


def write_cold(folder: Path, *, patterned: bool = True, pages: int = 4, shift_k: float = 0.0) -> None:
    """An even wall, some pages of one file."""
    even = np.full((ROWS, COLUMNS), ROOM_DEGC)
    shown = (with_pattern(even) if patterned else even) + shift_k
    counts = [np.rint((noisy(shown, page) + 273.15) * 100.0).astype(np.uint16) for page in range(pages)]
    tifffile.imwrite(folder / "frames" / "cold.tiff", np.stack(counts), photometric="minisblack")


COLD = 'cold_frame = "frames/cold.tiff"\n'


WARMING = CAMERA.replace("noise_k", "warm_up_min = 20.0\nnoise_k")


def run(study: Path, out: Path, **options: object) -> StudyResult:
    with ThreadPoolExecutor(1) as pool:
        return run_study(study, out, pool, size=SMALL, **options)  # type: ignore[arg-type]


def of_zone(result: StudyResult, zone: str, run_id: str = "w1-stock-front") -> list[Reading]:
    return [row.reading for row in result.rows if row.label.run == run_id and row.reading.zone == zone]


def document(folder: Path) -> dict:
    return json.loads((folder / "results.json").read_text(encoding="utf-8"))


def test_a_study_takes_the_pattern_off_table_and_pictures(tmp_path: Path) -> None:
    write_tiny(tmp_path / "s")
    write_tiny(tmp_path / "ideal")
    write_cold(tmp_path / "s")
    write_cold(tmp_path / "ideal", patterned=False)
    found = run(study_of(tmp_path / "s", COLD), tmp_path / "out")
    ideal = run(study_of(tmp_path / "ideal", COLD, patterned=False), tmp_path / "out-ideal")
    assert found.problems == ()
    for zone in ("ps", "chip"):
        for ours, truth in zip(of_zone(found, zone), of_zone(ideal, zone), strict=True):
            assert "pattern-removed" in ours.flags
            assert ours.max_degc == pytest.approx(truth.max_degc, abs=0.1)
            assert "cold frame" in {term.name for term in ours.budget}
    rear = of_zone(found, "ps-rear", "w1-stock-rear")
    assert all("pattern-removed" not in reading.flags for reading in rear)
    front = next(name for name in found.outputs if "front-1" in name)
    ours, truth = (np.asarray(Image.open(tmp_path / out / front).convert("L"), int) for out in ("out", "out-ideal"))
    plain = run(study_of(tmp_path / "s"), tmp_path / "out-plain")
    assert plain.scale_degc == pytest.approx(found.scale_degc, abs=2.0)
    with_it = np.asarray(Image.open(tmp_path / "out-plain" / front).convert("L"), int)
    assert np.abs(ours - truth).mean() < 0.5 * np.abs(with_it - truth).mean()


def test_results_say_what_was_taken_off(tmp_path: Path) -> None:
    study = study_of(tmp_path / "s", COLD)
    write_cold(tmp_path / "s")
    run(study, tmp_path / "out", pictures=False)
    front, rear = document(tmp_path / "out")["runs"]
    assert rear["cold_frame"] is None
    cold = front["cold_frame"]
    assert (cold["files"], cold["frames"], cold["refused"]) == (["frames/cold.tiff"], 4, [])
    assert cold["at_degc"] == pytest.approx(ROOM_DEGC, abs=0.05)
    assert cold["noise_k"] == pytest.approx(0.05 / 2.0)  # the camera file's 0.05 K, four frames
    assert "frames/cold.tiff" in document(tmp_path / "out")["inputs"]


def test_a_refused_cold_frame_costs_the_correction_and_not_the_readings(tmp_path: Path) -> None:
    study = study_of(tmp_path / "s", COLD)
    write_cold(tmp_path / "s", shift_k=20.0)
    refused, plain = run(study, tmp_path / "out"), run(study_of(tmp_path / "p"), tmp_path / "out-p")
    (problem,) = refused.problems
    assert "not taken at room temperature" in problem.message
    assert problem.key.startswith("run w1-stock-front, cold_frame")
    for ours, other in zip(of_zone(refused, "ps"), of_zone(plain, "ps"), strict=True):
        assert "cold-frame-refused" in ours.flags
        assert (ours.max_degc, ours.U_max_k) == (other.max_degc, other.U_max_k)
    assert document(tmp_path / "out")["runs"][0]["cold_frame"]["refused"] == [problem.message]
    (error,) = (p for p in check_study(study).problems if p.severity == "error")
    assert "not taken at room temperature" in error.message


def test_a_cold_frame_of_another_size_is_refused(tmp_path: Path) -> None:
    study = study_of(tmp_path / "s", COLD)
    write_tiff(tmp_path / "s" / "frames" / "cold.tiff", np.full((ROWS, COLUMNS - 2), ROOM_DEGC))
    found = run(study, tmp_path / "out", pictures=False)
    assert {problem.message for problem in found.problems} == {
        f"it is not of the size of 'front-{number}.tiff'" for number in (1, 2)
    }
    assert all("cold-frame-refused" in reading.flags for reading in of_zone(found, "ps"))


def test_a_cold_frame_of_another_day_is_warned_of(tmp_path: Path) -> None:
    study = study_of(tmp_path / "s", COLD)
    write_tiff(
        tmp_path / "s" / "frames" / "cold.tiff",
        with_pattern(np.full((ROWS, COLUMNS), ROOM_DEGC)),
        "2026:03:03 12:00:00",
    )
    found = run(study, tmp_path / "out", pictures=False)
    assert found.problems == ()
    assert any("48 hours" in warning.message for warning in found.warnings)


def test_runs_that_share_a_cold_frame_are_of_one_camera_and_range(tmp_path: Path) -> None:
    keys = COLD + 'session = "monday"\n'
    study = study_of(tmp_path / "s", keys)
    write_cold(tmp_path / "s")
    text = study.read_text(encoding="utf-8")
    other_range = text + COLD + 'session = "monday"\nemissivity_set = 0.95\n'
    study.write_text(other_range, encoding="utf-8")
    assert any("camera, range or settings differ" in p.message for p in irspot.read_study(study).problems)
    assert [bad.id for bad in irspot.read_study(study).bad_runs] == ["w1-stock-rear"]
    study.write_text(text + COLD + 'session = "tuesday"\n', encoding="utf-8")
    (problem,) = irspot.read_study(study).problems
    assert (problem.severity, "another session" in problem.message) == ("warning", True)


@pytest.mark.parametrize("offset_k", [0.0, 0.9])
def test_a_study_is_held_against_its_reference(tmp_path: Path, offset_k: float) -> None:
    study = study_of(tmp_path / "s", patterned=False, offset_k=offset_k, references=REFERENCE)
    found = run(study, tmp_path / "out")
    ideal = run(study_of(tmp_path / "ideal", patterned=False), tmp_path / "out-ideal")
    for ours, truth in zip(of_zone(found, "ps"), of_zone(ideal, "ps"), strict=True):
        assert ours.max_degc == pytest.approx(truth.max_degc, abs=0.02)
        assert ours.U_max_k < truth.U_max_k
        assert "reference-corrected" in ours.flags
    front, rear = document(tmp_path / "out")["runs"]
    for frame in front["frames"]:
        held = frame["references"]
        assert held["offset_k"] == pytest.approx(-offset_k, abs=0.01)
        assert held["patches"][0]["expected_degc"] == pytest.approx(45.0)
        assert (held["patches"][0]["state"], held["gain"], held["gain_bound"]) == ("used", 0.0, 0.01)
        assert held["limit_widened_to_k"] is None
    assert "references" not in rear["frames"][0]
    assert found.warnings == ()


def test_a_reference_that_is_not_there_is_named(tmp_path: Path) -> None:
    """The rear frame shows bench where the block should be: nothing at 22 °C is 45 °C."""
    study = study_of(tmp_path / "s", patterned=False, references=REFERENCE.replace('side = "front"', ""))
    found = run(study, tmp_path / "out", pictures=False)
    _, rear = document(tmp_path / "out")["runs"]
    assert rear["frames"][0]["references"]["patches"][0]["state"].startswith("reads further off")
    assert any("'block' was not used" in warning.message for warning in found.warnings)
    assert all("reference-doubtful" in r.flags for r in of_zone(found, "ps-rear", "w1-stock-rear"))


def test_pictures_are_drawn_from_corrected_frames(tmp_path: Path) -> None:
    shown = []
    for name, offset_k in (("a", 0.0), ("b", 0.9)):
        study = study_of(tmp_path / name, patterned=False, offset_k=offset_k, references=REFERENCE)
        result = run(study, tmp_path / f"out-{name}")
        front = next(output for output in result.outputs if "front-1" in output)
        shown.append(np.asarray(Image.open(tmp_path / f"out-{name}" / front).convert("L"), int))
    apart = np.abs(shown[0] - shown[1])
    assert float(np.quantile(apart, 0.98)) <= 2.0  # but for digits of printed numbers; 0.9 K would change every colour


def test_a_warming_camera_is_said_so_everywhere(tmp_path: Path) -> None:
    plain = study_of(tmp_path / "s")
    (tmp_path / "s" / "camera.toml").write_text(WARMING, encoding="utf-8")
    unknown = check_study(plain)
    assert any("no camera_on_min" in problem.message for problem in unknown.problems)
    assert "camera-warming" not in of_zone(run(plain, tmp_path / "out", pictures=False), "ps")[0].flags
    study = study_of(tmp_path / "s", "camera_on_min = 5.0\n")
    (tmp_path / "s" / "camera.toml").write_text(WARMING, encoding="utf-8")
    assert any("5 of its 20 min" in problem.message for problem in check_study(study).problems)
    warm = run(study, tmp_path / "out", pictures=False)
    assert "camera-warming" in of_zone(warm, "ps")[0].flags
    assert "camera-warming" not in of_zone(warm, "ps-rear", "w1-stock-rear")[0].flags


def test_a_reference_alone_is_warned_of(tmp_path: Path) -> None:
    alone = check_study(study_of(tmp_path / "a", references=REFERENCE))
    assert any("a reference without a cold_frame" in problem.message for problem in alone.problems)
    study = study_of(tmp_path / "b", COLD, references=REFERENCE)
    write_cold(tmp_path / "b")
    assert not any("without a cold_frame" in problem.message for problem in check_study(study).problems)


def measure(*arguments: str) -> tuple[int, dict | str, str]:
    result = CliRunner().invoke(main, ["measure", *arguments, "--json"])
    text = result.stdout
    return result.exit_code, json.loads(text) if text.startswith("{") else text, result.stderr


def one_frame(folder: Path) -> list[str]:
    return [
        str(folder / "frames" / "front-1.tiff"),
        "--board", str(folder / "boards" / "w1.toml"),
        "--camera", str(folder / "camera.toml"),
        "--corners-px", "15,84 115,84 115,14 15,14",
        "--top", "up", "--ambient-degc", "21.5", "--reflected-degc", "22",
    ]  # fmt: skip


def test_measure_takes_a_cold_frame_and_the_time_on(tmp_path: Path) -> None:
    study_of(tmp_path, references=REFERENCE)
    write_cold(tmp_path)
    (tmp_path / "camera.toml").write_text(WARMING, encoding="utf-8")
    cold = str(tmp_path / "frames" / "cold.tiff")
    code, found, _ = measure(
        *one_frame(tmp_path), "--cold-frame", cold, "--camera-on-min", "3", "-o", str(tmp_path / "o")
    )
    assert code == 0
    row = found["rows"][0]
    assert {"pattern-removed", "camera-warming", "reference-corrected"} <= set(row["flags"])
    assert row["max_degc"] == pytest.approx(81.0, abs=0.15)
    assert found["frame"]["cold_frame"]["frames"] == 4
    assert found["frame"]["references"]["patches"][0]["state"] == "used"
    assert "cold.tiff" in found["inputs"]
    assert (tmp_path / "o" / "pictures" / "front-1.png").is_file()


def test_measure_refuses_a_warm_cold_frame(tmp_path: Path) -> None:
    study_of(tmp_path)
    write_cold(tmp_path, shift_k=30.0)
    code, found, _ = measure(*one_frame(tmp_path), "--cold-frame", str(tmp_path / "frames" / "cold.tiff"))
    assert code == 1
    assert found["error"]["code"] == "cold-frame-refused"
    assert "cold.tiff" in found["error"]["file"]
    code, _, _ = measure(*one_frame(tmp_path), "--camera-on-min", "-1")
    assert code == 2


def test_measure_names_a_reference_that_was_not_used(tmp_path: Path) -> None:
    study_of(tmp_path, references=REFERENCE.replace("45.0", "80.0"))
    code, found, said = measure(*one_frame(tmp_path))
    assert code == 0
    assert "the reference 'block' was not used: reads further off" in said
    assert "reference-doubtful" in found["rows"][0]["flags"]
    assert found["frame"]["references"]["limit_widened_to_k"] == pytest.approx(35.0, abs=0.6)


def test_the_library_takes_a_cold_frame(tmp_path: Path) -> None:
    study_of(tmp_path)
    write_tiff(tmp_path / "frames" / "cold.tiff", with_pattern(np.full((ROWS, COLUMNS), ROOM_DEGC)))
    camera, board = irspot.read_camera(tmp_path / "camera.toml"), irspot.read_board(tmp_path / "boards" / "w1.toml")
    frame, cold = (irspot.read_frame(tmp_path / "frames" / f"{name}.tiff", camera) for name in ("front-1", "cold"))
    placement = irspot.place(frame, board, top="up", corners_px=[(15, 84), (115, 84), (115, 14), (15, 14)])
    known = {"ambient_degc": 21.5, "reflected_degc": 22.0}
    readings = irspot.measure(frame, board, placement, cold_frame=cold, **known)
    assert readings[0].max_degc == pytest.approx(81.0, abs=0.15)
    without = irspot.take_off_pattern(frame, cold, ambient_degc=21.5)
    again = irspot.measure(without, board, placement, **known)
    assert [r.max_degc for r in again] == [r.max_degc for r in readings]
    irspot.picture(without, board, placement, again, size=SMALL)
    with pytest.raises(UsageError, match="without the camera's pattern"):
        irspot.picture(frame, board, placement, readings, size=SMALL)
    with pytest.raises(ColdFrameRefused, match="room temperature"):
        irspot.take_off_pattern(frame, frame, ambient_degc=5.0)
