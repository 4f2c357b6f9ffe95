"""The guide: every page is listed, shown, and speaks of commands, options and pages that there are."""

from __future__ import annotations

import doctest
import importlib
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

import irspot
from irspot.cli.guide import TOPICS, page
from irspot.cli.main import COMMANDS, main
from tests.cli.guide_pages import PAGES

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


@pytest.mark.parametrize("topic", PAGES)
def test_pages_of_flags_and_files_say_what_the_code_does(topic: str) -> None:
    assert page(topic) == PAGES[topic](), "write it anew: python -m tests.cli.guide_pages"


def test_examples_of_the_library_page_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shutil.copytree(README.parent / "sample_images", tmp_path / "sample_images")
    monkeypatch.chdir(tmp_path)
    ran = doctest.testfile(str(FOLDER / "library.md"), module_relative=False, encoding="utf-8")
    assert ran.attempted > 15
    assert ran.failed == 0


@pytest.mark.parametrize("topic", TOPICS)
def test_tables_are_whole(topic: str) -> None:
    for table in re.findall(r"(?m)(?:^\|.*\n)+", page(topic)):
        columns = [len(re.findall(r"(?<!\\)\|", line)) for line in table.splitlines()]
        assert len(set(columns)) == 1, table.splitlines()[0]
