"""Files are whole or absent."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from irspot.atomic import write_atomic
from irspot.errors import OutputRefused


def test_writes_into_folders_that_are_not_there_yet(tmp_path: Path) -> None:
    target = tmp_path / "neu – ä" / "deep" / "results.csv"
    write_atomic(target, b"a,b\n")
    assert target.read_bytes() == b"a,b\n"
    assert [p.name for p in target.parent.iterdir()] == ["results.csv"]


def test_an_existing_file_is_kept_where_it_must_not_be_replaced(tmp_path: Path) -> None:
    target = tmp_path / "board.toml"
    target.write_bytes(b"mine")
    with pytest.raises(OutputRefused, match="exists already"):
        write_atomic(target, b"theirs", overwrite=False)
    assert target.read_bytes() == b"mine"


def test_a_failed_write_leaves_the_old_file_and_no_litter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "results.csv"
    target.write_bytes(b"old")

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OutputRefused, match="No space left"):
        write_atomic(target, b"new")
    assert target.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["results.csv"]


def test_a_file_in_the_way_of_a_folder_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "out").write_bytes(b"")
    with pytest.raises(OutputRefused, match="a file stands where its folder should be"):
        write_atomic(tmp_path / "out" / "results.csv", b"")
