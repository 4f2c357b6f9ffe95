"""What README says is run: its library example, its commands, its claims about itself."""

from __future__ import annotations

import re
import shlex
import shutil
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

import irspot
from irspot.cli.main import COMMANDS, main

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.fixture
def clone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that holds the samples, as a clone does."""
    shutil.copytree(ROOT / "sample_images", tmp_path / "sample_images")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_library_example_runs(clone: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (example,) = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
    exec(compile(example, "README.md", "exec"), {})
    printed = capsys.readouterr().out.splitlines()
    assert len(printed) == 9, "eight zones and elsewhere"
    assert printed[0].startswith("ps-left ")
    assert (clone / "t3.png").stat().st_size > 100_000


def test_the_measure_example_prints_what_readme_shows(clone: Path) -> None:
    (command, shown) = re.search(
        r"    \$ \.venv/bin/(irspot measure.*?)\n((?:    (?!\$).*\n|\n)+)", README.replace("\\\n    ", " ")
    ).groups()
    result = CliRunner().invoke(main, shlex.split(command)[1:])
    assert result.exit_code == 0, result.stderr
    lines = [line.split("\t") for line in result.stdout.splitlines()]
    values = [dict(zip(lines[0], cells, strict=True)) for cells in lines[1:]]
    for row in values:
        (line,) = [line for line in shown.splitlines() if line.split()[:1] == [row["zone"]]]
        numbers = re.findall(r"-?\d+(?:\.\d+)?", line.split(row["zone"], 1)[1])
        shown_degc = row["bound_degc"] or row["max_degc"]
        # A bound is rounded down.
        assert float(numbers[0]) == pytest.approx(float(shown_degc), abs=0.101 if row["bound_degc"] else 0.051)
        assert row["verdict"] in line


def test_every_command_in_readme_exists() -> None:
    named = set(re.findall(r"irspot ([a-z][a-z-]+)", README))
    assert set(COMMANDS) <= named
    prose = {"so", "does", "says", "reads", "did", "demo"}
    assert {name for name in named if f"bin/irspot {name}" in README} <= set(COMMANDS) | prose


def test_the_two_commands_are_there_and_ci_runs_the_second() -> None:
    assert re.search(r"^    python3 -m venv \.venv && .*irspot demo demo$", README, re.MULTILINE)
    assert re.search(r"^    python3 -m venv \.venv-test && .*pytest -n auto$", README, re.MULTILINE)
    assert r"python3 -m venv \.venv-test && .*" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_readme_opens_with_the_job_and_stays_short() -> None:
    first = README.split("\n\n")[1]
    assert "hot" in first
    assert "zone" in first
    assert len(README.splitlines()) <= 300


def test_no_figure_is_left_open() -> None:
    assert "@" not in re.sub(r"`[^`]*`", "", README)


def test_pictures_in_readme_exist() -> None:
    for name in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README):
        assert (ROOT / name).is_file()


def test_version_is_stated_once() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert "version" in project["dynamic"]
    assert irspot.__version__.count(".") == 2


def test_public_names_are_the_ones_listed() -> None:
    for name in irspot.__all__:
        assert getattr(irspot, name) is not None
    assert set(irspot.__all__) <= set(dir(irspot))
    with pytest.raises(AttributeError, match="no attribute 'mesure'"):
        _ = irspot.mesure
