"""References whose temperature stands in a log: each frame is held against what the log says of its own time."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from irspot.workflow.run import StudyResult
from tests.tiny import BOARD, COLUMNS, CORNERS, ROWS, STUDY, temperatures, write_tiny

from .test_camera_state import REFERENCE, document, noisy, of_zone, run, study_of

LOGGED = REFERENCE.replace("temperature_degc = 45.0", 'log_column = "block"')
RUN = f"""
[[run]]
id = "long"
board = "w1"
load = "stock"
side = "front"
frames = "frames/long.npy"
corners_px = {CORNERS}
top = "up"
ambient_degc = 21.5
reflected_degc = 21.5
readout = "last 2 frames"
frame_interval_s = 60.0
sample_s = 60.0
thermocouple_log = "logs/block.csv"
"""
FRAMES = 6


def block_degc(time_s: float) -> float:
    """The block cools down."""
    return 48.0 - 0.8 * time_s / 60.0


def frame_at(time_s: float, offset_k: float) -> np.ndarray:
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    degc = np.where(np.hypot(x - 123, y - 90) <= 6.2, block_degc(time_s), temperatures(80.0, 60.0))
    return noisy(degc, int(time_s)) + offset_k


def recorded(folder: Path, offset_k: float, log: str, references: str = LOGGED) -> Path:
    """A recording during which the block cools and the camera is off by more and more."""
    study = write_tiny(folder, STUDY + RUN)
    (folder / "boards" / "w1.toml").write_text(BOARD + references, encoding="utf-8")
    (folder / "logs").mkdir()
    (folder / "logs" / "block.csv").write_text(log, encoding="utf-8")
    frames = np.stack([frame_at(60.0 * k, offset_k * k / FRAMES) for k in range(FRAMES)])
    np.save(folder / "frames" / "long.npy", np.rint((frames + 273.15) * 100.0).astype(np.uint16))
    return study


def log_of(column: str = "block") -> str:
    times = np.arange(0.0, 60.0 * FRAMES, 10.0)
    return f"# unit: degC\ntime_s,{column},tc1\n" + "".join(f"{t:.0f},{block_degc(t):.3f},30.0\n" for t in times)


def series_of(result: StudyResult, zone: str) -> list[list[str]]:
    lines = (result.folder / "series" / "long.csv").read_text().splitlines()
    head = lines[0].split(",")
    rows = [dict(zip(head, line.split(","), strict=False)) for line in lines[1:]]
    return [[row["max_degc"], row["U_max_k"], row["flags"]] for row in rows if row["zone"] == zone]


@pytest.mark.parametrize("offset_k", [0.0, 0.9])
def test_each_sample_is_held_against_the_log_at_its_time(tmp_path: Path, offset_k: float) -> None:
    ours = run(recorded(tmp_path / "s", offset_k, log_of()), tmp_path / "out", pictures=False)
    ideal = run(recorded(tmp_path / "i", 0.0, log_of(), ""), tmp_path / "out-ideal", pictures=False)
    samples, truths = series_of(ours, "ps"), series_of(ideal, "ps")
    assert len(samples) == FRAMES
    for sample, truth in zip(samples, truths, strict=True):
        assert float(sample[0]) == pytest.approx(float(truth[0]), abs=0.05)
        assert float(sample[1]) < float(truth[1])
        assert "reference-corrected" in sample[2]
    (reading,) = of_zone(ours, "ps", "long")
    assert "reference-corrected" in reading.flags
    (held,) = [each["frames"][0]["references"] for each in document(tmp_path / "out")["runs"] if each["run"] == "long"]
    (patch,) = held["patches"]
    assert patch["expected_degc"] == pytest.approx(block_degc(60.0 * (FRAMES - 1)), abs=1.0)
    assert patch["u_k"] == pytest.approx(np.hypot(0.2, 0.8 / 60.0 * 15.0 / np.sqrt(3.0)), rel=0.05)


def test_pictures_are_drawn_by_the_same_references(tmp_path: Path) -> None:
    result = run(recorded(tmp_path / "s", 0.9, log_of()), tmp_path / "out")
    assert any("long" in name for name in result.outputs if name.endswith(".png"))
    assert [str(problem) for problem in result.problems if "long" in str(problem)] == []


def test_a_log_that_does_not_tell_is_said_and_the_reference_left_out(tmp_path: Path) -> None:
    result = run(recorded(tmp_path / "s", 0.0, log_of("other")), tmp_path / "out", pictures=False)
    assert any("no log of the run tells the temperature of the reference 'block'" in w.message for w in result.warnings)
    (reading,) = of_zone(result, "ps", "long")
    assert "reference-corrected" not in reading.flags


def test_stills_without_a_log_say_so(tmp_path: Path) -> None:
    result = run(study_of(tmp_path / "s", patterned=False, references=LOGGED), tmp_path / "out", pictures=False)
    assert any("'block'" in warning.message for warning in result.warnings)
