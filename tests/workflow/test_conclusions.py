"""Soaks and cross-checks that a run of a study writes: those of the commands of their own, none in another's way."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from irspot.errors import OutputRefused
from irspot.workflow.crosscheck_study import crosscheck_study, write_crosscheck
from irspot.workflow.run import StudyResult, run_study
from irspot.workflow.soak_study import soak_study, write_soak

from .logged_study import write_logged

OVER_TIME = 'sample_s = 4.0\nsteady_rule = "2 K/h"\n'


def run(study: Path, out: Path) -> StudyResult:
    with ThreadPoolExecutor(2) as pool:
        return run_study(study, out, pool, pictures=False)


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_logged(tmp_path_factory.mktemp("concluded"), offset_s=12.0, extra=OVER_TIME)


@pytest.fixture(scope="module")
def result(study: Path) -> StudyResult:
    return run(study, study.parent / "out")


def test_tables_are_those_of_the_commands_of_their_own(study: Path, result: StudyResult) -> None:
    assert result.problems == ()
    with ThreadPoolExecutor(1) as pool:
        write_soak(soak_study(study, pool), study.parent / "soak")
        write_crosscheck(crosscheck_study(study, pool), study.parent / "beads")
    for apart in ("soak/soak.csv", "beads/crosscheck.csv", "beads/timeline/w1-stock-front.csv"):
        name = apart.split("/", 1)[1]
        assert (study.parent / apart).read_bytes() == (result.folder / name).read_bytes(), name
        assert name in result.outputs


def test_the_list_of_results_names_them_with_rules_and_places(result: StudyResult) -> None:
    document = json.loads((result.folder / "results.json").read_text())
    listed = {"soak.csv", "crosscheck.csv", "timeline/w1-stock-front.csv", "series/w1-stock-front.csv"}
    assert listed <= set(document["outputs"])
    assert [rule["name"] for rule in document["steady_rules"]] == ["2 K/h"]
    assert document["bead_places"][0]["board"] == "w1"


def test_a_rerun_gives_the_same_bytes(study: Path, result: StudyResult) -> None:
    again = run(study, study.parent / "again")
    assert (again.folder / "results.json").read_bytes() == (result.folder / "results.json").read_bytes()


def test_a_run_without_logs_or_time_has_no_such_tables(tmp_path: Path) -> None:
    path = write_logged(tmp_path)
    lines = path.read_text().splitlines(keepends=True)
    path.write_text("".join(line for line in lines if "log" not in line and "limit_k" not in line))
    assert {name for name in run(path, tmp_path / "out").outputs if name.endswith(".csv")} == {"results.csv"}


def test_a_log_that_cannot_be_read_costs_only_its_own_tables(tmp_path: Path) -> None:
    path = write_logged(tmp_path, extra=OVER_TIME)
    (tmp_path / "logs" / "tc.csv").write_text("no table at all\n")
    result = run(path, tmp_path / "out")
    assert len(result.problems) == 1, "both read the log; it is told once"
    assert "tc.csv" in str(result.problems[0])
    assert result.rows
    assert "crosscheck.csv" not in result.outputs
    assert "series/w1-stock-front.csv" in result.outputs


def test_tables_of_one_conclusion_never_replace_a_whole_run(study: Path, result: StudyResult) -> None:
    before = sorted(path.name for path in result.folder.rglob("*"))
    with ThreadPoolExecutor(1) as pool:
        for write in (
            lambda: write_soak(soak_study(study, pool), result.folder),
            lambda: write_crosscheck(crosscheck_study(study, pool), result.folder),
        ):
            with pytest.raises(OutputRefused, match="would be lost"):
                write()
    assert sorted(path.name for path in result.folder.rglob("*")) == before
