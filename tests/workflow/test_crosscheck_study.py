"""Thermocouples against frames, from files to tables: agreement, clocks, beads that come off, faults of logs."""

from __future__ import annotations

import csv
import io
import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from irspot.workflow.crosscheck_study import StudyCrosscheck, crosscheck_study, write_crosscheck
from irspot.workflow.soak_study import soak_study

from .logged_study import chip_degc, write_logged


def checked(study: Path) -> StudyCrosscheck:
    with ThreadPoolExecutor(1) as pool:
        return crosscheck_study(study, pool)


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> StudyCrosscheck:
    return checked(write_logged(tmp_path_factory.mktemp("plain")))


def row_of(check: StudyCrosscheck, site: str):
    (row,) = [row for row in check.rows if row.reading.site == site]
    return row.reading


@pytest.mark.parametrize("offset_s", [0.0, 37.0, -25.0])
def test_a_bead_on_the_imaged_side_agrees_whatever_its_clock(tmp_path: Path, offset_s: float) -> None:
    check = checked(write_logged(tmp_path, offset_s=offset_s))
    assert check.problems == ()
    bead = row_of(check, "tc1")
    assert bead.clock_offset_s == pytest.approx(offset_s, abs=2.0)
    assert bead.u_clock_s < 2.0
    assert bead.agrees == "yes"
    assert abs(bead.en) < 0.7
    assert bead.bead_degc == pytest.approx(float(chip_degc(np.array([bead.time_s]))[0]), abs=0.8)
    assert bead.image_degc == pytest.approx(bead.bead_degc, abs=1.0)
    assert bead.hot_zone == "chip"
    assert bead.likely_cause == ""


def test_a_bead_behind_the_board_is_shown_and_not_judged(plain: StudyCrosscheck) -> None:
    rear = row_of(plain, "tc2")
    assert rear.agrees == ""
    assert np.isnan(rear.en)
    assert rear.difference_k == pytest.approx(55.0 - 80.0, abs=2.0)
    assert "behind-board" in rear.flags
    assert rear.hot_zone == "ps"


def test_a_bead_that_reads_otherwise_disagrees_with_a_cause(tmp_path: Path) -> None:
    bead = row_of(checked(write_logged(tmp_path, bead_off_k=-9.0)), "tc1")
    assert bead.agrees == "no"
    assert bead.en < -1.0
    assert bead.likely_cause != ""


def test_a_bead_that_comes_off_is_masked_from_then_on(tmp_path: Path) -> None:
    check = checked(write_logged(tmp_path, off_from_s=120.0))
    bead = row_of(check, "tc1")
    assert bead.detached_from_s == pytest.approx(120.0, abs=4.0)
    assert np.isnan(bead.bead_degc)
    assert bead.agrees == ""
    assert bead.likely_cause.startswith("detached")
    (series,) = [each for each in check.checked[0].timeline if each.name == "tc1"]
    assert np.isnan(series.value[series.time_s > 125.0]).all()
    assert np.isfinite(series.value[series.time_s < 115.0]).all()


def test_tables_and_timeline(tmp_path: Path, plain: StudyCrosscheck) -> None:
    write_crosscheck(plain, tmp_path / "out")
    rows = list(csv.DictReader(io.StringIO((tmp_path / "out" / "crosscheck.csv").read_text(encoding="utf-8"))))
    assert [row["site"] for row in rows] == ["tc1", "tc2"]
    assert rows[1]["agrees"] == rows[1]["en"] == ""
    text = (tmp_path / "out" / "timeline" / "w1-stock-front.csv").read_text(encoding="utf-8")
    timeline = list(csv.DictReader(io.StringIO(text)))
    assert {row["name"] for row in timeline} == {"ps", "chip", "elsewhere", "tc1", "tc2"}
    times = [float(row["time_s"]) for row in timeline]
    assert times == sorted(times)
    document = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))
    assert set(document["outputs"]) == {"crosscheck.csv", "timeline/w1-stock-front.csv"}
    assert {place["role"] for place in document["bead_places"]} == {"power-stage", "chipset"}
    (stages,) = [place for place in document["bead_places"] if place["role"] == "power-stage"]
    # The blunt peak that the scene has at 20, 48 mm.
    assert (stages["one"][0]["x_mm"], stages["one"][0]["y_mm"]) == pytest.approx((20.0, 48.0), abs=1.0)


def test_logs_that_cannot_be_used_are_named_and_the_rest_goes_on(tmp_path: Path) -> None:
    study = write_logged(tmp_path, extra='power_log = "logs/p.csv"\n')
    (tmp_path / "logs" / "p.csv").write_text("no log at all", encoding="utf-8")
    check = checked(study)
    assert [problem.file.endswith("p.csv") for problem in check.problems] == [True]
    assert len(check.rows) == 2


def test_units_are_never_guessed(tmp_path: Path) -> None:
    study = write_logged(tmp_path)
    log = tmp_path / "logs" / "tc.csv"
    log.write_text(log.read_text(encoding="utf-8").replace("# unit: degC\n", ""), encoding="utf-8")
    check = checked(study)
    assert check.rows == ()
    assert any("states no unit" in problem.message for problem in check.problems)


def test_a_study_without_logs_says_so(tmp_path: Path) -> None:
    study = write_logged(tmp_path)
    text = study.read_text(encoding="utf-8")
    study.write_text("".join(f"{line}\n" for line in text.splitlines() if "log" not in line and "cold_j" not in line))
    assert [problem.message for problem in checked(study).problems] == ["no run names a log"]


def test_channels_that_are_off_without_power_are_flagged(tmp_path: Path) -> None:
    study = write_logged(tmp_path, extra='equality_log = "logs/zero.csv"\n')
    lines = "".join(f"{at},{22.0 + 0.01 * (at % 3)},{33.0 + 0.01 * (at % 2)}\n" for at in range(60))
    (tmp_path / "logs" / "zero.csv").write_text("# unit: degC\ntime_s,tc1,tc2\n" + lines, encoding="utf-8")
    check = checked(study)
    assert any("without power" in problem.message for problem in check.warnings)
    assert "channel-off" in row_of(check, "tc2").flags


def test_soaks_take_logged_beads_as_far_as_they_are_believed(tmp_path: Path) -> None:
    study = write_logged(tmp_path, off_from_s=120.0)
    with ThreadPoolExecutor(1) as pool:
        soak = soak_study(study, pool)
    found = {row.reading.zone: row.reading for row in soak.rows}
    assert {"ps", "chip", "elsewhere", "tc1", "tc2"} <= set(found)
    # What came off counts until then; the last value of a zone that still bends is its own, not a line's.
    assert found["tc1"].last_degc == pytest.approx(float(chip_degc(np.array([118.0]))[0]), abs=1.0)
    assert found["tc2"].last_degc == pytest.approx(55.0, abs=0.1)
    assert "end-unknown" in found["chip"].flags, "half a minute is no time constant that is believed in"
    (image,) = [each for each in crosscheck_rows(study) if each.site == "tc1"]
    assert found["chip"].last_degc == pytest.approx(image.image_degc, abs=1.0)


def crosscheck_rows(study: Path):
    return [row.reading for row in checked(study).rows]
