"""The guide: every page is listed, shown, and speaks of commands, options and pages that there are."""

from __future__ import annotations

import importlib
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

import irspot
from irspot.cli.guide import TOPICS, page
from irspot.cli.main import COMMANDS, main

FOLDER = Path(irspot.__file__).parent / "guide"
README = Path(__file__).resolve().parents[2] / "README.md"
TEXTS = {**{f"{name}.md": page(name) for name in TOPICS}, "README.md": README.read_text(encoding="utf-8")}


def test_every_page_is_listed() -> None:
    assert {file.stem for file in FOLDER.glob("*.md")} == set(TOPICS)
    listed = CliRunner().invoke(main, ["guide"])
    assert listed.exit_code == 0
    assert [line.split("  ")[0] for line in listed.stdout.splitlines()] == list(TOPICS)


@pytest.mark.parametrize("topic", TOPICS)
def test_a_page_is_shown_under_its_title(topic: str) -> None:
    shown = CliRunner().invoke(main, ["guide", topic])
    assert shown.exit_code == 0
    assert shown.stdout.splitlines()[0] == f"# {TOPICS[topic]}"
    assert shown.stdout == page(topic)


def test_an_unknown_page_is_misuse_that_names_the_pages() -> None:
    result = CliRunner().invoke(main, ["guide", "soldering"])
    assert result.exit_code == 2
    assert "readings" in result.stderr


@pytest.mark.parametrize("name", TEXTS)
def test_pages_that_are_pointed_to_exist(name: str) -> None:
    assert set(re.findall(r"irspot guide ([a-z][a-z-]*)", TEXTS[name])) <= set(TOPICS)


@pytest.mark.parametrize("name", TEXTS)
def test_commands_and_options_that_are_spoken_of_exist(name: str) -> None:
    for command, rest in re.findall(r"`(?:\$ )?(?:\.venv/bin/)?irspot ([a-z][a-z-]+)([^`\n]*)`", TEXTS[name]):
        assert command in COMMANDS, command
        made = importlib.import_module(f"irspot.cli.{command.replace('-', '_')}").command
        known = {text for parameter in made.params for text in (*parameter.opts, *parameter.secondary_opts)}
        assert set(re.findall(r"(?<!\S)(--[a-z][a-z-]*)", rest)) <= known | {"--help"}, (command, rest)


@pytest.mark.parametrize("name", TEXTS)
def test_files_that_are_pointed_to_exist(name: str) -> None:
    for file in re.findall(r"`(tests/[\w/.]+\.py)", TEXTS[name]):
        assert (README.parent / file).is_file(), file
