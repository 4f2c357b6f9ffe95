"""A run with an emissivity map: what it reads, what results.json says of it, and what a bad map costs."""

from __future__ import annotations

import csv
import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from irspot.camera import Band
from irspot.radiometry import apparent_temperature
from irspot.workflow.check import check_study
from irspot.workflow.provenance import file_digest
from irspot.workflow.run import StudyResult, run_study
from tests.tiny import BOARD, COLUMNS, ROWS, STUDY, write_tiff, write_tiny

MAP = (
    'emissivity_map = { frame = "frames/even.tiff", temperature_degc = 50.0, u_k = 0.3, '
    "reflected_degc = 22.0, u_reflected_k = 0.3"
)
METAL = (slice(14, 44), slice(15, 60))
"""A sheet of metal, emissivity 0.4, under the power stages and around them; the rest has 0.9."""
TRUE_DEGC = {"ps": 80.0, "chip": 60.0}


def emissivities() -> np.ndarray:
    e = np.full((ROWS, COLUMNS), 0.9)
    e[METAL] = 0.4
    return e


def seen(degc: np.ndarray, seed: int) -> np.ndarray:
    """Radiance temperatures of the board on a bench at 22 °C, with a little noise."""
    shown = np.full((ROWS, COLUMNS), 22.0)
    board = (slice(14, 85), slice(15, 116))
    shown[board] = apparent_temperature(
        degc[board], emissivity=emissivities()[board], reflected_degc=22.0, band=Band(8.0, 14.0)
    )
    return shown + 0.02 * np.random.default_rng(seed).standard_normal(shown.shape)


def loaded_degc() -> np.ndarray:
    y, x = np.mgrid[0:ROWS, 0:COLUMNS].astype(float)
    x_mm, y_mm = x - 15.0, 84.0 - y
    hills = ((20.5, 48.0, 40.0), (68.0, 28.0, 20.0))
    return 40.0 + sum(h * np.exp(-((x_mm - a) ** 2 + (y_mm - b) ** 2) / 2.0 / 7.0**2) for a, b, h in hills)


def write(folder: Path, keys: str = f"{MAP} }}\n", even_degc: float = 50.0) -> Path:
    """The tiny study, its front run with a map, no zone with an emissivity."""
    study = write_tiny(folder, STUDY.replace("ambient_degc = 21.5\n", f"ambient_degc = 21.5\n{keys}"))
    board = BOARD.replace("emissivity = 1.0\nu_emissivity = 0.0\n", "").replace(
        "emissivity = 1.0\nu_emissivity = 0.01\n", ""
    )
    (folder / "boards" / "w1.toml").write_text(board, encoding="utf-8")
    write_tiff(folder / "frames" / "even.tiff", seen(np.full((ROWS, COLUMNS), even_degc), 1))
    for number in (1, 2):
        write_tiff(folder / "frames" / f"front-{number}.tiff", seen(loaded_degc(), 1 + number))
    return study


def run(study: Path, out: Path, **options: object) -> StudyResult:
    with ThreadPoolExecutor(1) as pool:
        return run_study(study, out, pool, size=(960, 540), **options)  # type: ignore[arg-type]


def test_a_run_is_read_by_its_map(tmp_path: Path) -> None:
    result = run(write(tmp_path / "s"), tmp_path / "out")
    assert result.problems == ()
    rows = {(row.label.run, row.reading.zone): row.reading for row in result.rows if "2" not in row.reading.frame}
    for zone, emissivity in (("ps", 0.4), ("chip", 0.9)):
        reading = rows["w1-stock-front", zone]
        assert reading.emissivity == pytest.approx(emissivity, abs=0.01)
        assert abs(reading.max_degc - TRUE_DEGC[zone]) <= reading.U_max_k
        assert "emissivity-mapped" in reading.flags
    assert "emissivity-mapped" not in rows["w1-stock-rear", "ps-rear"].flags
    with (tmp_path / "out" / "results.csv").open(encoding="utf-8") as lines:
        table = [row for row in csv.DictReader(lines) if row["zone"] == "ps"]
    assert [float(row["emissivity"]) for row in table] == [pytest.approx(0.4, abs=0.01)] * 2


def test_results_say_what_the_map_was_made_of(tmp_path: Path) -> None:
    study = write(tmp_path / "s")
    run(study, tmp_path / "out", pictures=False)
    document = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    front, rear = document["runs"]
    assert rear["emissivity_map"] is None
    assert front["emissivity_map"]["file"] == "frames/even.tiff"
    assert front["emissivity_map"]["temperature_degc"] == 50.0
    assert front["emissivity_map"]["placement"]["method"] == "corners"
    assert document["inputs"]["frames/even.tiff"] == file_digest(study.parent / "frames" / "even.tiff")
    budget = next(row for row in document["rows"] if row["zone"] == "ps")["budget"]
    assert {"even board", "camera limit in the map"} <= {term["name"] for term in budget}


