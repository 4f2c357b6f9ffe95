"""The air's temperature from a log: at the last frame, with its drift and what the study tolerates."""

from __future__ import annotations

import csv
import io
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from irspot.files import read_study
from irspot.workflow.check import check_study
from irspot.workflow.logged_ambient import with_logged_ambient
from irspot.workflow.run import run_study
from tests.tiny import STUDY, write_tiny


def study_with_log(folder: Path, lines: str, study: str = STUDY) -> Path:
    text = study.replace("ambient_degc = 21.5\n", 'ambient_log = "logs/air.csv"\n')
    path = write_tiny(folder, "ambient_tolerance_k = 1.0\n" + text)
    (folder / "logs").mkdir()
    (folder / "logs" / "air.csv").write_text(lines, encoding="utf-8")
    return path


def by_clock(start_degc: float, slope_k_per_min: float) -> str:
    """From half past eleven on, a line a minute; the frames are of 12:00 and 12:05."""
    rows = [
        f"2026-03-01 {11 + (30 + i) // 60}:{(30 + i) % 60:02}:00,{start_degc + slope_k_per_min * i:.2f}"
        for i in range(45)
    ]
    return "time,air (°C)\n" + "\n".join(rows) + "\n"


def test_the_air_at_the_last_frame_counts(tmp_path: Path) -> None:
    path = study_with_log(tmp_path / "s", by_clock(20.0, 0.02))
    study, problems = with_logged_ambient(read_study(path))
    front, rear = study.runs
    # 12:05 is line 35: 20.7 °C; the other run has its own number.
    assert front.ambient_degc == pytest.approx(20.7, abs=0.02)
    assert front.u_ambient_k == pytest.approx(0.5, abs=0.01)
    assert rear.ambient_degc == 21.0
    assert problems == {"w1-stock-front": (), "w1-stock-rear": ()}
    with ThreadPoolExecutor(1) as pool:
        result = run_study(path, tmp_path / "out", pool, pictures=False)
    assert result.problems == ()
    rows = list(csv.DictReader(io.StringIO((tmp_path / "out" / "results.csv").read_text(encoding="utf-8"))))
    assert float(rows[0]["ambient_degc"]) == pytest.approx(20.7, abs=0.02)
    assert float(rows[0]["rise_k"]) == pytest.approx(
        float(rows[0]["max_degc"]) - float(rows[0]["ambient_degc"]), abs=1e-3
    )


def test_drift_and_air_out_of_tolerance_are_warned_of(tmp_path: Path) -> None:
    _, found = with_logged_ambient(read_study(study_with_log(tmp_path, by_clock(20.0, 0.1))))
    problems = found["w1-stock-front"]
    assert found["w1-stock-rear"] == ()
    assert [problem.severity for problem in problems] == ["warning", "warning"]
    assert "drifted by 2." in problems[0].message or "drifted by 3." in problems[0].message
    assert "+2.5 K off the study's 21 °C" in problems[1].message
    assert all(problem.key.startswith("run w1-stock-front") for problem in problems)


def test_a_log_that_cannot_be_used_costs_the_rise_and_not_the_run(tmp_path: Path) -> None:
    path = study_with_log(tmp_path / "s", "nothing\n")
    report = check_study(path)
    assert any("air.csv" in problem.file for problem in report.problems)
    with ThreadPoolExecutor(1) as pool:
        result = run_study(path, tmp_path / "out", pool, pictures=False)
    assert len(result.problems) == 1
    front = [row.reading for row in result.rows if row.label.run == "w1-stock-front"]
    assert all(reading.max_degc > 0.0 and "ambient-missing" in reading.flags for reading in front)
