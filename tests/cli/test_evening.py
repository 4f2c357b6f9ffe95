"""The guide's evening, walked by a newcomer: its commands parse, and lead from the demo to a verified bundle."""

from __future__ import annotations

import importlib
import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from irspot.cli.guide import page
from irspot.cli.main import main

COMMANDS = [shlex.split(line)[1:] for line in re.findall(r"^    (irspot .*)$", page("evening"), re.MULTILINE)]
PARTS = (
    "Designator;Layer;X (mm);Y (mm);Rotation;Length (mm);Width (mm)\nU1;top;60;60;0;10;10\nU2;bottom;180;100;90;8;6\n"
)


def test_the_page_names_every_step() -> None:
    named = [command[0] for command in COMMANDS]
    assert named == [
        "demo",
        "new",
        "zones-from",
        "check",
        "run",
        "crosscheck",
        "soak",
        "compare",
        "picture",
        "bundle",
        "verify",
    ]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command[0])
def test_every_command_parses(command: list[str]) -> None:
    name, *arguments = command
    made = importlib.import_module(f"irspot.cli.{name.replace('-', '_')}").command
    assert made.make_context(name, arguments).params


@pytest.mark.full
def test_the_evening_can_be_walked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("parts.csv").write_text(PARTS, encoding="utf-8")
    for command in COMMANDS:
        result = CliRunner().invoke(main, command)
        assert result.exit_code == 0, (command, result.stderr[-2000:])
    for made in (
        "demo/out/report.html",
        "mystudy/study.toml",
        "parts.toml",
        "parts.png",
        "out/report.html",
        "both.png",
    ):
        assert (tmp_path / made).stat().st_size > 100, made
    assert list((tmp_path / "compare" / "charts").glob("ranking-*.svg"))
    assert "0 differ" in result.stderr
