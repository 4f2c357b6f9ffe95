"""Focus judged against the sharpest frame of the session."""

from __future__ import annotations

import csv
import json
import math
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import cv2
import pytest

from irspot.camera import NO_CAMERA
from irspot.study import Run
from irspot.workflow.focus import Sharpness, out_of_focus
from irspot.workflow.run import StudyResult, run_study
from tests.tiny import temperatures, write_tiff, write_tiny


def sharpness(name: str, blur_px: float, session: str = "", camera: str = "c.toml") -> Sharpness:
    return Sharpness(Run(name, "b", "l", "front", (), NO_CAMERA, Path(camera), session=session), name, blur_px)


def names(frames: list[Sharpness]) -> list[tuple[str, str]]:
    return [(blurred.frame, best.frame) for blurred, best in out_of_focus(frames)]


def test_the_sharpest_of_the_session_is_what_a_frame_is_held_against() -> None:
    frames = [sharpness("a", 0.9), sharpness("b", 0.8), sharpness("c", 1.1), sharpness("d", 2.1)]
    assert names(frames) == [("d", "b")]
    assert names(frames[:3]) == []


def test_sessions_and_cameras_are_apart() -> None:
    frames = [sharpness("a", 0.8, "one"), sharpness("b", 2.0, "two"), sharpness("c", 3.5, "two")]
    assert names(frames) == [("c", "b")]
    assert names([sharpness("a", 0.8), sharpness("b", 2.0, camera="other.toml")]) == []


def test_frames_whose_outline_does_not_show_are_left_alone() -> None:
    assert names([sharpness("a", math.nan), sharpness("b", 2.0), sharpness("c", math.nan)]) == []


@pytest.mark.parametrize("blur_px", [0.0, 2.5])
def test_a_frame_out_of_focus_is_warned_of_and_gives_bounds(tmp_path: Path, blur_px: float) -> None:
    study = write_tiny(tmp_path / "s")
    degc = temperatures(82.0, 61.0)
    blurred = cv2.GaussianBlur(degc, (0, 0), blur_px) if blur_px else degc
    write_tiff(tmp_path / "s" / "frames" / "front-2.tiff", blurred, "2026:03:01 12:05:00")
    result = evaluated(study, tmp_path / "out")
    with (tmp_path / "out" / "results.csv").open(encoding="utf-8") as file:
        flagged = {row["frame"] for row in csv.DictReader(file) if "defocused" in row["flags"].split(";")}
    assert flagged == ({"front-2.tiff"} if blur_px else set())
    assert [problem.key for problem in result.warnings] == ["run w1-stock-front, front-2.tiff"] * bool(blur_px)
    if not blur_px:
        return
    assert all(row.reading.verdict == "lower bound" for row in result.rows if row.reading.frame == "front-2.tiff")
    document = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    blurs = {frame["frame"]: frame["outline_blur_px"] for run in document["runs"] for frame in run["frames"]}
    assert blurs["front-2.tiff"] == pytest.approx(blur_px, rel=0.2)
    assert blurs["front-1.tiff"] < 0.5


def evaluated(study: Path, out: Path) -> StudyResult:
    with ThreadPoolExecutor(1) as pool:
        return run_study(study, out, pool, pictures=False)
