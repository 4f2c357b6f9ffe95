"""Soaks of whole studies, and of a folder that frames arrive in."""

from __future__ import annotations

import csv
import io
import json
import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from irspot.cli.main import main
from irspot.columns import SOAK_COLUMNS
from irspot.conditions import Conditions
from irspot.errors import OutputRefused, UsageError
from irspot.placing import CornersPx
from irspot.series import Series
from irspot.workflow.soak_study import Logged, soak_document, soak_study, write_soak
from irspot.workflow.watch_soak import Watcher, WatchJob, watch
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
frame_interval_s = 30.0
sample_s = 30.0
"""
STEP_S, TAU_S = 30.0, 300.0
HOTTER_K = 1.0
"""Of the hottest pixel of a patch."""


def frame_at(time_s: float, rng: np.random.Generator) -> np.ndarray:
    ps, chip = 25.0 + 45.0 * (1.0 - np.exp(-time_s / TAU_S)), 25.0 + 20.0 * (1.0 - np.exp(-time_s / 150.0))
    return temperatures(ps, chip) + rng.normal(0.0, 0.05, (97, 131))


@pytest.fixture(scope="module")
def study(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("soak")
    rng = np.random.default_rng(0)
    made = write_tiny(folder, STUDY + RUN + 'steady_rule = "iec-60335-2-6"\n')
    frames = np.stack([frame_at(k * STEP_S, rng) for k in range(41)])
    np.save(folder / "frames" / "long.npy", np.rint((frames + 273.15) * 100.0).astype(np.uint16))
    return made


@pytest.fixture(scope="module")
def soak(study):
    with ThreadPoolExecutor(1) as pool:
        return soak_study(study, pool)


CONTRACT = """board load side zone last_degc U_last_k end_degc U_end_k tau_s drift_k_per_h steady within_1k_s
remaining_s ambient_degc flags run"""


def test_columns_are_the_formats():
    assert [column.name for column in SOAK_COLUMNS][:16] == CONTRACT.split()
    assert len({column.name for column in SOAK_COLUMNS}) == len(SOAK_COLUMNS)


def test_zones_of_a_recording_are_judged(soak, tmp_path):
    write_soak(soak, tmp_path / "out")
    table = list(csv.DictReader(io.StringIO((tmp_path / "out" / "soak.csv").read_text(encoding="utf-8"))))
    rows = {row["zone"]: row for row in table if row["run"] == "long"}
    assert set(rows) == {"ps", "chip", "elsewhere"}
    ps = rows["ps"]
    # After 20 min, four time constants, 0.82 K of 45 K are to come; the hottest pixel is HOTTER_K above its patch.
    assert float(ps["U_end_fit_k"]) <= 0.5
    assert abs(float(ps["end_degc"]) - 70.0 - HOTTER_K) <= float(ps["U_end_fit_k"])
    assert float(ps["tau_s"]) == pytest.approx(300.0, rel=0.15)
    assert float(ps["within_1k_s"]) == pytest.approx(300.0 * np.log(45.0), abs=120.0)
    # exp(-1200 / 300) (exp(900 / 300) - 1) 45 K = 15.7 K in the last 15 min.
    assert (ps["steady"], ps["rule"]) == ("no", "iec-60335-2-6")
    assert float(ps["steady_in_s"]) > 600.0
    assert ps["ambient_degc"] == "21.500"
    assert ps["comparable"] == "yes"
    document = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    assert document["outputs"].keys() == {"soak.csv"}
    sources = {rule["name"]: rule["source"] for rule in document["rules"]}
    assert sources["iec-60335-2-6"].startswith("IEC 60335-2-6")
    assert sources["1 K in 15 min"] == "own numbers"
    again = (tmp_path / "out" / "soak.csv").read_bytes()
    write_soak(soak, tmp_path / "out")
    assert (tmp_path / "out" / "soak.csv").read_bytes() == again


def test_single_frames_are_said_to_tell_nothing(soak):
    assert any("single frame" in str(problem) for problem in soak.warnings)
    assert {row.label.run for row in soak.rows} == {"long", "w1-stock-front"}
    assert soak.problems == ()


def test_what_was_logged_marks_the_run_and_beads_are_judged(study):
    time_s = np.arange(0.0, 1201.0, 10.0)
    watts = np.where(time_s < 600.0, 200.0, 180.0)
    u = np.full(time_s.size, 0.1)
    bead = Series("tc1", "bead", "degC", time_s, 60.0 - 38.0 * np.exp(-time_s / 200.0), u, 0.5)
    air = Series("air", "ambient", "degC", time_s, np.full(time_s.size, 21.9), u)
    logged = {"long": Logged(air, Series("W", "power", "W", time_s, watts, u), None, (bead,))}
    with ThreadPoolExecutor(1) as pool:
        found = soak_study(study, pool, logged=logged)
    rows = [row.reading for row in found.rows if row.label.run == "long"]
    assert all("throttled" in reading.flags and reading.comparable == "no" for reading in rows)
    assert rows[-1].zone == "tc1"
    assert rows[-1].end_degc == pytest.approx(60.0, abs=0.5)
    assert rows[0].ambient_degc == pytest.approx(21.9)
    json.dumps(soak_document(found), allow_nan=False)


def test_outputs_go_over_nothing_of_somebody_else(soak, tmp_path):
    (tmp_path / "soak.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputRefused):
        write_soak(soak, tmp_path)
    assert (tmp_path / "soak.csv").read_text(encoding="utf-8") == "mine"


def test_a_rule_that_is_none_makes_its_run_bad(tmp_path):
    study = write_tiny(tmp_path, STUDY.replace('id = "w1-stock-front"', 'id = "w1-stock-front"\nsteady_rule = "soon"'))
    found = CliRunner().invoke(main, ["check", str(study)])
    assert "run[0].steady_rule" in found.output
    assert "iec-62368-1" in found.output


class Bench:
    """Frames that arrive in a folder, one at every look."""

    def __init__(self, folder: Path, count: int) -> None:
        self.folder, self.count, self.made = folder, count, 0
        self.rng = np.random.default_rng(2)

    def arrive(self, _seconds: float) -> None:
        if self.made == self.count:
            raise KeyboardInterrupt
        file = self.folder / f"f-{self.made}.tiff"
        write_tiff(file, frame_at(self.made * STEP_S, self.rng), stamp=None)
        os.utime(file, (1_700_000_000.0 + STEP_S * self.made,) * 2)
        self.made += 1


def job(folder: Path, **more) -> WatchJob:
    write_tiny(folder)
    (folder / "arriving").mkdir()
    corners = CornersPx(tuple(tuple(map(float, point)) for point in json.loads(CORNERS)))
    return WatchJob(
        folder / "arriving",
        folder / "boards" / "w1.toml",
        folder / "camera.toml",
        top="up",
        how=corners,
        conditions=Conditions(ambient_degc=21.5, reflected_degc=22.0),
        **more,
    )


def test_a_folder_is_watched_until_all_is_steady(tmp_path):
    found = job(tmp_path, rule="20 K/h")
    bench, shown = Bench(found.folder, 90), []
    watch(Watcher(found), shown.append, every_s=1.0, until_steady=True, sleep=bench.arrive)
    assert 30 < bench.made < 80
    assert sum(seen.frames for seen in shown) == bench.made
    assert shown[2].lines[0].endswith("end value not known yet")
    middle = shown[20].lines
    assert middle[0].startswith("not yet: ps ")
    assert "min to go" in middle[0]
    assert shown[-1].lines[0].startswith("usable now: ps ")
    assert shown[-1].lines[0].endswith("steady")
    last = {reading.zone: reading for reading in shown[-1].readings}
    assert abs(last["ps"].end_degc - 70.0 - HOTTER_K) <= max(last["ps"].U_end_fit_k, 0.2)
    assert last["ps"].last_s == pytest.approx(STEP_S * (bench.made - 1))


def test_interrupting_ends_a_watch(tmp_path):
    found = job(tmp_path)
    bench, shown = Bench(found.folder, 3), []
    watch(Watcher(found), shown.append, every_s=1.0, sleep=bench.arrive)
    assert sum(seen.frames for seen in shown) == 3


def test_half_written_files_are_tried_again_and_given_up_in_the_end(tmp_path):
    found = job(tmp_path)
    bench = Bench(found.folder, 2)
    watcher = Watcher(found)
    bench.arrive(0.0)
    whole = (found.folder / "f-0.tiff").read_bytes()
    (found.folder / "f-0.tiff").write_bytes(whole[:200])
    assert watcher.step() == watcher.step()
    (found.folder / "f-0.tiff").write_bytes(whole)
    assert watcher.step().frames == 1
    (found.folder / "notes.tiff").write_bytes(b"no frame")
    assert [len(watcher.step().problems) for _ in range(4)] == [0, 0, 1, 0]
    with pytest.raises(UsageError):
        Watcher(WatchJob(tmp_path / "nowhere", found.board_file))


def test_the_command_prints_the_table_and_json(study, tmp_path):
    done = CliRunner().invoke(main, ["soak", str(study), "-o", str(tmp_path / "out"), "--json"])
    assert done.exit_code == 0, done.output
    rows = json.loads(done.stdout)["rows"]
    assert [row["zone"] for row in rows if row["run"] == "long"] == ["ps", "chip", "elsewhere"]
    table = CliRunner().invoke(main, ["soak", str(study)])
    assert table.stdout.startswith("\t".join(CONTRACT.split()))


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "either a study or --watch"),
        (["--watch", "."], "needs --board"),
        (["--watch", ".", "--board", "b.toml", "--rule", "soon"], "no rule"),
        (["--watch", ".", "--board", "b.toml", "--every-s", "0"], "above 0"),
    ],
)
def test_misuse(arguments, says):
    done = CliRunner().invoke(main, ["soak", *arguments])
    assert done.exit_code == 2
    assert says in done.output