def test_a_bad_map_costs_its_run_and_no_other(tmp_path: Path) -> None:
    """The board was at 50 °C; 43 °C is stated, so that it would send more than a black body."""
    study = write(tmp_path / "s", MAP.replace("temperature_degc = 50.0", "temperature_degc = 43.0") + " }\n")
    result = run(study, tmp_path / "out")
    (problem,) = result.problems
    assert problem.key == "run w1-stock-front, run[0].emissivity_map.temperature_degc"
    assert problem.file.endswith("even.tiff")
    assert "black body" in problem.message
    front = [row.reading for row in result.rows if row.label.run == "w1-stock-front"]
    assert [reading.zone for reading in front] == ["ps", "chip", "elsewhere"] * 2
    assert all(reading.verdict == "retake" and "map-refused" in reading.flags for reading in front)
    assert np.isnan([reading.max_degc for reading in front]).all()
    rear = [row.reading for row in result.rows if row.label.run == "w1-stock-rear"]
    assert np.isfinite([reading.max_degc for reading in rear]).all()
    assert not any("front" in name for name in result.outputs)


def test_unreadable_and_unplaced_even_frames_are_named(tmp_path: Path) -> None:
    study = write(tmp_path / "a")
    (tmp_path / "a" / "frames" / "even.tiff").write_bytes(b"no frame")
    (problem,) = run(study, tmp_path / "out-a", pictures=False).problems
    assert problem.key.endswith("emissivity_map.frame")
    assert problem.file.endswith("even.tiff")
    study = write(tmp_path / "b", MAP + ', placement = "auto" }\n')
    write_tiff(tmp_path / "b" / "frames" / "even.tiff", np.full((ROWS, COLUMNS), 50.0))
    (problem,) = run(study, tmp_path / "out-b", pictures=False).problems
    assert problem.key.endswith("emissivity_map.frame")
    assert "the even frame cannot be used" in problem.message


def test_a_frame_of_another_size_costs_itself(tmp_path: Path) -> None:
    study = write(tmp_path / "s")
    write_tiff(
        tmp_path / "s" / "frames" / "even.tiff", np.pad(seen(np.full((ROWS, COLUMNS), 50.0), 1), ((0, 3), (0, 0)))
    )
    result = run(study, tmp_path / "out", pictures=False)
    assert {problem.key for problem in result.problems} == {"run w1-stock-front, run[0].emissivity_map.frame"}
    assert "size" in result.problems[0].message


def test_a_board_that_was_moved_since_is_noticed(tmp_path: Path) -> None:
    """The run's corners do not hold for the even frame, whose board's edges show elsewhere."""
    study = write(tmp_path / "s")
    moved = np.roll(seen(np.full((ROWS, COLUMNS), 50.0), 1), 5, axis=1)
    write_tiff(tmp_path / "s" / "frames" / "even.tiff", moved)
    (problem,) = run(study, tmp_path / "out", pictures=False).problems
    assert "lies elsewhere" in problem.message
    assert problem.key.endswith("emissivity_map.corners_px")
    corners = "[[20, 84], [120, 84], [120, 14], [20, 14]]"
    study = write(tmp_path / "t", f"{MAP}, corners_px = {corners} }}\n")
    write_tiff(tmp_path / "t" / "frames" / "even.tiff", moved)
    assert run(study, tmp_path / "out-t", pictures=False).problems == ()


def test_several_even_frames_are_averaged(tmp_path: Path) -> None:
    study = write(tmp_path / "s")
    stack = np.stack([seen(np.full((ROWS, COLUMNS), 50.0), seed) for seed in range(8)]).astype(np.float32)
    np.save(tmp_path / "s" / "frames" / "even.npy", np.rint((stack + 273.15) * 100.0).astype(np.uint16))
    study.write_text(study.read_text().replace("even.tiff", "even.npy"))
    result = run(study, tmp_path / "out", pictures=False)
    assert result.problems == ()
    assert result.rows[0].reading.emissivity == pytest.approx(0.4, abs=0.01)


def test_check_says_what_a_run_would(tmp_path: Path) -> None:
    report = check_study(write(tmp_path / "s"))
    assert (report.errors, report.ready) == (0, 2)
    assert any(p.key == "run[0].emissivity_map.session" and "counts twice" in p.message for p in report.problems)
    hot = check_study(write(tmp_path / "t", even_degc=60.0))
    assert [p.key for p in hot.problems if p.severity == "error"] == ["run[0].emissivity_map.temperature_degc"]
    assert hot.ready == 1
    keys = f'session = "monday"\n{MAP}, session = "monday" }}\n'
    assert not any("session" in p.key for p in check_study(write(tmp_path / "u", keys)).problems)
