"""Zones over time: which frames are taken, that each is what measuring it alone gives, and what is written."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from irspot.columns import SERIES_COLUMNS
from irspot.files import read_study
from irspot.workflow.run import StudyResult, run_study
from irspot.workflow.tasks import MeasureTask
from irspot.workflow.zone_series import sampled_indices, zone_series
from tests.tiny import CORNERS, STUDY, temperatures, write_tiff, write_tiny

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
readout = "last 2 frames"
"""


def heating(count: int, seed: int = 0) -> np.ndarray:
    """Counts of frames in which the power stages warm up by 0.5 K a frame, with a little noise."""
    noise = np.random.default_rng(seed)
    frames = [temperatures(60.0 + 0.5 * k, 50.0) + noise.normal(0.0, 0.05, (97, 131)) for k in range(count)]
    return np.rint((np.stack(frames) + 273.15) * 100.0).astype(np.uint16)


def study_with(folder: Path, keys: str, frames: np.ndarray) -> Path:
    study = write_tiny(folder, STUDY + RUN + keys)
    np.save(folder / "frames" / "long.npy", frames)
    return study


def run(study: Path, out: Path) -> StudyResult:
    with ThreadPoolExecutor(1) as pool:
        return run_study(study, out, pool, pictures=False)


def table(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))


def task_of(study: Path, run_id: str) -> MeasureTask:
    read = read_study(study)
    (found,) = [each for each in read.runs if each.id == run_id]
    return MeasureTask(found, read.board(found.board).board, read.utc_offset)


@pytest.mark.parametrize(
    ("count", "interval_s", "sample_s", "wanted"),
    [
        (10, 1.0, 2.5, [0, 2, 5, 7]),
        (10, 0.4, 1.0, [0, 2, 5, 7]),
        (4, 10.0, 1.0, [0, 1, 2, 3]),
        (1, 1.0, 5.0, [0]),
        (21, 0.1, 1.0, [0, 10, 20]),
        (20, 0.1, 1.0, [0, 10]),
    ],
)
def test_frames_nearest_to_each_multiple_are_taken(
    count: int, interval_s: float, sample_s: float, wanted: list[int]
) -> None:
    assert sampled_indices(np.arange(count) * interval_s, sample_s).tolist() == wanted


def test_a_gap_is_not_filled() -> None:
    assert sampled_indices(np.array([0.0, 1.0, 2.0, 50.0, 51.0]), 1.0).tolist() == [0, 1, 2, 3, 4]


def test_every_sample_is_what_measuring_its_frame_alone_gives(tmp_path: Path) -> None:
    frames = heating(9)
    study = study_with(tmp_path / "s", "frame_interval_s = 0.5\nsample_s = 2.0\n", frames)
    result = run(study, tmp_path / "out")
    assert result.problems == ()
    rows = table(tmp_path / "out" / "series" / "long.csv")
    assert list(rows[0]) == [column.name for column in SERIES_COLUMNS]
    assert [(r["time_s"], r["frame"], r["zone"]) for r in rows] == [
        (f"{t:.3f}", f"long.npy#{k}", zone)
        for t, k in ((0.0, 0), (2.0, 4), (4.0, 8))
        for zone in ("ps", "chip", "elsewhere")
    ]
    # The same frames as stills of their own.
    alone = write_tiny(tmp_path / "alone", STUDY.replace("front-*", "one-*"))
    for k in (0, 4, 8):
        np.save(tmp_path / "alone" / "frames" / f"one-{k}.npy", frames[k])
    alone.write_text(alone.read_text().replace("one-*.tiff", "one-*.npy"))
    run(alone, tmp_path / "stills")
    stills = [r for r in table(tmp_path / "stills" / "results.csv") if r["run"] == "w1-stock-front"]
    for name in ("max_degc", "U_max_k", "mean_degc", "p95_degc", "pixels"):
        assert [float(r[name]) for r in rows] == pytest.approx([float(r[name]) for r in stills], abs=0.02), name
    # The readout stays what it is, and its rows stand alone in results.csv.
    readout = [r for r in table(tmp_path / "out" / "results.csv") if r["run"] == "long"]
    assert len(readout) == 3
    assert readout[0]["averaged"] == "2"


