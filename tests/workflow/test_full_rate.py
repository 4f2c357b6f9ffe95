"""Every frame of a recording: equal to measuring each alone, whatever the container; interrupted and gone on with."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile

import irspot.workflow.full_rate as full_rate
from irspot.columns import FULL_RATE_COLUMNS
from irspot.errors import FrameUnreadable
from irspot.files import read_study
from irspot.measurement.full_rate import ZoneReader
from irspot.workflow.full_rate_run import full_rate_series
from irspot.workflow.run import StudyResult, run_study
from irspot.workflow.tasks import MeasureTask, RunResult
from tests.tiny import CAMERA, CORNERS, STUDY, temperatures, write_tiny
from tests.workflow import nudged_runs

RUN = f"""
[[run]]
id = "long"
board = "w1"
load = "stock"
side = "front"
frames = "frames/long*"
corners_px = {CORNERS}
top = "up"
ambient_degc = 21.5
readout = "last 4 frames"
frame_interval_s = 0.25
sample_s = 0.0
"""
COUNT = 300


def heating(count: int = COUNT) -> np.ndarray:
    """Counts of frames in which the power stages warm up, with noise, and the chip does not."""
    noise = np.random.default_rng(0).normal(0.0, 0.05, (97, 131 + count))
    base, warm = temperatures(50.0, 45.0), temperatures(51.0, 45.0)
    frames = [base + 0.1 * k * (warm - base) + noise[:, k : k + 131] for k in range(count)]
    return np.rint((np.stack(frames) + 273.15) * 100.0).astype(np.uint16)


def write_frames(folder: Path, how: str, frames: np.ndarray) -> None:
    path = folder / "frames"
    if how == "npy":
        np.save(path / "long.npy", frames)
    elif how == "npz":
        np.savez_compressed(path / "long.npz", frames=frames)
    elif how == "float npy":
        np.save(path / "long.npy", frames.astype(np.float32))
    elif how == "raw":
        (path / "long.raw").write_bytes(b"head" + frames.astype(">u2").tobytes())
        layout = '\n[raw]\nwidth = 131\nheight = 97\ndtype = "uint16"\nbyte_order = "big"\nskip_bytes = 4\n'
        (folder / "raw.toml").write_text(CAMERA + layout, encoding="utf-8")
        study = (folder / "study.toml").read_text(encoding="utf-8")
        (folder / "study.toml").write_text(study.replace('id = "long"', 'id = "long"\ncamera = "raw.toml"'))
    elif how == "numbered":
        for number, frame in enumerate(frames):
            tifffile.imwrite(path / f"long-{number}.tiff", frame, photometric="minisblack")
    else:
        options: dict[str, Any] = {
            "tiff": {},
            "tiff pages": {"contiguous": False, "metadata": None, "rowsperstrip": 10},
            "tiff packed": {"compression": "zlib"},
        }[how]
        with tifffile.TiffWriter(path / "long.tiff") as writer:
            for frame in frames:
                writer.write(frame, photometric="minisblack", **options)


def study_of(folder: Path, how: str = "npy", frames: np.ndarray | None = None, run: str = RUN) -> Path:
    study = write_tiny(folder, STUDY + run)
    write_frames(folder, how, heating() if frames is None else frames)
    return study


def run(study: Path, out: Path) -> StudyResult:
    with ThreadPoolExecutor(1) as pool:
        return run_study(study, out, pool, pictures=False)


def table(out: Path, name: str = "long") -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO((out / "series" / f"{name}.csv").read_text(encoding="utf-8"))))


def task_of(study: Path, part: Path, processes: int = 1) -> MeasureTask:
    read = read_study(study)
    (found,) = [each for each in read.runs if each.id == "long"]
    return MeasureTask(found, read.board(found.board).board, read.utc_offset, part=part, processes=processes)


def written(study: Path, part: Path, processes: int = 1) -> bytes:
    series, warnings = full_rate_series(task_of(study, part, processes))
    assert warnings == ()
    assert series is not None
    assert series.full_rate is not None
    stream = io.BytesIO()
    series.full_rate.write(stream)
    return stream.getvalue()


def test_every_frame_is_what_measuring_it_fully_gives(tmp_path: Path) -> None:
    study = study_of(tmp_path / "s", frames=heating(12))
    result = run(study, tmp_path / "out")
    assert result.problems == ()
    rows = table(tmp_path / "out")
    assert list(rows[0]) == [column.name for column in FULL_RATE_COLUMNS]
    study.write_text(study.read_text().replace("sample_s = 0.0", "sample_s = 0.25"))
    run(study, tmp_path / "full")
    full = table(tmp_path / "full")
    assert [(r["time_s"], r["zone"]) for r in rows] == [(r["time_s"], r["zone"]) for r in full]
    assert [r["max_degc"] for r in rows] == [r["pixel_max_degc"] for r in full]
    assert [float(r["mean_degc"]) for r in rows] == pytest.approx([float(r["mean_degc"]) for r in full], abs=1.1e-3)
    for name in ("hot_x_px", "hot_y_px"):
        assert all(abs(float(r[name]) - float(f[name])) <= 0.5 for r, f in zip(rows, full, strict=True))
    corrections = {"not-corrected", "noise-bias-corrected", "spot-size-not-corrected", "small-hot-spot"}
    shown = [
        (set(r["flags"].split(";")) - corrections, set(f["flags"].split(";")) - corrections)
        for r, f in zip(rows, full, strict=True)
    ]
    assert all(ours - {"peak-continues-outside"} == theirs - {"peak-continues-outside"} for ours, theirs in shown)
    # No narrower than the full way's, and wider than its widest only by what noise may add to the hottest pixel.
    widest = {zone: max(float(r["U_max_k"]) for r in full if r["zone"] == zone) for zone in ("ps", "chip", "elsewhere")}
    for row, reading in zip(rows, full, strict=True):
        assert 0.99 * float(reading["U_max_k"]) <= float(row["U_max_k"]) <= widest[row["zone"]] + 0.2


@pytest.mark.parametrize("how", ["tiff", "tiff pages", "tiff packed", "npz", "raw", "numbered", "float npy"])
def test_every_container_gives_the_same_table(tmp_path: Path, how: str) -> None:
    frames = heating(140)[::2]
    assert run(study_of(tmp_path / "a", "npy", frames), tmp_path / "npy").problems == ()
    assert run(study_of(tmp_path / "b", how, frames), tmp_path / "other").problems == ()
    expected, found = ((tmp_path / out / "series" / "long.csv").read_bytes() for out in ("npy", "other"))
    if how != "float npy":
        assert found == expected
        return
    for ours, theirs in zip(table(tmp_path / "other"), table(tmp_path / "npy"), strict=True):
        assert float(ours["max_degc"]) == pytest.approx(float(theirs["max_degc"]), abs=2e-3)
        assert float(ours["mean_degc"]) == pytest.approx(float(theirs["mean_degc"]), abs=2e-3)


class Interrupted(Exception):
    """Stands for a process that was killed."""


@pytest.mark.parametrize("after", [0, 1, 127, 128, 200, 299])
def test_an_interrupted_run_goes_on_and_leaves_the_same_bytes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, after: int
) -> None:
    study = study_of(tmp_path / "s")
    expected = written(study, tmp_path / "whole.part")
    figures, count = ZoneReader.figures, [0]

    def failing(self: ZoneReader, frame: np.ndarray) -> np.ndarray:
        count[0] += 1
        if count[0] > after:
            raise Interrupted
        return figures(self, frame)

    part = tmp_path / "cut.part"
    # One after another, so that it is known what was done.
    monkeypatch.setattr(full_rate, "THREADS", 1)
    monkeypatch.setattr(ZoneReader, "figures", failing)
    with pytest.raises(Interrupted):
        written(study, part)
    monkeypatch.undo()
    monkeypatch.setattr(ZoneReader, "figures", figures)
    seen: list[int] = []
    full_rate_series(task_of(study, part), lambda done, total: seen.append(done))
    assert seen[0] == after // full_rate.BLOCK * full_rate.BLOCK
    assert seen[-1] == COUNT
    assert part.read_bytes() == (tmp_path / "whole.part").read_bytes()
    assert written(study, part) == expected


@pytest.mark.parametrize("cut", [1, 5, 1000, "flip", "head"])
def test_what_is_half_written_or_damaged_is_done_again(tmp_path: Path, cut: int | str) -> None:
    study, part = study_of(tmp_path / "s"), tmp_path / "long.part"
    expected = written(study, part)
    whole = bytearray(part.read_bytes())
    if isinstance(cut, int):
        part.write_bytes(whole[:-cut])
    elif cut == "flip":
        whole[-3000] ^= 0xFF
        part.write_bytes(whole)
    else:
        part.write_bytes(whole[: whole.index(b"\n") + 7])
    assert written(study, part) == expected


def test_another_file_or_study_begins_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study, part = study_of(tmp_path / "s"), tmp_path / "long.part"
    written(study, part)
    begun: list[int] = []

    def counting(done: int, total: int) -> None:
        begun.append(done)

    full_rate_series(task_of(study, part), counting)
    assert begun == [COUNT]
    board = tmp_path / "s" / "boards" / "w1.toml"
    board.write_text(board.read_text(encoding="utf-8").replace("emissivity = 1.0", "emissivity = 0.9", 1), "utf-8")
    begun.clear()
    full_rate_series(task_of(study, part), counting)
    assert begun[0] == 0
    write_frames(tmp_path / "s", "npy", heating()[::-1])
    begun.clear()
    full_rate_series(task_of(study, part), counting)
    assert begun[0] == 0
    monkeypatch.setattr(full_rate, "METHOD", full_rate.METHOD + 1)
    begun.clear()
    full_rate_series(task_of(study, part), counting)
    assert begun[0] == 0


def test_a_stranger_in_its_place_is_left_alone(tmp_path: Path) -> None:
    study = study_of(tmp_path / "s", frames=heating(6))
    part = tmp_path / "out" / "series" / "long.csv.part"
    part.parent.mkdir(parents=True)
    part.write_bytes(b"my notes\n")
    (problem,) = run(study, tmp_path / "out").problems
    assert "was not left by irspot" in str(problem)
    assert part.read_bytes() == b"my notes\n"


def test_threads_and_processes_give_the_same_bytes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study = study_of(tmp_path / "s")
    expected = written(study, tmp_path / "2.part", processes=2)
    for threads in (1, 2, 3):
        monkeypatch.setattr(full_rate, "THREADS", threads)
        assert written(study, tmp_path / f"threads-{threads}.part") == expected


def test_a_fault_in_one_thread_ends_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study = study_of(tmp_path / "s")
    figures = ZoneReader.figures

    def failing(self: ZoneReader, frame: np.ndarray) -> np.ndarray:
        if frame[0, 0] == failing_at:
            raise Interrupted
        return figures(self, frame)

    frames = heating()
    failing_at = frames[200, 0, 0]
    monkeypatch.setattr(ZoneReader, "figures", failing)
    with pytest.raises(Interrupted):
        written(study, tmp_path / "p")
    monkeypatch.undo()
    assert written(study, tmp_path / "p") == written(study, tmp_path / "q")


def test_a_study_lists_the_table_and_leaves_no_part(tmp_path: Path) -> None:
    study = study_of(tmp_path / "s")
    run(study, tmp_path / "out")
    document = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    assert "series/long.csv" in document["outputs"]
    assert [path.name for path in (tmp_path / "out" / "series").iterdir()] == ["long.csv"]
    before = (tmp_path / "out" / "results.json").read_bytes()
    run(study, tmp_path / "out")
    assert (tmp_path / "out" / "results.json").read_bytes() == before


def test_an_interrupted_study_goes_on_where_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study, out = study_of(tmp_path / "s"), tmp_path / "out"
    run(study, tmp_path / "whole")
    with monkeypatch.context() as patch:
        blocks = full_rate._blocks

        def failing(*arguments: Any) -> Iterator[bytes]:
            yield next(blocks(*arguments))
            raise KeyboardInterrupt

        patch.setattr(full_rate, "_blocks", failing)
        with pytest.raises(KeyboardInterrupt):
            run(study, out)
    part = out / "series" / "long.csv.part"
    assert part.stat().st_size > full_rate.BLOCK
    assert not (out / "results.json").exists()
    run(study, out)
    assert not part.exists()
    assert {p.name: p.read_bytes() for p in out.rglob("*") if p.is_file()} == {
        p.name: p.read_bytes() for p in (tmp_path / "whole").rglob("*") if p.is_file()
    }


def test_what_a_distant_worker_kept_to_itself_is_a_problem(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import irspot.workflow.run as whole

    study, measure = study_of(tmp_path / "s", frames=heating(6)), whole.measure_run

    def elsewhere(task: MeasureTask) -> RunResult:
        result = measure(task)
        if task.part is not None:
            task.part.unlink(missing_ok=True)
        return result

    monkeypatch.setattr(whole, "measure_run", elsewhere)
    result = run(study, tmp_path / "out")
    assert "folder that all workers share" in str(result.problems[0])
    assert (tmp_path / "out" / "results.json").exists()
    assert not (tmp_path / "out" / "series" / "long.csv").exists()


def test_series_of_every_frame_are_thinned_to_ten_seconds(tmp_path: Path) -> None:
    series, _ = full_rate_series(task_of(study_of(tmp_path / "s"), tmp_path / "p"))
    assert series is not None
    ps, chip, elsewhere = series.zones
    assert (ps.name, chip.name, elsewhere.name) == ("ps", "chip", "elsewhere")
    assert ps.time_s.tolist() == [10.0 * k for k in range(8)]
    assert np.all(np.diff(ps.value) > 3.0)
    assert np.all((chip.u > 0.05) & (chip.u < 0.2))
    assert ps.u_shared == pytest.approx(1.0 / np.sqrt(3.0), rel=0.1)


def test_clipped_and_shuttered_frames_say_so(tmp_path: Path) -> None:
    frames = heating(50)
    frames[7, 40, 35] = 65_535
    frames[9, 40, 35] = 52_400  # 250.85 °C, beyond the camera's range
    result = run(study_of(tmp_path / "s", frames=frames), tmp_path / "out")
    assert result.problems == ()
    flags = [row["flags"].split(";") for row in table(tmp_path / "out") if row["zone"] == "ps"]
    assert ["clipped" in each for each in flags] == [k in (7, 9) for k in range(50)]
    assert ["outside-range" in each for each in flags] == [k in (7, 9) for k in range(50)]


def test_a_frame_cut_off_is_a_problem_of_its_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study = study_of(tmp_path / "s", frames=heating(20))

    def broken(*_: object) -> Iterator[object]:
        raise FrameUnreadable("the file ends within a frame", file="long.npy", key="frame 3")
        yield

    monkeypatch.setattr(full_rate, "bare_frames", broken)
    result = run(study, tmp_path / "out")
    assert "frame 3" in str(result.problems[0])
    assert len({row.label.run for row in result.rows}) == 3
    assert not (tmp_path / "out" / "series" / "long.csv").exists()


NUDGED = f"""\
schema = 1
title = "t"
camera = "camera.toml"
[[board]]
id = "p2"
file = "board.toml"
[[load]]
id = "stock"
[[run]]
id = "long"
board = "p2"
load = "stock"
frames = "frames/long.npy"
corners_px = {nudged_runs.CORNERS}
top = "up"
ambient_degc = 22.0
reflected_degc = 22.0
readout = "last 2 frames"
frame_interval_s = 1.0
sample_s = 0.0
"""


def test_zones_follow_a_board_that_is_moved(tmp_path: Path) -> None:
    moved = [(0, 0)] * 24 + [(6, -4)] * 16
    degc = np.stack([nudged_runs.scene(0.8 + 0.005 * k, at, k) for k, at in enumerate(moved)])
    (tmp_path / "frames").mkdir()
    np.save(tmp_path / "frames" / "long.npy", np.rint((degc + 273.15) * 100.0).astype(np.uint16))
    for name, text in (("study", NUDGED), ("camera", nudged_runs.CAMERA), ("board", nudged_runs.BOARD)):
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    result = run(tmp_path / "study.toml", tmp_path / "out")
    assert result.problems == ()
    rows = [row for row in table(tmp_path / "out") if row["zone"] == "ps"]
    x_px = np.array([float(row["hot_x_px"]) for row in rows])
    peak = np.array([nudged_runs.LEFT + 31 + dx for dx, _ in moved])
    # From the look at 30 s on, zones are where the board is; the ten seconds before it are flagged as well.
    assert np.abs(x_px - peak).max() <= 2.0
    assert ["nudged" in row["flags"].split(";") for row in rows] == [k >= 20 for k in range(40)]
    (tmp_path / "study.toml").write_text(NUDGED.replace("sample_s = 0.0", "sample_s = 1.0"), encoding="utf-8")
    run(tmp_path / "study.toml", tmp_path / "full")
    full = [row for row in table(tmp_path / "full") if row["zone"] == "ps"]
    off = np.array([float(a["mean_degc"]) - float(b["mean_degc"]) for a, b in zip(rows, full, strict=True)])
    # Where the look at 30 s has not yet shown the move, the zone lies six pixels off; before and after it does not.
    assert np.abs(off[:24]).max() < 0.02
    assert np.abs(off[30:]).max() < 0.3
    assert np.abs(off[24:30]).min() > 1.0
