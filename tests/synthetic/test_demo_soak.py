"""The demo's recorded warm-up: what irspot concludes from frames and logs is what was true."""

from __future__ import annotations

import pickle
from pathlib import Path

import numpy as np
import pytest

from irspot.files import read_study
from irspot.study import Run
from irspot.synthetic.demo import demo_surface
from irspot.synthetic.demo_boards import demo_boards
from irspot.synthetic.demo_soak import (
    CLOCK_OFFSET_S,
    DETACHED,
    DETACHED_S,
    DURATION_S,
    LOG_S,
    DemoSoak,
    demo_soak,
    true_bead_degc,
)
from irspot.synthetic.truth import zone_truths
from irspot.workflow.crosscheck_bead import BeadReading
from irspot.workflow.crosscheck_run import crosscheck_run
from irspot.workflow.soak_study import RunSoak, SoakTask, soak_run
from irspot.workflow.tasks import MeasureTask


@pytest.fixture(scope="module")
def soak() -> DemoSoak:
    return demo_soak()


@pytest.fixture(scope="module")
def task(study_file: Path, soak: DemoSoak) -> MeasureTask:
    study = read_study(study_file)
    run: Run = next(run for run in study.runs if run.id == soak.id)
    return MeasureTask(run, study.board(run.board).board, study.utc_offset)


@pytest.fixture(scope="module")
def beads(task: MeasureTask) -> dict[str, BeadReading]:
    checked = crosscheck_run(task)
    assert [str(problem) for problem in checked.problems] == []
    return {row.reading.site: row.reading for row in checked.rows}


@pytest.fixture(scope="module")
def soaks(task: MeasureTask, study_file: Path) -> RunSoak:
    load = read_study(study_file).load(task.run.load)
    # As a worker process gets it.
    return soak_run(pickle.loads(pickle.dumps(SoakTask(task, load))))


def test_the_loggers_clock_is_found(beads: dict[str, BeadReading]) -> None:
    for bead in beads.values():
        assert abs(bead.clock_offset_s - CLOCK_OFFSET_S) < 2.0 * bead.u_clock_s + 1.0
        assert bead.u_clock_s < 10.0


def test_the_bead_that_came_off_is_found_and_the_other_believed(beads: dict[str, BeadReading]) -> None:
    assert beads[DETACHED].likely_cause == "detached"
    assert beads[DETACHED].detached_from_s == pytest.approx(DETACHED_S, abs=3.0 * LOG_S)
    (other,) = (bead for site, bead in beads.items() if site != DETACHED)
    assert other.agrees == "yes"
    assert np.isnan(other.detached_from_s)


def test_the_believed_bead_reads_what_was_true_beneath_it(soak: DemoSoak, beads: dict[str, BeadReading]) -> None:
    surface = demo_surface(soak.run)
    (site,) = (site for site in demo_boards()[soak.run.board].board.sites if site.id != DETACHED)
    true_degc = float(true_bead_degc(soak, site, surface, np.array([DURATION_S]))[0])
    surface_degc = float(surface.face.at(site.x_mm, site.y_mm))
    assert true_degc < surface_degc - 1.0, "its wires take heat"
    assert abs(beads[site.id].bead_degc - surface_degc) < beads[site.id].U_bead_k


def test_end_values_are_the_true_ones_before_they_are_reached(soak: DemoSoak, soaks: RunSoak) -> None:
    assert soaks.problems == ()
    truths = {truth.zone: truth.max_degc for truth in zone_truths(demo_boards()["k7"].board, demo_surface(soak.run))}
    zones = {row.reading.zone: row.reading for row in soaks.rows if row.reading.kind == "zone"}
    assert set(zones) == set(truths)
    for zone, reading in zones.items():
        assert abs(reading.end_degc - truths[zone]) < reading.U_end_k, zone
        assert truths[zone] - reading.last_degc < reading.U_last_k
        assert reading.steady == ("no" if truths[zone] > 50.0 else reading.steady)
        assert reading.ambient_degc == pytest.approx(soak.run.true_ambient_degc, abs=0.2), "of the log"
        assert "ambient-assumed-steady" not in reading.flags


def test_every_file_says_that_it_is_invented(study_file: Path, soak: DemoSoak) -> None:
    for name in (soak.log_file, soak.frames_file, "camera-coarse.toml"):
        assert b"nvented" in (study_file.parent / name).read_bytes(), name
