"""Runs whose board is moved: stills and recordings, placed by hand or by themselves."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from irspot.cli.main import main
from irspot.workflow.run import StudyResult, run_study
from tests.workflow.nudged_runs import CORNERS, scene, write_frames, write_study

HAND, AUTO = f"corners_px = {CORNERS}", 'placement = "auto"'
PEAK_MM = (31.25, 83.75)
"""By hand, and half a millimetre further on where the outline is found: it ends between pixels."""


def evaluated(study: Path, out: Path, *, pictures: bool = False) -> StudyResult:
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(1) as pool:
        return run_study(study, out, pool, size=(960, 540), pictures=pictures)


def rows(out: Path, zone: str = "ps") -> list[dict[str, str]]:
    table = csv.DictReader(io.StringIO((out / "results.csv").read_text(encoding="utf-8")))
    return [row for row in table if row["zone"] == zone]


def document(out: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((out / "results.json").read_text(encoding="utf-8"))
    return found


def placements(out: Path) -> list[dict[str, Any]]:
    return [frame["placement"] for frame in document(out)["runs"][0]["frames"]]


def hot_mm(row: dict[str, str]) -> tuple[float, float]:
    return float(row["hot_x_mm"]), float(row["hot_y_mm"])


def write_stills(folder: Path, moves: list[tuple[float, tuple[int, int]]], how: str) -> Path:
    for number, (warmth, moved) in enumerate(moves):
        write_frames(folder / "frames" / f"f-{number}.tiff", [scene(warmth, moved, number)])
    return write_study(folder, f'frames = "frames/f-*.tiff"\n{how}')


@pytest.mark.parametrize("how", [HAND, AUTO])
def test_stills_after_a_nudge_are_placed_where_the_board_went_and_flagged(tmp_path: Path, how: str) -> None:
    study = write_stills(tmp_path, [(0.4, (0, 0)), (0.6, (0, 0)), (0.8, (4, -3)), (1.0, (4, -3))], how)
    result = evaluated(study, tmp_path / "out")
    assert result.problems == ()
    found = rows(tmp_path / "out")
    assert ["nudged" in row["flags"].split(";") for row in found] == [False, False, True, True]
    assert all(row["verdict"] == "usable" for row in found)
    for row in found:
        assert hot_mm(row) == pytest.approx(PEAK_MM, abs=0.45)
    moved = [placement.get("moved_mm") for placement in placements(tmp_path / "out")]
    assert moved[0] is None
    assert moved[1] < 0.3
    assert moved[2:] == pytest.approx([5.0, 5.0], abs=0.3)
    (warning,) = result.warnings
    assert "f-2.tiff" in str(warning)
    assert "5.0" in str(warning)
    assert document(tmp_path / "out")["warnings"] == [str(warning)]


def test_a_board_that_went_back_is_no_longer_flagged(tmp_path: Path) -> None:
    study = write_stills(tmp_path, [(0.6, (0, 0)), (0.8, (6, 2)), (1.0, (0, 0))], HAND)
    evaluated(study, tmp_path / "out")
    assert ["nudged" in row["flags"] for row in rows(tmp_path / "out")] == [False, True, False]


def test_a_still_in_which_a_board_placed_by_hand_is_lost_is_refused_and_the_others_go_on(tmp_path: Path) -> None:
    study = write_stills(tmp_path, [(0.6, (0, 0)), (0.8, (0, 0)), (1.0, (0, 0))], HAND)
    write_frames(tmp_path / "frames" / "f-1.tiff", [np.full((200, 260), 25.0)])
    result = evaluated(study, tmp_path / "out", pictures=True)
    found = rows(tmp_path / "out")
    assert [row["verdict"] for row in found] == ["usable", "retake", "usable"]
    assert found[1]["max_degc"] == ""
    (problem,) = result.problems
    assert "f-1.tiff" in str(problem)
    assert "corners_px" in str(problem)
    assert "moved" in str(problem)
    drawn = {path.name for path in (tmp_path / "out" / "pictures").iterdir()}
    assert drawn == {"r--f-0.png", "r--f-2.png", "r-placement.png"}


def test_points_given_for_a_frame_that_shows_nothing_are_taken_and_flagged(tmp_path: Path) -> None:
    study = write_stills(tmp_path, [(0.0, (0, 0)), (0.8, (0, 0)), (1.0, (5, 0))], HAND)
    evaluated(study, tmp_path / "out")
    flags = [set(row["flags"].split(";")) for row in rows(tmp_path / "out")]
    assert "not-followed" not in flags[0]
    assert "not-followed" in flags[1]
    assert {"not-followed", "nudged"} <= flags[2]
    assert hot_mm(rows(tmp_path / "out")[2]) == pytest.approx(PEAK_MM, abs=0.45)


def flags_of(row: dict[str, str]) -> set[str]:
    """What following has to say; the scene's hot spot is small enough to be corrected for blur."""
    return set(row["flags"].split(";")) - {"", "spot-size-corrected"}


def write_recording(folder: Path, moves: list[tuple[int, int]], how: str, readout: str, first: float = 0.4) -> Path:
    warmths = first + (1.0 - first) * np.arange(len(moves)) / len(moves)
    frames = [scene(w, moved, number) for number, (w, moved) in enumerate(zip(warmths, moves, strict=True))]
    write_frames(folder / "frames" / "rec.tiff", frames)
    return write_study(folder, f'frames = "frames/rec.tiff"\nreadout = "{readout}"\n{how}')