def test_outputs_list_the_series_and_reruns_repeat_its_bytes(tmp_path: Path) -> None:
    study = study_with(tmp_path / "s", "frame_interval_s = 0.5\nsample_s = 2.0\n", heating(9))
    run(study, tmp_path / "out")
    written = (tmp_path / "out" / "series" / "long.csv").read_bytes()
    document = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    assert document["outputs"]["series/long.csv"] == hashlib.sha256(written).hexdigest()
    assert document["columns"][0]["name"] == "time_s"
    assert [entry.get("sample_s") for entry in document["runs"]] == [None, None, 2.0]
    run(study, tmp_path / "out")
    assert (tmp_path / "out" / "series" / "long.csv").read_bytes() == written
    # Asked for no longer, it goes.
    study.write_text(study.read_text().replace("sample_s = 2.0", ""))
    run(study, tmp_path / "out")
    assert not (tmp_path / "out" / "series" / "long.csv").exists()


def test_series_hold_values_and_what_is_shared_apart(tmp_path: Path) -> None:
    study = study_with(tmp_path / "s", "frame_interval_s = 0.5\nsample_s = 1.0\n", heating(9))
    ps, chip, elsewhere = zone_series(task_of(study, "long"))
    assert (ps.name, ps.kind, ps.unit, chip.name, elsewhere.name) == ("ps", "zone", "degC", "chip", "elsewhere")
    assert ps.time_s.tolist() == [0.0, 1.0, 2.0, 3.0, 4.0]
    assert np.allclose(np.diff(ps.value), 1.0, atol=0.25)
    # A black body: noise and what it adds to the hottest pixel; the camera's limit, 1 K, is the same in all.
    assert np.all((ps.u >= 0.05) & (ps.u < 0.1))
    assert ps.u_shared == pytest.approx(1.0 / np.sqrt(3.0), rel=0.05)


def test_without_sample_s_a_recording_is_sampled_every_ten_seconds(tmp_path: Path) -> None:
    study = study_with(tmp_path / "s", "frame_interval_s = 5.0\n", heating(5))
    assert zone_series(task_of(study, "long"))[0].time_s.tolist() == [0.0, 10.0, 20.0]


def test_stills_with_times_are_their_own_samples(tmp_path: Path) -> None:
    study = write_tiny(
        tmp_path / "s",
        STUDY.replace('frames = "frames/front-*.tiff"', 'frames = "frames/front-*.tiff"\nsample_s = 60.0'),
    )
    result = run(study, tmp_path / "out")
    assert result.problems == ()
    rows = table(tmp_path / "out" / "series" / "w1-stock-front.csv")
    assert [r["time_s"] for r in rows[::3]] == ["0.000", "300.000"]
    stills = [r for r in table(tmp_path / "out" / "results.csv") if r["run"] == "w1-stock-front"]
    assert [{k: v for k, v in r.items() if k != "time_s"} for r in rows] == stills
    series = zone_series(task_of(study, "w1-stock-front"))
    assert series[0].value == pytest.approx([float(r["max_degc"]) for r in stills[::3]], abs=6e-4)
    assert series[0].time_s.tolist() == [0.0, 300.0]


def test_equal_stamps_are_flagged_in_every_row(tmp_path: Path) -> None:
    study = write_tiny(
        tmp_path / "s",
        STUDY.replace('frames = "frames/front-*.tiff"', 'frames = "frames/front-*.tiff"\nsample_s = 60.0'),
    )
    write_tiff(tmp_path / "s" / "frames" / "front-3.tiff", temperatures(84.0), "2026:03:01 12:05:00")
    assert run(study, tmp_path / "out").problems == ()
    rows = table(tmp_path / "out" / "series" / "w1-stock-front.csv")
    assert [r["time_s"] for r in rows[::3]] == ["0.000", "299.500", "300.000"]
    assert all("times-spread" in r["flags"].split(";") for r in rows)


def test_without_times_the_readout_is_reported_and_the_series_is_a_problem(tmp_path: Path) -> None:
    study = study_with(tmp_path / "s", "sample_s = 2.0\n", heating(5))
    result = run(study, tmp_path / "out")
    (problem,) = result.problems
    assert "frame_interval_s" in problem.hint
    assert len([row for row in result.rows if row.label.run == "long"]) == 3
    assert not (tmp_path / "out" / "series").exists()


def test_a_board_that_is_lost_leaves_empty_rows_and_one_warning(tmp_path: Path) -> None:
    frames = heating(9)
    frames[4] = 29_500  # a shutter in front of the lens
    study = study_with(tmp_path / "s", "frame_interval_s = 0.5\nsample_s = 2.0\n", frames)
    result = run(study, tmp_path / "out")
    rows = table(tmp_path / "out" / "series" / "long.csv")
    assert result.problems == ()
    (warning,) = result.warnings
    assert "1 of 3 frames" in str(warning)
    assert [(r["max_degc"] == "", r["verdict"]) for r in rows[3:6]] == [(True, "retake")] * 3
    assert np.isnan(zone_series(task_of(study, "long"))[0].value).tolist() == [False, True, False]
