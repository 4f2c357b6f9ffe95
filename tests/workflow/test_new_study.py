from __future__ import annotations

import pytest

from irspot.errors import OutputRefused
from irspot.files import templates
from irspot.workflow.new_study import write_templates


def test_templates_are_written_as_they_are(tmp_path):
    files = write_templates(tmp_path / "neu é")
    assert [path.relative_to(tmp_path / "neu é").as_posix() for path in files] == list(templates())
    assert [path.read_bytes().decode() for path in files] == list(templates().values())
    assert not [path for path in (tmp_path / "neu é").rglob("*") if path.name.endswith(".part")]


def test_nothing_is_overwritten_and_nothing_half_written(tmp_path):
    (tmp_path / "camera.toml").write_text("mine")
    with pytest.raises(OutputRefused, match="exists already"):
        write_templates(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["camera.toml"]
    assert (tmp_path / "camera.toml").read_text() == "mine"


def test_a_place_that_is_no_folder(tmp_path):
    (tmp_path / "file").write_text("mine")
    with pytest.raises(OutputRefused):
        write_templates(tmp_path / "file")