@pytest.mark.parametrize("how", [HAND, AUTO])
def test_a_nudge_before_the_readout(tmp_path: Path, how: str) -> None:
    study = write_recording(tmp_path, [(0, 0)] * 6 + [(0, 4)] * 10, how, "last 5 frames")
    result = evaluated(study, tmp_path / "out")
    (row,) = rows(tmp_path / "out")
    assert result.problems == ()
    assert flags_of(row) == {"nudged"}
    assert row["averaged"] == "5"
    assert hot_mm(row) == pytest.approx(PEAK_MM, abs=0.45)
    (placement,) = placements(tmp_path / "out")
    assert placement["moved_mm"] == pytest.approx(4.0, abs=0.3)
    assert "averaged_frames" not in placement


@pytest.mark.parametrize("how", [HAND, AUTO])
def test_frames_are_not_blurred_together_over_a_nudge_in_the_readout(tmp_path: Path, how: str) -> None:
    # Moving for three frames, then still for eight.
    moves = [(0, 0)] * 10 + [(2, 0), (4, 1), (6, 2)] + [(8, 2)] * 8
    study = write_recording(tmp_path, moves, how, "last 15 frames", first=0.9)
    evaluated(study, tmp_path / "out")
    (row,) = rows(tmp_path / "out")
    assert flags_of(row) == {"nudged", "readout-short"}
    assert row["averaged"] == "8"
    (placement,) = placements(tmp_path / "out")
    assert placement["averaged_frames"] == [13, 20]
    assert [move["frame"] for move in placement["moves_in_readout"]] == [10, 11, 12, 13]
    assert placement["moved_mm"] == pytest.approx(np.hypot(8, 2), abs=0.3)
    # As hot as without the nudge.
    write_recording(tmp_path / "still", [(0, 0)] * 21, how, "last 8 frames", first=0.9)
    evaluated(tmp_path / "still" / "study.toml", tmp_path / "still" / "out")
    (unmoved,) = rows(tmp_path / "still" / "out")
    assert float(row["max_degc"]) == pytest.approx(float(unmoved["max_degc"]), abs=0.15)
    assert "nudged" not in unmoved["flags"]
    assert "readout-short" not in unmoved["flags"]


def test_the_longer_part_counts_where_the_last_is_short(tmp_path: Path) -> None:
    study = write_recording(tmp_path, [(0, 0)] * 12 + [(5, 0)] * 3, HAND, "last 12 frames", first=0.9)
    evaluated(study, tmp_path / "out")
    (row,) = rows(tmp_path / "out")
    assert row["averaged"] == "9"
    assert flags_of(row) == {"nudged", "readout-short"}
    assert placements(tmp_path / "out")[0]["moved_mm"] < 0.3


def test_a_frame_of_the_shutter_is_left_out_and_is_no_nudge(tmp_path: Path) -> None:
    frames = [scene(1.0, (0, 0), number) for number in range(9)]
    frames[4] = np.full_like(frames[4], 30.0)
    write_frames(tmp_path / "frames" / "rec.tiff", frames)
    study = write_study(tmp_path, f'frames = "frames/rec.tiff"\nreadout = "all"\n{HAND}')
    result = evaluated(study, tmp_path / "out")
    (row,) = rows(tmp_path / "out")
    assert row["averaged"] == "4"
    assert flags_of(row) == {"readout-short"}
    assert "did not show plainly" in str(result.warnings[0])


def test_a_recording_from_cold_is_followed_from_where_it_shows(tmp_path: Path) -> None:
    study = write_recording(tmp_path, [(0, 0)] * 20 + [(4, 0)] * 6, HAND, "last 4 frames", first=0.0)
    evaluated(study, tmp_path / "out")
    (row,) = rows(tmp_path / "out")
    assert flags_of(row) == {"nudged", "not-followed"}
    assert hot_mm(row) == pytest.approx(PEAK_MM, abs=0.45)


@pytest.mark.parametrize("how", [HAND, AUTO])
def test_a_still_recording_says_nothing_of_moves(tmp_path: Path, how: str) -> None:
    study = write_recording(tmp_path, [(0, 0)] * 12, how, "all")
    result = evaluated(study, tmp_path / "out")
    (row,) = rows(tmp_path / "out")
    assert flags_of(row) == set()
    assert row["averaged"] == "12"
    assert result.warnings == ()
    (placement,) = placements(tmp_path / "out")
    assert placement["moved_mm"] < 0.3
    assert "moves_in_readout" not in placement


def test_several_files_of_one_recording_are_watched_alike(tmp_path: Path) -> None:
    for number in range(8):
        moved = (0, 0) if number < 3 else (4, 0)
        write_frames(tmp_path / "frames" / f"f-{number}.tiff", [scene(1.0, moved, number)])
    study = write_study(tmp_path, f'frames = "frames/f-*.tiff"\nreadout = "all"\n{HAND}')
    evaluated(study, tmp_path / "out")
    (row,) = rows(tmp_path / "out")
    assert row["averaged"] == "5"
    assert placements(tmp_path / "out")[0]["averaged_frames"] == [3, 7]


def test_reruns_give_the_same_bytes_and_the_command_warns(tmp_path: Path) -> None:
    study = write_recording(tmp_path, [(0, 0)] * 6 + [(4, 0)] * 8, AUTO, "last 10 frames", first=0.8)
    arguments = ["run", str(study), "-o", str(tmp_path / "out"), "--size", "960x540"]
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 0, result.output
    assert "warning: run r, rec.tiff: the board" in result.stderr
    assert f"the report is {tmp_path / 'out' / 'report.html'}" in result.stderr
    first = {path.name: path.read_bytes() for path in (tmp_path / "out").rglob("*") if path.is_file()}
    assert set(first) == {"results.csv", "results.json", "report.html", "r.png", "zone_history.json"}
    evaluated(study, tmp_path / "out", pictures=True)
    assert {path.name: path.read_bytes() for path in (tmp_path / "out").rglob("*") if path.is_file()} == first
