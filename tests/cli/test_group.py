"""Every command explains itself, misuse exits with 2, a refusal is one line and exits with 1."""

from __future__ import annotations

import json
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from irspot.cli.main import COMMANDS, main

README = Path(__file__).resolve().parents[2] / "README.md"


def commands() -> dict[str, click.Command]:
    context = click.Context(main)
    found = {name: main.get_command(context, name) for name in COMMANDS}
    return {name: command for name, command in found.items() if command is not None}


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_an_example_and_a_place_in_readme(name: str) -> None:
    result = CliRunner().invoke(main, [name, "--help"])
    assert result.exit_code == 0
    assert "Example:" in result.output
    assert f"irspot {name}" in result.output.split("Example:")[1]
    assert f"irspot {name}" in README.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_has_help(name: str) -> None:
    for parameter in commands()[name].params:
        if isinstance(parameter, click.Option):
            assert parameter.help, f"{name} {parameter.opts}"


@pytest.mark.parametrize("name", COMMANDS)
def test_the_groups_sentence_is_in_the_commands_own_spirit(name: str) -> None:
    assert COMMANDS[name].endswith(".")
    assert len(COMMANDS[name]) < 80
    own = commands()[name].help or ""
    assert own.split()[0] == COMMANDS[name].split()[0], "both begin with the same verb"


@pytest.mark.parametrize(
    "arguments",
    [
        ["mesure"],
        ["measure"],
        ["measure", "f.tiff"],
        ["measure", "f.tiff", "--board", "b.toml", "--corners-px", "1,2 3"],
        ["measure", "f.tiff", "--board", "b.toml", "--at", "nan,3"],
        ["measure", "f.tiff", "--board", "b.toml", "--point", "=1,2"],
        ["measure", "f.tiff", "--board", "b.toml", "--side", "top"],
        ["measure", "f.tiff", "--board", "b.toml", "--size", "big"],
        ["measure", "f.tiff", "--board", "b.toml", "--scale-degc", "80,20"],
        ["measure", "f.tiff", "--board", "b.toml", "--transmission", "0"],
        ["measure", "f.tiff", "--board", "b.toml", "--ambient-degc", "-400"],
        ["measure", "f.tiff", "--board", "b.toml", "--point", "a=1,2", "--point", "a=3,4"],
        ["measure", "f.tiff", "--board", "b.toml", "--corners-px", "1,2 3,4 5,6 7,8", "--point", "a=3,4"],
        ["run", "study.toml"],
        ["picture", "study.toml"],
        ["picture", "f.tiff", "-o", "p.png"],
        ["picture", "f.tiff", "--board", "b.toml", "-o", "p.png", "--ambient-degc", "-400"],
        ["picture", "f.tiff", "--board", "b.toml", "-o", "p.png", "--low", "20"],
        ["picture", "f.tiff", "--board", "b.toml", "-o", "p.png", "--frame-interval-s", "0"],
        ["picture", "f.tiff", "--board", "b.toml", "-o", "p.png", "--safe", "7"],
    ],
)
def test_misuse_exits_with_two_and_says_what_is_wanted(arguments: list[str]) -> None:
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert result.stderr
    assert "Traceback" not in result.stderr


def test_a_mistyped_command_names_the_nearest() -> None:
    assert "Did you mean 'measure'?" in CliRunner().invoke(main, ["mesure"]).stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ["run", "not-there.toml", "-o", "out"],
        ["check", "not-there.toml"],
        ["measure", "not-there.tiff", "--board", "not-there.toml"],
    ],
)
def test_what_is_not_there_is_one_line_and_exit_one(
    arguments: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 1
    text = result.stderr or result.stdout
    assert "not-there" in text
    assert "Traceback" not in text


def test_a_failure_with_json_is_an_error_object(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(main, ["measure", "not-there.tiff", "--board", "not-there.toml", "--json"])
    assert result.exit_code == 1
    error = json.loads(result.stdout)["error"]
    assert set(error) == {"code", "file", "key", "message"}
    assert "not-there.toml" in error["file"]
