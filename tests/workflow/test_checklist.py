"""The sheet for the bench: every warning is an item, every board has its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from irspot.workflow.check import check_study
from irspot.workflow.checklist import checklist_of
from tests.tiny import STUDY, write_tiny


def sheets(study: Path) -> list[str]:
    return checklist_of(check_study(study)).split("\f")


def plain(text: str) -> str:
    return " ".join(text.split())


def test_every_warning_of_a_board_is_an_item(tmp_path: Path) -> None:
    path = write_tiny(
        tmp_path, STUDY.replace("ambient_degc = 21.5\n", "").replace("frames/rear.tiff", "frames/no.tiff")
    )
    board = tmp_path / "boards" / "w1.toml"
    text = board.read_text(encoding="utf-8").replace("emissivity = 0.95\nu_emissivity = 0.02\n", "")
    board.write_text(text, encoding="utf-8")
    camera = tmp_path / "camera.toml"
    camera.write_text(camera.read_text(encoding="utf-8").replace("limit_k = 1.0\nlimit_relative = 0.01\n", ""))
    (sheet,) = sheets(path)
    problems = check_study(path).problems
    assert len(problems) >= 4
    for problem in problems:
        assert f"[ ] {problem.message}" in plain(sheet), problem
    assert "tape of known emissivity, or a measured emissivity, on: ps-rear" in plain(sheet)


@pytest.mark.parametrize(
    "said",
    [
        "Cautions [ ] Exposed mains",
        "Run w1-stock-front, front [ ] load flat patches since ______",
        "ambient beside the board ______ °C (meant 21)",
        "[ ] frame front-1.tiff, at ______",
        "[ ] Prüfkamera (invented): on since ______; range -20 to 250 °C",
    ],
)
def test_what_is_noted_at_the_bench(tmp_path: Path, said: str) -> None:
    (sheet,) = sheets(write_tiny(tmp_path))
    assert said in plain(sheet)
    assert max(len(line) for line in sheet.splitlines()) <= 110


def test_boards_have_sheets_of_their_own(tmp_path: Path) -> None:
    study = STUDY.replace("[[load]]", '[[board]]\nid = "w2"\nfile = "boards/w2.toml"\n[[load]]')
    path = write_tiny(
        tmp_path,
        study.replace('board = "w1"\nload = "stock"\nside = "rear"', 'board = "w2"\nload = "stock"\nside = "rear"'),
    )
    text = (tmp_path / "boards" / "w1.toml").read_text(encoding="utf-8")
    (tmp_path / "boards" / "w2.toml").write_text(text.replace("Wren W1", "Wren W2"), encoding="utf-8")
    first, second = sheets(path)
    assert ("Wren W1" in first, "Run w1-stock-rear" in first) == (True, False)
    assert ("Wren W2" in second, "Run w1-stock-rear" in second) == (True, True)


def test_a_study_that_cannot_be_read_has_none(tmp_path: Path) -> None:
    (tmp_path / "s.toml").write_text("schema = 1")
    assert sheets(tmp_path / "s.toml") == [""]
