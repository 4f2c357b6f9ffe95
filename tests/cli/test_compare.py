"""``irspot compare`` as its user calls it."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from rich.console import Console

from irspot.cli.main import main
from irspot.exports.compare_terminal import lines_below, lines_of, ranking_table
from tests.compare import made
from tests.workflow.test_compare_study import write_three


def invoke(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def test_tables_json_and_files(tmp_path: Path) -> None:
    study = write_three(tmp_path / "s")
    result = invoke("compare", study, "-o", tmp_path / "out")
    assert result.exit_code == 0, result.output
    head, *rows = result.stdout.splitlines()
    assert head.split("\t")[:5] == ["load", "role", "rank", "tie_group", "board"]
    assert len(rows) == 6
    assert "measured" in result.stderr
    assert (tmp_path / "out" / "compare.csv").is_file()
    document = json.loads(invoke("compare", study, "--json").stdout)
    assert [row["rank"] for row in document["rows"][:3]] == [1, 2, 2]
    assert document["comparison"]["rule"]["name"] == "conditional"
    assert {column["name"] for column in document["columns"]} == set(document["rows"][0])


@pytest.mark.parametrize(("words", "status"), [((), 2), (("none.toml",), 1), (("--json", "none.toml"), 1)])
def test_misuse_is_refused_in_a_line(words: tuple[str, ...], status: int) -> None:
    result = invoke("compare", *words)
    assert result.exit_code == status
    assert "Traceback" not in result.output
    if "--json" in words:
        assert json.loads(result.stdout)["error"]["file"] == "none.toml"


def test_a_terminal_shows_names_as_text_and_says_why_runs_stand_apart() -> None:
    boards = [made.board("[red]a", price=90.0, currency="EUR"), made.board("b"), made.board("off")]
    runs = [(made.run(each.id), [made.reading(70.0, limit_degc=71.0)]) for each in boards]
    measured = made.measured(runs, boards, flags={"off-stock": ("throttled",)}, negligible_k=3.0)
    comparison = made.compare([measured])
    (ranking,) = comparison.rankings
    stream = io.StringIO()
    Console(file=stream, width=120).print(ranking_table(ranking))
    shown = stream.getvalue()
    assert "[red]a" in shown
    assert "90.00 EUR" in shown
    assert "1.0 ± 2.4 to 71" in shown
    assert "conditional pass" in shown
    lines = lines_of(ranking, comparison.negligible_k)
    assert any(line.startswith("not compared: off (off-stock)") and line.endswith("throttled") for line in lines)
    assert any("negligible" in line for line in lines)
    assert any("limits: pass up to" in line for line in lines_below(comparison))
