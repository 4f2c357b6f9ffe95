"""``irspot crosscheck`` as its user calls it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from irspot.cli.main import main
from irspot.workflow.crosscheck_bead import BeadReading, sentence
from tests.workflow.logged_study import write_logged


def invoke(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def test_tables_json_and_files(tmp_path: Path) -> None:
    study = write_logged(tmp_path / "s")
    result = invoke("crosscheck", study, "-o", tmp_path / "out")
    assert result.exit_code == 0, result.output
    head, *rows = result.stdout.splitlines()
    assert head.split("\t")[:5] == ["board", "load", "side", "site", "time_s"]
    assert [row.split("\t")[3] for row in rows] == ["tc1", "tc2"]
    assert (tmp_path / "out" / "crosscheck.csv").is_file()
    again = invoke("crosscheck", study, "--json")
    document = json.loads(again.stdout)
    assert [row["site"] for row in document["rows"]] == ["tc1", "tc2"]
    assert document["rows"][1]["en"] is None


@pytest.mark.parametrize("text", ["schema = 1", ""])
def test_wrong_studies_are_refused_in_a_line(tmp_path: Path, text: str) -> None:
    (tmp_path / "s.toml").write_text(text)
    result = invoke("crosscheck", tmp_path / "s.toml")
    assert result.exit_code == 1
    assert "Traceback" not in result.output


def test_sentences_for_people() -> None:
    agreeing = BeadReading("tc1", 0.0, 80.1, 0.6, 79.9, 2.4, 0.2, 0.08, "yes")
    assert sentence(agreeing) == "tc1 80.10 ± 0.60 °C, image 79.9 ± 2.4 °C: they agree; En 0.08"
    lost = BeadReading("tc1", 0.0, likely_cause="detached", detached_from_s=400.0, flags=("detached",))
    assert sentence(lost).endswith("likely detached; not believed from 400 s on [detached]")
